//! What is asked of two levels over time, and what is answered.

use serde::{Deserialize, Serialize};

use crate::steps::time::course::TimeEvent;

/// How times are compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TimesOptions {
    /// The first level of a pair; with `second` the only one.
    pub first: Option<String>,
    /// The second level.
    pub second: Option<String>,
    /// The level that all others are compared with, where no pair is named; the first level where neither is.
    pub against: Option<String>,
    /// What is waited for.
    pub event: TimeEvent,
    /// The day by which shares are compared; the last on which limits of both are known where none is given.
    pub day: Option<u64>,
    /// Confidence of the limits.
    pub confidence: f64,
    /// Seed of drawn ways to deal trays.
    pub seed: u64,
    /// Ways to deal trays that are drawn where there are too many to go through.
    pub draws: u64,
}

impl Default for TimesOptions {
    fn default() -> Self {
        Self {
            first: None,
            second: None,
            against: None,
            event: TimeEvent::Rooted,
            day: None,
            confidence: 0.95,
            seed: 1,
            draws: 9_999,
        }
    }
}

/// Levels compared over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TimesCompared {
    /// The treatment.
    pub treatment: String,
    /// What is waited for.
    pub event: TimeEvent,
    /// Were trays named?
    pub trays: bool,
    /// Confidence of the limits.
    pub confidence: f64,
    /// Each pair; second against first.
    pub pairs: Vec<TimesPair>,
}

/// Two levels compared over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TimesPair {
    /// The first level.
    pub first: String,
    /// The second level.
    pub second: String,
    /// Trays of the first level (plants where no trays were named) that are compared.
    pub n_first: u64,
    /// Trays or plants of the second.
    pub n_second: u64,
    /// Places (blocks, levels of other treatments) within which trays are compared.
    pub n_strata: u64,
    /// Trays that stand where only one of the two levels stands.
    pub n_left_out: u64,
    /// The day by which shares are compared.
    pub day: u64,
    /// Share of the first level by then.
    pub share_first: f64,
    /// Share of the second.
    pub share_second: f64,
    /// Second minus first.
    pub value: f64,
    /// Its lower limit.
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
    /// The shares by then of what rules it out: death before roots, or roots.
    pub other: OtherShares,
    /// The rate of the second level over that of the first, of those still waiting.
    pub rate: RateNumbers,
    /// The same of what rules it out: dying before roots, or rooting.
    pub other_rate: RateNumbers,
    /// Whether those still waiting come to it at another pace.
    pub pace: PaceNumbers,
    /// P value of the difference, from trays dealt anew by their shares; of its score where no trays were named.
    pub p: f64,
    /// The same adjusted for the number of pairs (Holm).
    pub p_adjusted: f64,
    /// No outcome can have a smaller P value with these trays.
    pub smallest_p: f64,
    /// Ways to deal the trays; None where no trays were named.
    pub assignments: Option<f64>,
    /// Ways that were drawn, where not all were gone through.
    pub drawn: Option<u64>,
    /// Standard error of a P value from drawn ways.
    pub p_error: Option<f64>,
}

/// Shares of two levels of what rules out the event.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OtherShares {
    /// Share of the first level.
    pub first: f64,
    /// Share of the second.
    pub second: f64,
    /// Second minus first.
    pub value: f64,
    /// Its lower limit.
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
}

/// The test of paces.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PaceNumbers {
    /// P value of trays dealt anew by what each has more than the common pace; of the log-rank test where no trays were named.
    pub p: f64,
    /// The same adjusted for the number of pairs (Holm).
    pub p_adjusted: f64,
    /// No outcome can have a smaller P value with these trays.
    pub smallest_p: f64,
    /// Standard error of a P value from drawn ways.
    pub p_error: Option<f64>,
}

/// A ratio of two rates.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RateNumbers {
    /// The ratio; None where one of the levels shows nothing of the kind.
    pub value: Option<f64>,
    /// Its lower limit.
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
    /// P value of the model that the ratio is 1.
    pub p: Option<f64>,
}
