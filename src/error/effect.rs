//! Contrasts, averages and letters that cannot be made.

/// A question to a fitted model that has no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EffectError {
    /// A level that is recorded but holds no cuttings.
    #[error("level {level:?} of {factor} has no trays with cuttings, so the model has no rate for it; leave it out")]
    NoTrays {
        /// The factor.
        factor: String,
        /// The level.
        level: String,
    },
    /// A mix without one of the levels.
    #[error("the mix of {factor} leaves out {missing}; give every level a share, 0 for one that is not grown")]
    MixLeavesOut {
        /// The factor.
        factor: String,
        /// Levels without a share.
        missing: String,
    },
    /// A share that is none.
    #[error("the share {value} of {factor} {level} is not a number from 0 upward; correct it")]
    Share {
        /// The factor.
        factor: String,
        /// The level.
        level: String,
        /// What was given.
        value: f64,
    },
    /// Shares that are all 0.
    #[error("the mix of {factor} has only zeros; give at least one level a share above 0")]
    MixEmpty {
        /// The factor.
        factor: String,
    },
    /// Weights of a contrast that do not sum to 0.
    #[error(
        "the weights of contrast {name:?} sum to {sum}, not to 0; a contrast sets some levels against others, so let them \
         sum to 0"
    )]
    Weights {
        /// The contrast.
        name: String,
        /// Their sum.
        sum: f64,
    },
    /// Weights that are no numbers, or all 0.
    #[error("contrast {name:?} needs at least two weights that are numbers other than 0")]
    NoWeights {
        /// The contrast.
        name: String,
    },
    /// The same factor in two places.
    #[error("{name:?} is named twice, in {first} and in {second}; name two factors that differ")]
    Twice {
        /// The factor.
        name: String,
        /// Where it stands.
        first: &'static str,
        /// Where it stands again.
        second: &'static str,
    },
    /// Options that exclude each other.
    #[error("{first} and {second} do not go together; {instead}")]
    NotTogether {
        /// One option.
        first: &'static str,
        /// The other.
        second: &'static str,
        /// What to do.
        instead: &'static str,
    },
    /// More comparisons than an answer can hold.
    #[error(
        "{count} comparisons are more than make sense together (at most {most}); compare with one level, or within one level \
         of the other factor, or name the few contrasts that matter"
    )]
    TooMany {
        /// How many there would be.
        count: usize,
        /// How many there may be.
        most: usize,
    },
    /// Changes that the model holds at nothing.
    #[error(
        "this model does not let {first} act differently by {second}, so nothing in it can say how its differences change with \
         {second}; ask a model that does: interactions=[({first:?}, {second:?})]"
    )]
    NoInteraction {
        /// The factor whose levels are compared.
        first: String,
        /// The factor with which the comparisons were to change.
        second: String,
    },
    /// A margin that is none.
    #[error("margin {value} is not {wanted}")]
    Margin {
        /// What was given.
        value: f64,
        /// What it should be.
        wanted: &'static str,
    },
    /// Nothing to average or compare.
    #[error("none of these comparisons can be estimated: {reason}")]
    NotEstimable {
        /// Why.
        reason: String,
    },
    /// A covariate value that cannot be read or is far outside.
    #[error("{given:?} is no value of the covariate {covariate}; give a number")]
    CovariateValue {
        /// The covariate.
        covariate: String,
        /// What was given.
        given: String,
    },
}
