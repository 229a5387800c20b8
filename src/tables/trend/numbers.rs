//! What is asked of the trend of a trial, and what is found: plain data.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::compare::Carried;
use crate::counts::ExactOptions;
use crate::estimate::TestResult;
use crate::rates::{TraySpread, TraysUse};
use crate::report::Spoken;
use crate::trial::Outcome;

/// Options of [`trial_trend`](crate::tables::trial_trend).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TrialTrendOptions {
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Score of each level; the levels themselves when they are numbers, the days from the first when they are dates.
    pub scores: Option<BTreeMap<String, f64>>,
    /// Whether trays are counted.
    pub trays: TraysUse,
    /// Exact work and draws of the test on cuttings.
    pub exact: ExactOptions,
    /// How the treatment and its levels are said; by the column's name when not given.
    pub spoken: Option<Spoken>,
    /// What is counted.
    pub outcome: Outcome,
}

impl Default for TrialTrendOptions {
    fn default() -> Self {
        Self {
            confidence: 0.95,
            scores: None,
            trays: TraysUse::Auto,
            exact: ExactOptions::default(),
            spoken: None,
            outcome: Outcome::Take,
        }
    }
}

/// One level of the treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ScoredLevel {
    /// Its name.
    pub level: String,
    /// Its score.
    pub score: f64,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings stuck.
    pub stuck: u64,
    /// Trays, whole plots or pooled groups.
    pub n_units: u64,
}

/// A test and what it counts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrendTest {
    /// "trays" or "cuttings".
    pub counts: String,
    /// The test.
    pub test: TestResult,
}

/// Trend of the take rate over the levels of a treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrialTrend {
    /// The treatment.
    pub factor: String,
    /// Its levels by rising score.
    pub levels: Vec<ScoredLevel>,
    /// "tray", the whole plot's column, or "cutting".
    pub unit: String,
    /// Rise of the rate along the straight line from the lowest to the highest score, a proportion.
    pub value: f64,
    /// True where the straight line runs beyond what takes can be, so that its rise is cut at 1.
    #[serde(default)]
    pub cut: bool,
    /// Its standard error.
    pub se: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
    /// P of the leading test; `None` when no test is possible.
    pub p: Option<f64>,
    /// All tests, the leading one first.
    pub tests: Vec<TrendTest>,
    /// Is a straight line enough? From the same units as the leading test.
    pub departure: Option<TestResult>,
    /// Spread between trays of one treatment, when trays are counted.
    pub spread: Option<TraySpread>,
    /// Why no test is given, when it is withheld.
    pub withheld: Option<String>,
    /// The units that carry the test, where units are counted.
    #[serde(default)]
    pub carried: Option<Carried>,
    /// The season or block over which the levels follow one another without overlap: dates were not dealt out.
    #[serde(default)]
    pub follows_time: Option<String>,
    /// What judges the trend: the unit, and places or plants that cross it; empty where cuttings are counted.
    #[serde(default)]
    pub judged_by: Vec<String>,
    /// True where what crosses the units could not be taken into the error.
    #[serde(default)]
    pub crossed_left_out: bool,
    /// Other treatments or places that lie unevenly over the levels and are taken out by least squares.
    #[serde(default)]
    pub adjusted_for: Vec<String>,
}
