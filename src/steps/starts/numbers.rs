//! What is asked about starts, and what is answered.

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::steps::costs::StepCost;

/// Which of the two numbers is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum StartQuestion {
    /// How many to start for so many at the end.
    ToStart,
    /// How many so many started bring.
    SureOf,
}

choice!(
    StartQuestion, "question about starts":
    ToStart = "to-start",
    SureOf = "sure-of",
);

/// What is known of how seasons differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SeasonSpread {
    /// Nothing: the number holds for a season like those of the record.
    NotCounted,
    /// Their standard deviation was given.
    Given,
    /// It was estimated from three seasons and more.
    Estimated,
}

choice!(
    SeasonSpread, "spread of seasons":
    NotCounted = "not-counted",
    Given = "given",
    Estimated = "estimated",
);

/// What is asked about starts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StartOptions {
    /// The chance with which the number is to be reached.
    pub assurance: f64,
    /// Plants of one batch; None for those of the record as a plant sees them.
    pub batch_size: Option<f64>,
    /// Standard deviation of seasons on the log odds; 0 where a season like those of the record is meant, None to estimate it from three
    /// seasons and more.
    pub season_sd: Option<f64>,
    /// What is spent on each started plant and on each that comes to a step.
    pub costs: Vec<StepCost>,
}

impl Default for StartOptions {
    fn default() -> Self {
        Self { assurance: 0.95, batch_size: None, season_sd: None, costs: Vec::new() }
    }
}

/// Numbers of plants started and at the end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StartNumbers {
    /// Which of the two numbers was asked for.
    pub question: StartQuestion,
    /// Plants started; None where no number does.
    pub started: Option<u64>,
    /// Plants that reach the end, at least.
    pub wanted: u64,
    /// The chance asked for.
    pub assurance: f64,
    /// The chance that these many started bring these many.
    pub chance: Option<f64>,
    /// Plants to start by the yield alone.
    pub by_yield: u64,
    /// The chance that they do.
    pub by_yield_chance: f64,
    /// Plants to start if each stood alone and the yield were known; None where no number does.
    pub alone: Option<u64>,
    /// The chance that they really do.
    pub alone_chance: Option<f64>,
    /// The overall yield of followed batches; of an ordinary season where the spread of seasons is estimated.
    pub take: f64,
    /// The yield as it was found; the one worked with is less where all came to the end.
    #[serde(default)]
    pub found: Option<f64>,
    /// Its standard error.
    pub se: f64,
    /// Plants of one batch.
    pub batch_size: f64,
    /// Correlation of two plants of one batch.
    pub correlation: f64,
    /// Standard deviation of seasons on the log odds.
    pub season_sd: f64,
    /// What is known of how seasons differ.
    pub seasons: SeasonSpread,
    /// Seasons of the record; None where none are named.
    pub n_seasons: Option<u64>,
    /// Degrees of freedom of what is known of yield and seasons; None where they have no end.
    pub df: Option<f64>,
    /// Batches that the yield is known from.
    pub n_batches: u64,
    /// What the plants started will cost, the steps that they reach among it; None where no costs are given.
    pub cost: Option<f64>,
    /// The same over the trees that are to be expected.
    pub cost_per_tree: Option<f64>,
    /// What was given to be spent.
    #[serde(default)]
    pub costs: Vec<StepCost>,
}
