//! What is asked of predictions, and what is expected: plain data.

use serde::{Deserialize, Serialize};

use crate::effects::RateOf;

/// What to predict.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PredictOptions {
    /// Confidence level, between 0 and 1.
    pub confidence: f64,
    /// Which rate of a model with random trays.
    pub rate_of: RateOf,
    /// Cuttings of a new tray whose count is to be given a range.
    pub new_tray: Option<u64>,
}

impl Default for PredictOptions {
    fn default() -> Self {
        Self { confidence: 0.95, rate_of: RateOf::default(), new_tray: None }
    }
}

/// What the model expects of one row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Prediction {
    /// Row as the user sees it.
    pub row: u64,
    /// Level or number of each column, as given; empty for a block that was not given.
    pub labels: Vec<String>,
    /// Expected rate, between 0 and 1; none when these data cannot give it.
    pub value: Option<f64>,
    /// Standard error of the rate.
    pub se: Option<f64>,
    /// Lower confidence limit.
    pub low: Option<f64>,
    /// Upper confidence limit.
    pub high: Option<f64>,
    /// Degrees of freedom of its error; none for the binomial variance.
    pub df: Option<f64>,
    /// Fewest cuttings that a new tray is expected to root.
    pub tray_low: Option<u64>,
    /// Most cuttings.
    pub tray_high: Option<u64>,
    /// Covariates outside the range of the trial.
    pub outside: Vec<String>,
    /// False where no tray of the trial has the row's combination of levels: the rate is then the model's guess.
    #[serde(default = "tried")]
    pub tried: bool,
}

fn tried() -> bool {
    true
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Predictions {
    /// Columns of the model.
    pub columns: Vec<String>,
    /// Confidence level.
    pub confidence: f64,
    /// Which rate.
    pub rate_of: RateOf,
    /// Cuttings of the new tray.
    pub new_tray: Option<u64>,
    /// One per row, in their order.
    pub rows: Vec<Prediction>,
    /// Seasons and blocks over whose further levels the limits of some row hold.
    #[serde(default)]
    pub holds_over: Vec<String>,
    /// Seasons and blocks of which the limits of some row hold for the levels at hand alone.
    #[serde(default)]
    pub holds_at: Vec<String>,
}
