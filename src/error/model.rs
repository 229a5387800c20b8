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
    /// A covariate or offset that is not finite in one unit.
    #[error("covariate {effect:?} is not finite ({value}) in {}; correct it or leave the row out", place(*unit, *row))]
    CovariateNotFinite {
        /// The covariate.
        effect: String,
        /// The value.
        value: f64,
        /// The unit, counted from 0.
        unit: usize,
        /// The row of the user's table, where it is known.
        row: Option<u64>,
    },
    /// An effect that was to enter as a number and has a level that is none.
    #[error(
        "{effect:?} cannot enter as a number, since its level {level:?} is none; leave it a factor or correct the level"
    )]
    NotNumbers {
        /// The effect.
        effect: String,
        /// The level.
        level: String,
    },
    /// A polynomial with more powers than the values can carry.
    #[error(
        "a polynomial of degree {degree} in {effect:?} cannot be fitted to {distinct} different values; choose a degree of at least 1 and below their number"
    )]
    Degree {
        /// The effect.
        effect: String,
        /// The degree asked for.
        degree: u32,
        /// Different values, counted up to one more than the degree.
        distinct: usize,
    },
    /// More coefficients than a model can be asked for.
    #[error(
        "the model would have {coefficients} coefficients, and at most {limit} can be fitted; leave an interaction out, or let an effect of many levels be a random effect or a number"
    )]
    TooManyCoefficients {
        /// Coefficients asked for.
        coefficients: usize,
        /// The most there can be.
        limit: usize,
    },
    /// A prior weight that is negative or not finite.
    #[error(
        "weight {value} of column {column:?} in {} is not 0 or more; correct it, or give 0 to leave the row out",
        place(*unit, *row)
    )]
    Weight {
        /// The column of the weights.
        column: String,
        /// The weight.
        value: f64,
        /// The unit, counted from 0.
        unit: usize,
        /// The row of the user's table, where it is known.
        row: Option<u64>,
    },
    /// Weights that are all 0.
    #[error(
        "every weight in column {column:?} is 0, so nothing is left to fit; give the rows that count a weight above 0"
    )]
    NoWeight {
        /// The column of the weights.
        column: String,
    },
    /// A column without numbers where numbers are wanted.
    #[error(
        "{option}={column:?} names a column that holds no numbers; name one that covariates= lists when the trial is loaded{}",
        known(.covariates)
    )]
    NoNumbers {
        /// The option.
        option: &'static str,
        /// The column.
        column: String,
        /// The covariates of the trial.
        covariates: Vec<String>,
    },
    /// Weights beside a law of the trays.
    #[error(
        "weights enter plain models and those with a dispersion only; use trays=\"dispersion\" or trays=\"ignore\", or leave the weights out"
    )]
    WeightsUnderLaw,
    /// Groupings with random effects named for a model that has none.
    #[error(
        "random= names what has random effects beside the trays, which needs trays=\"random\"; add that, or leave random= out"
    )]
    RandomNeedsMode,
    /// A grouping that is an effect as well.
    #[error("{column:?} is in the model already and cannot have random effects as well; name it in one place only")]
    RandomIsEffect {
        /// The column.
        column: String,
    },
    /// A grouping with one level.
    #[error("{column:?} has the single level {level:?}, so its random effects cannot be seen; leave it out of random=")]
    RandomOneLevel {
        /// The column.
        column: String,
        /// Its only level.
        level: String,
    },
    /// A grouping of which every level holds one tray.
    #[error(
        "each of the {levels} levels of {column:?} holds one tray, so its random effects cannot be told apart from those of trays; leave it out of random="
    )]
    RandomLikeTrays {
        /// The column.
        column: String,
        /// Its levels.
        levels: usize,
    },
    /// Two groupings that are the same, or a grouping that is the same as a treatment.
    #[error(
        "{column:?} puts the same trays together as {other:?} does, so the two cannot be told apart; leave {column:?} out of random="
    )]
    RandomAlike {
        /// The column.
        column: String,
        /// What it is like.
        other: String,
    },
    /// A grouping of which the effects leave nothing.
    #[error(
        "the effects and the other groupings leave nothing of {column:?} to be seen; leave it out of random=, or an effect out of the model"
    )]
    RandomConfounded {
        /// The column.
        column: String,
    },
    /// Random effects asked where trays are not recorded.
    #[error(
        "random effects need recorded trays, since without them cuttings of one tray cannot be told from others; load the trial with tray=, or leave random= out"
    )]
    RandomWithoutTrays,
    /// A grouping that differs between the cuttings of a tray.
    #[error(
        "{column:?} differs between the cuttings of one tray, so trays do not belong to its levels; leave it out of random="
    )]
    RandomVaries {
        /// The column.
        column: String,
    },
    /// Clusters named for a model without a robust covariance.
    #[error(
        "robust_by= names the clusters of a robust covariance, which needs trays=\"robust\"; add that, or leave robust_by= out"
    )]
    RobustNeedsMode,
    /// Clusters of trays without trays.
    #[error("robust_by= groups trays, and this trial records none; name the tray column with tray= when loading")]
    RobustWithoutTrays,
    /// Clusters that are an effect as well.
    #[error(
        "{column:?} is an effect of the model, so its levels cannot be the clusters too; name it in one place only"
    )]
    RobustIsEffect {
        /// The column.
        column: String,
    },
    /// A single cluster.
    #[error(
        "{column:?} has the single level {level:?}, and a robust covariance needs two clusters or more; name another column in robust_by="
    )]
    RobustOneLevel {
        /// The column.
        column: String,
        /// Its only level.
        level: String,
    },
    /// Clusters that cut through trays.
    #[error(
        "{column:?} differs between the cuttings of one tray, so clusters would cut through trays; name another column in robust_by="
    )]
    RobustVaries {
        /// The column.
        column: String,
    },
    /// Whole plots that lie in several clusters.
    #[error(
        "{plots:?} {level:?} lies in several levels of {column:?}, so clusters would cut through it; name a column in robust_by= whose \
         levels hold whole {plots:?} levels"
    )]
    RobustCrossed {
        /// The column.
        column: String,
        /// The column of the whole plots.
        plots: String,
        /// The first whole plot that is cut.
        level: String,
    },
    /// Correlations by level asked of a model without a correlation.
    #[error(
        "correlation_by= gives each level its own correlation within trays, which needs trays=\"beta-binomial\"; add that, or leave correlation_by= out"
    )]
    IccNeedsMode,
    /// More correlations than trays can tell.
    #[error(
        "{column:?} has {levels} levels and the trial {trays} trays; each level needs two trays or more for a correlation of its own"
    )]
    IccTooMany {
        /// The column.
        column: String,
        /// Its levels.
        levels: usize,
        /// Trays in all.
        trays: usize,
    },
    /// A statistic that the model does not offer.
    #[error("models with trays=\"{trays}\" give likelihood ratios only; ask for those, or use trays=\"dispersion\"")]
    StatisticUnderLaw {
        /// The tray mode.
        trays: String,
    },
    /// Another statistic than Wald's asked of a model with a robust covariance.
    #[error(
        "models with trays=\"robust\" have no likelihood to take scores or ratios from; ask for test=\"wald\", or use trays=\"auto\""
    )]
    StatisticUnderRobust,
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

/// The row as the user counts it, or the unit.
fn place(unit: usize, row: Option<u64>) -> String {
    row.map_or_else(|| format!("unit {}", unit + 1), |row| format!("row {row}"))
}

/// The covariates there are.
fn known(covariates: &[String]) -> String {
    if covariates.is_empty() { String::new() } else { format!(" ({})", super::shown::names(covariates)) }
}
