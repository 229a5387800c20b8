//! A chart as it is told: week by week what was read, what was expected, the sum and its limit.

use serde::{Deserialize, Serialize};

/// One week of a chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ChartWeek {
    /// Monday of the week in which the batches were read, in days since 1970.
    pub monday: i32,
    /// Batches.
    pub n_batches: u64,
    /// Plants started.
    pub started: u64,
    /// Plants alive.
    pub alive: u64,
    /// Plants expected alive.
    pub expected: f64,
    /// The charted sum after this week.
    pub sum: f64,
    /// Its limit.
    pub limit: f64,
    /// True where the sum exceeded its limit.
    pub signal: bool,
}

/// One chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Chart {
    /// What it follows: empty for all batches, else a grouping.
    pub grouping: Option<String>,
    /// The level it follows.
    pub level: Option<String>,
    /// Weeks.
    pub weeks: Vec<ChartWeek>,
}

impl Chart {
    /// Trees lost against expectation over these weeks.
    #[must_use]
    pub fn lost(&self) -> f64 {
        self.weeks.iter().map(|week| week.expected - week.alive as f64).sum()
    }
}

/// One signal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Signal {
    /// Monday of the week.
    pub monday: i32,
    /// Number of the chart among all.
    pub chart: u64,
    /// The chart's grouping; None for all batches.
    pub grouping: Option<String>,
    /// The chart's level.
    pub level: Option<String>,
    /// The sum.
    pub sum: f64,
    /// The limit it exceeded.
    pub limit: f64,
}

/// How to chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct SignalOptions {
    /// The drop to look for, as a proportion (0.05 is 5 trees per 100).
    pub drop: f64,
    /// Weeks between signals that come by chance, over all charts together.
    pub weeks_between: f64,
    /// Groupings each level of which has a chart of its own, beside that of all batches; None for the places.
    pub charts: Option<Vec<String>>,
    /// Draws for the P value of a search.
    pub draws: u64,
    /// Seed of the draws.
    pub seed: u64,
    /// Confidence of weeks and sizes.
    pub confidence: f64,
}

impl Default for SignalOptions {
    fn default() -> Self {
        Self { drop: 0.05, weeks_between: 104.0, charts: None, draws: 999, seed: 1, confidence: 0.9 }
    }
}

/// All charts of a crop, and the signals they gave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Charted {
    /// The charts: that of all batches first.
    pub charts: Vec<Chart>,
    /// Signals in the order of weeks.
    pub signals: Vec<Signal>,
    /// The drop looked for.
    pub drop: f64,
    /// The usual rate at which it is meant.
    pub usual: f64,
    /// Odds after the change over those before.
    pub odds_ratio: f64,
    /// Weeks between signals by chance, over all charts together.
    pub weeks_between: f64,
    /// Names of batches of which nothing is expected.
    pub without_expectation: Vec<String>,
}

/// What would have been seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Quiet {
    /// Monday of the week in which it would have begun.
    pub since: i32,
    /// Weeks with readings since.
    pub n_weeks: u64,
    /// The smallest drop that would have been signalled by now; None where none would.
    pub drop: Option<f64>,
    /// How surely.
    pub sure: f64,
}
