//! Statistics of effects: which there are, and one of them.

use serde::{Deserialize, Serialize};

use crate::choice::choice;

/// How the effect is judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum StatisticKind {
    /// Twice the fall of the (penalised) log-likelihood without the effect.
    #[default]
    LikelihoodRatio,
    /// `U' I^-1 U` of the score with the effect, where the model without it is fitted.
    Score,
    /// The score statistic with its variance made right for few cuttings: the default of models with trays.
    SmallSampleScore,
    /// `b' V^-1 b` of the effect's coefficients with their covariance.
    Wald,
}

choice!(
    StatisticKind, "statistic":
    LikelihoodRatio = "likelihood-ratio",
    Score = "score",
    SmallSampleScore = "small-sample-score",
    Wald = "wald",
);

/// A statistic on the chi-square scale: not divided by a dispersion.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EffectStatistic {
    /// Which one.
    pub kind: StatisticKind,
    /// Its value; 0 when the effect has no column of its own.
    pub statistic: f64,
    /// Degrees of freedom: columns of the effect.
    pub df: u64,
}
