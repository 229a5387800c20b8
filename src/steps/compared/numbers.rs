//! What is asked of levels side by side, and what is answered.

use serde::{Deserialize, Serialize};

use crate::steps::split::SplitMethod;
use crate::steps::yields::YieldOf;

/// What is asked of levels side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CompareYieldsOptions {
    /// Whose yield.
    pub whose: YieldOf,
    /// Confidence of the limits.
    pub confidence: f64,
}

impl Default for CompareYieldsOptions {
    fn default() -> Self {
        Self { whose: YieldOf::FollowedCohorts, confidence: 0.95 }
    }
}

/// Two levels side by side; differences are second minus first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct YieldComparison {
    /// The column of the levels.
    pub column: String,
    /// The first level.
    pub first: String,
    /// The second level.
    pub second: String,
    /// Whose yield it is.
    pub whose: YieldOf,
    /// The column of the chain from which it is followed.
    pub start: String,
    /// Batches of the first level.
    pub n_batches_first: u64,
    /// Batches of the second level.
    pub n_batches_second: u64,
    /// True where each batch has plants of both levels, and is compared with itself.
    #[serde(default)]
    pub same_batches: bool,
    /// Yield of the first level, of those at the start.
    pub yield_first: f64,
    /// Yield of the second level.
    pub yield_second: f64,
    /// Second minus first.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Degrees of freedom of the limits.
    pub df: f64,
    /// How it was split over steps.
    pub method: SplitMethod,
    /// Each step in the order of the chain; the parts add up to the whole.
    pub steps: Vec<StepDifference>,
    /// What the yields of like batches add, where batches differ in other levels too.
    pub rates: Option<f64>,
    /// Its lower limit.
    pub rates_low: Option<f64>,
    /// Its upper limit.
    pub rates_high: Option<f64>,
    /// What the mix of other levels adds, column by column.
    pub mix: Vec<YieldMix>,
    /// What batches add whose like only one of the two has; None where batches differ in nothing else.
    pub without_partner: Option<f64>,
    /// Share of the plants in batches that both have.
    pub overlap: Option<f64>,
    /// Confidence of the limits.
    pub confidence: f64,
}

/// One step of two levels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StepDifference {
    /// The step.
    pub step: String,
    /// Take of the first level.
    pub take_first: f64,
    /// Take of the second level.
    pub take_second: f64,
    /// Second minus first.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Whether the takes are shown to differ, all steps judged together (Bonferroni).
    #[serde(default)]
    pub differs: bool,
    /// What the step adds to the difference of the yields.
    pub part: f64,
    /// Its lower limit.
    pub part_low: f64,
    /// Its upper limit.
    pub part_high: f64,
}

/// What the mix of one column adds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct YieldMix {
    /// The column.
    pub column: String,
    /// What it adds.
    pub value: f64,
}

/// All levels of a column side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct YieldsByLevel {
    /// The column of the levels.
    pub column: String,
    /// Whose yield it is.
    pub whose: YieldOf,
    /// The column of the chain from which it is followed.
    pub start: String,
    /// The level of the highest yield.
    pub best: String,
    /// Levels that are not shown to bring less than any other.
    #[serde(default)]
    pub may_be_best: Vec<String>,
    /// Every two levels; their limits hold together.
    #[serde(default)]
    pub pairs: Vec<LevelPair>,
    /// Each level.
    pub levels: Vec<LevelYield>,
    /// Each level at each step.
    pub steps: Vec<LevelStep>,
    /// Levels with fewer than two batches, which are left out.
    pub left_out: Vec<String>,
    /// Confidence of the limits.
    pub confidence: f64,
}

/// Two levels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LevelPair {
    /// One of them.
    pub first: String,
    /// The other.
    pub second: String,
    /// The second level's yield less the first's.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
}

impl LevelPair {
    /// Whether its limits leave 0 out.
    #[must_use]
    pub fn differs(&self) -> bool {
        self.low > 0.0 || self.high < 0.0
    }
}

/// One level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LevelYield {
    /// The level.
    pub level: String,
    /// Its batches.
    pub n_batches: u64,
    /// Plants at the start.
    pub n_started: u64,
    /// Its yield.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Degrees of freedom of the limits.
    pub df: f64,
}

/// One level at one step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LevelStep {
    /// The level.
    pub level: String,
    /// The step.
    pub step: String,
    /// Its take.
    pub take: f64,
    /// Lower limit of the take.
    pub low: f64,
    /// Upper limit of the take.
    pub high: f64,
    /// The level of the best take at this step.
    pub best: String,
    /// The best take less this one.
    pub gap: f64,
    /// What the best take would add to this level's yield.
    pub gain: f64,
}
