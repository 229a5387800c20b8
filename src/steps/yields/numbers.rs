//! What is asked of a chain, and what is answered.

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::steps::costs::StepCost;

/// Whose yield it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum YieldOf {
    /// Batches that were followed through all steps: what became of what was started.
    #[default]
    FollowedCohorts,
    /// Each step at the rate of all batches that passed it: what would become of plants that met every step as it is now.
    CurrentRates,
}

choice!(
    YieldOf, "whose yield":
    FollowedCohorts = "followed-cohorts",
    CurrentRates = "current-rates",
);

/// What is asked of a chain.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct YieldOptions {
    /// Whose yield.
    pub whose: YieldOf,
    /// Confidence of the limits.
    pub confidence: f64,
    /// Draws of batches that say how often each step costs most.
    pub draws: u64,
    /// Where the draws begin.
    pub seed: u64,
    /// What is spent on each started plant and on each that comes to a step, whether it passes it or not.
    pub costs: Vec<StepCost>,
}

impl Default for YieldOptions {
    fn default() -> Self {
        Self { whose: YieldOf::FollowedCohorts, confidence: 0.95, draws: 999, seed: 1, costs: Vec::new() }
    }
}

/// The takes of all steps and the overall yield.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StepYields {
    /// Whose yield it is.
    pub whose: YieldOf,
    /// The column of what was started.
    pub start: String,
    /// Steps that no plant came to, since all were lost before: they have no take.
    #[serde(default)]
    pub not_reached: Vec<String>,
    /// Batches that count.
    pub n_batches: u64,
    /// Batches that were left out, since they are too young for a step.
    pub n_young: u64,
    /// Of those that count, batches that count since all of them were lost before the end, while younger ones that live are left out.
    #[serde(default)]
    pub n_lost_early: u64,
    /// Plants started in the batches that count.
    pub n_started: u64,
    /// Overall yield.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Its standard error.
    pub se: f64,
    /// Its standard error by leaving out one batch at a time.
    pub se_without_one: Option<f64>,
    /// Degrees of freedom of its limits.
    pub df: f64,
    /// Cost of each tree that reaches the end; None where no costs are given.
    pub cost: Option<f64>,
    /// Its lower limit.
    pub cost_low: Option<f64>,
    /// Its upper limit; None for one without end.
    pub cost_high: Option<f64>,
    /// What was given to be spent.
    #[serde(default)]
    pub costs: Vec<StepCost>,
    /// Confidence of the limits.
    pub confidence: f64,
    /// Draws of batches.
    pub draws: u64,
    /// Each step in the order of the chain.
    pub steps: Vec<StepNumbers>,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StepNumbers {
    /// The column of plants that passed it.
    pub step: String,
    /// Plants that reached it.
    pub reached: u64,
    /// Plants that passed it.
    pub passed: u64,
    /// Of those that reached it, the share that passed it.
    pub take: f64,
    /// Lower limit of the take.
    pub low: f64,
    /// Upper limit of the take.
    pub high: f64,
    /// Degrees of freedom of its limits.
    pub df: f64,
    /// Of all started, the share left after it.
    pub left: f64,
    /// Of all started, the share lost at it.
    pub lost: f64,
    /// Standard error of the share lost.
    pub lost_se: f64,
    /// What a take five points higher (or full, where less is missing) adds to the overall yield.
    pub gain: f64,
    /// Share of draws in which most trees are lost at it.
    pub most_often: f64,
}
