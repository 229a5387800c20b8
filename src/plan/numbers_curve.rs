//! A trial that is to find the best strength: what is asked, and what it comes to.

use serde::{Deserialize, Serialize};

/// What is expected of a curve, and the trays there are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CurvePlanOptions {
    /// Strengths at which a take is expected, rising.
    pub strengths: Vec<f64>,
    /// The takes expected there, proportions.
    pub takes: Vec<f64>,
    /// Unit of the strengths.
    pub unit: String,
    /// Trays of the whole trial.
    pub trays: u64,
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// Correlation of two cuttings of a tray.
    pub correlation: f64,
    /// Trials drawn of each layout, at most 100.
    pub draws: u64,
    /// Seed of the draws.
    pub seed: u64,
}

impl Default for CurvePlanOptions {
    fn default() -> Self {
        Self {
            strengths: Vec::new(),
            takes: Vec::new(),
            unit: String::new(),
            trays: 24,
            cuttings: 20,
            correlation: 0.05,
            draws: 100,
            seed: 1,
        }
    }
}

/// Trays at one strength.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StrengthTrays {
    /// Strength.
    pub strength: f64,
    /// Trays.
    pub trays: u64,
    /// The take expected there.
    pub take: f64,
}

/// How one layout of the trays does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CurveLayout {
    /// "even" or "where they tell most".
    pub layout: String,
    /// Strengths with their trays.
    pub strengths: Vec<StrengthTrays>,
    /// The share of trials that locate the best strength inside the tested range.
    pub located: f64,
    /// Standard error of that share.
    pub error: f64,
    /// Upper over lower limit of the best strength, in the middle of the trials that locate it; none where none does.
    pub ratio: Option<f64>,
    /// The lower limit in the middle of those trials.
    pub low: Option<f64>,
    /// The upper limit in the middle of those trials.
    pub high: Option<f64>,
    /// Trees per 100 that the strength found loses against the best, on average over all trials.
    pub lost: f64,
}

/// A trial that is to find the best strength.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CurvePlan {
    /// The best strength of the curve expected.
    pub best: f64,
    /// The take there.
    pub best_take: f64,
    /// Unit of the strengths.
    pub unit: String,
    /// Trays of the whole trial.
    pub trays: u64,
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// Correlation of two cuttings of a tray.
    pub correlation: f64,
    /// The layouts: even, and where trays tell most of the best strength.
    pub layouts: Vec<CurveLayout>,
    /// Trials drawn of each.
    pub draws: u64,
}
