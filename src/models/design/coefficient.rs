//! One coefficient of a model: plain numbers.

use serde::{Deserialize, Serialize};

/// One coefficient on the link scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Coefficient {
    /// `intercept`, `strength 2500`, `strength 2500 x rootstock K17`.
    pub name: String,
    /// The effect it belongs to; none for the intercept.
    pub effect: Option<String>,
    /// Estimate.
    pub value: f64,
    /// Standard error, not yet multiplied by the root of a dispersion.
    pub se: f64,
}
