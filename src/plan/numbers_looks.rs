//! Trials that may end early, and trials under way: what is asked, and what they come to.

use serde::{Deserialize, Serialize};

use super::options::PlanOptions;
use crate::choice::choice;

/// How the looks share the error rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Boundary {
    /// The same P level at every look.
    Pocock,
    /// Very small P levels first, nearly the usual one at the end.
    #[default]
    ObrienFleming,
}

choice!(
    Boundary, "boundary":
    Pocock = "pocock",
    ObrienFleming = "obrien-fleming",
);

impl Boundary {
    /// What a statistic of look `at` of `of` (from 1) is multiplied by to be set against one constant.
    pub(super) fn weight(self, at: usize, of: usize) -> f64 {
        match self {
            Self::Pocock => 1.0,
            Self::ObrienFleming => (at as f64 / of as f64).sqrt(),
        }
    }
}

/// What is asked of a trial that may end early.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LooksOptions {
    /// The trial at its full size, and the question.
    pub plan: PlanOptions,
    /// Looks, the end among them, after equal numbers of trays.
    pub looks: u64,
    /// How they share the error rate.
    pub boundary: Boundary,
}

impl Default for LooksOptions {
    fn default() -> Self {
        Self { plan: PlanOptions::default(), looks: 2, boundary: Boundary::ObrienFleming }
    }
}

/// One look.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LookRow {
    /// Which look, from 1.
    pub look: u64,
    /// Trays of each level read by then.
    pub trays: u64,
    /// The P value at or below which the trial may end there.
    pub p_level: f64,
    /// The share of trials with the difference expected that have ended by then.
    pub ended: f64,
    /// The share of trials without a difference that have ended by then.
    pub alarms: f64,
}

/// A trial with looks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Looks {
    /// How the looks share the error rate.
    pub boundary: Boundary,
    /// Take expected of each level.
    pub takes: Vec<f64>,
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// Correlation of two cuttings of a tray.
    pub correlation: f64,
    /// Confidence level.
    pub confidence: f64,
    /// The looks.
    pub rows: Vec<LookRow>,
    /// The constant of the boundary, on the scale of the normal law.
    pub constant: f64,
    /// The share of trials that show the difference at any look.
    pub power: f64,
    /// The same with a single look at the end.
    pub power_without: f64,
    /// Trays of each level that are read on average where the difference is as expected.
    pub mean_trays: f64,
    /// The share of alarms without a difference, were every look judged as if it were the only one.
    pub naive: f64,
    /// The same, were it judged after every tray of either level.
    pub naive_each_tray: f64,
    /// Trials drawn.
    pub draws: u64,
}

/// What is asked of a trial under way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct EndOptions {
    /// Trays of each level at the end.
    pub trays: u64,
    /// Cuttings of the trays to come; as many as those read so far hold on average when not given.
    pub cuttings: Option<u64>,
    /// The takes that were expected when the trial was planned.
    pub takes: Option<(f64, f64)>,
    /// The P value at or below which the trial shows a difference at its end.
    pub p_level: f64,
    /// Trials drawn for each assumption.
    pub draws: u64,
    /// Seed of the draws.
    pub seed: u64,
}

impl Default for EndOptions {
    fn default() -> Self {
        Self { trays: 0, cuttings: None, takes: None, p_level: 0.05, draws: 10_000, seed: 1 }
    }
}

/// The chance under one assumption about the trays to come.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct EndChance {
    /// What is assumed: "as expected", "as seen so far" or "no difference".
    pub assumed: String,
    /// Take of the first level in trays to come.
    pub first: f64,
    /// Take of the second level.
    pub second: f64,
    /// The share of trials that end with a difference shown.
    pub chance: f64,
    /// Standard error of that share, from the number of trials drawn.
    pub error: f64,
}

/// A trial under way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct EndChances {
    /// The treatment.
    pub factor: String,
    /// The level that is subtracted, and the one compared with it.
    pub levels: (String, String),
    /// Trays of each level read so far.
    pub read: (u64, u64),
    /// Trays of each level at the end.
    pub trays: u64,
    /// Difference so far, second minus first, a proportion.
    pub value: f64,
    /// Correlation of two cuttings of a tray so far, as it is used.
    pub correlation: f64,
    /// The P value that decides at the end.
    pub p_level: f64,
    /// One row for each assumption.
    pub rows: Vec<EndChance>,
    /// Trials drawn for each.
    pub draws: u64,
}
