//! How a fit went: tolerances and the record every fit carries.

use serde::{Deserialize, Serialize};

/// A fit has settled when `g' I^-1 g` is below this: the estimates are then within 1e-10 standard errors of the optimum.
pub const DECREMENT: f64 = 1e-20;

/// Rounding may keep the decrement above [`DECREMENT`] with very large counts; a stalled fit below this is accepted.
pub const STALLED_DECREMENT: f64 = 1e-9;

/// A column is taken as a combination of earlier ones when less than this share of its length is left.
pub const RANK: f64 = 1e-9;

/// Plain verdict on a fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Verdict {
    /// Nothing to report.
    #[serde(rename = "fitted")]
    Fitted,
    /// Fitted, with a reason to look twice.
    #[serde(rename = "fitted with caution")]
    Caution,
    /// No usable estimates.
    #[serde(rename = "not fitted")]
    NotFitted,
}

/// The record of one fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Convergence {
    /// Steps taken.
    pub iterations: u64,
    /// True when the tolerance was met.
    pub converged: bool,
    /// Tolerance on the decrement `g' I^-1 g`.
    pub tolerance: f64,
    /// Start values on the fitted (standardised) scale.
    pub start: Vec<f64>,
    /// Largest entry of the score at the end, on the standardised scale.
    pub gradient_max: f64,
    /// 1-norm condition number of the weighted design at the end.
    pub condition: f64,
    /// Rank of the design.
    pub rank: u64,
    /// Plain verdict.
    pub verdict: Verdict,
    /// Why, when the verdict is not "fitted".
    pub reason: Option<String>,
}
