//! Models that cannot be fitted.

/// A model that cannot be set up or fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ModelError {
    /// No effect was named.
    #[error("no effects were named; give a list of columns, for example [\"strength\", \"rootstock\"]")]
    NoEffects,
    /// An interaction whose parts are not in the model.
    #[error("interaction {interaction:?} uses {missing:?}, which is not among the effects; add it to the list")]
    InteractionWithoutMain {
        /// The interaction.
        interaction: String,
        /// The missing effect.
        missing: String,
    },
    /// A factor with a single level.
    #[error("{effect:?} has the single level {level:?}; it cannot be compared, so leave it out of the model")]
    OneLevel {
        /// The factor.
        effect: String,
        /// Its only level.
        level: String,
    },
    /// A covariate that is not finite.
    #[error("covariate {effect:?} holds a value that is not finite ({value}); correct it or leave the row out")]
    NotFinite {
        /// The covariate.
        effect: String,
        /// The value.
        value: f64,
    },
    /// No rows.
    #[error("there are no cuttings to fit; check the rows that were set aside")]
    NoData,
    /// The same effect twice.
    #[error("effect {effect:?} is named twice; name it once")]
    Repeated {
        /// The effect.
        effect: String,
    },
    /// Fit did not converge.
    #[error("not fitted: {reason}; {try_next}")]
    NotFitted {
        /// Why.
        reason: String,
        /// What to try.
        try_next: String,
    },
    /// Odds ratios asked of a link that has none.
    #[error("odds ratios come from the logit link only and this model uses the {link} link; read its adjusted rates")]
    NotOdds {
        /// The link.
        link: String,
    },
    /// A column that does not fit the units.
    #[error(
        "column {column:?} does not have one known level or value for each of the {units} units; load the trial again"
    )]
    Misaligned {
        /// The column.
        column: String,
        /// Number of units.
        units: usize,
    },
    /// A conditional rate asked of a model without random effects.
    #[error(
        "a typical tray's rate comes from trays=\"random\" only; this model has one rate, that over all trays, so leave of= out"
    )]
    NoTypicalTray,
    /// The range of a new tray asked of a model that does not know how trays differ.
    #[error(
        "a range for a new tray needs the spread between trays, which this model does not know; record trays and do not ignore them"
    )]
    NoTraySpread,
    /// Two models that no test can set against each other.
    #[error("these models cannot be set against each other: {reason}; {try_next}")]
    NotComparable {
        /// Why.
        reason: String,
        /// What to do.
        try_next: String,
    },
    /// A bootstrap of an effect that cannot be drawn or tested.
    #[error("{effect:?} has no bootstrap test: {reason}; {try_next}")]
    NoBootstrap {
        /// The effect.
        effect: String,
        /// Why.
        reason: String,
        /// What to do.
        try_next: String,
    },
}
