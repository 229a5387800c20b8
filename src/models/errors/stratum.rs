//! One error stratum: how much units vary, and on how many degrees of freedom that is known.

use serde::{Deserialize, Serialize};

/// A dispersion with its degrees of freedom; without them the binomial variance itself is the error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Stratum {
    /// Variance as a multiple of the binomial, at least 1.
    pub dispersion: f64,
    /// Degrees of freedom; none for the binomial variance.
    pub df: Option<f64>,
}

impl Stratum {
    /// Cuttings as if independent.
    pub const BINOMIAL: Self = Self { dispersion: 1.0, df: None };
}

/// The whole-plot stratum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct WholePlots {
    /// Column of the whole plots.
    pub name: String,
    /// Effects constant within every whole plot.
    pub effects: Vec<String>,
    /// Their error; none when the whole plots leave no degrees of freedom.
    pub error: Option<Stratum>,
}
