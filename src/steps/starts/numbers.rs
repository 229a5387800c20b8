//! What is asked about starts, and what is answered.

use serde::{Deserialize, Serialize};

use crate::choice::choice;

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

/// What is asked about starts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StartOptions {
    /// The chance with which the number is to be reached.
    pub assurance: f64,
    /// Plants of one batch; None for those of the record as a plant sees them.
    pub batch_size: Option<f64>,
    /// Standard deviation of seasons on the log odds; 0 where a season like those of the record is meant.
    pub season_sd: f64,
}

impl Default for StartOptions {
    fn default() -> Self {
        Self { assurance: 0.95, batch_size: None, season_sd: 0.0 }
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
    /// The overall yield of followed batches.
    pub take: f64,
    /// Its standard error.
    pub se: f64,
    /// Plants of one batch.
    pub batch_size: f64,
    /// Correlation of two plants of one batch.
    pub correlation: f64,
    /// Standard deviation of seasons on the log odds.
    pub season_sd: f64,
    /// Degrees of freedom: batches less one.
    pub df: f64,
    /// Batches that the yield is known from.
    pub n_batches: u64,
}
