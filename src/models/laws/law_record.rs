//! How trays were found to spread under a law of their own, and how that law was fitted: plain records.

use serde::{Deserialize, Serialize};

/// How one layer of the design spreads around its treatments.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Spread {
    /// "tray" or the column of the grouping.
    pub of: String,
    /// The level it belongs to, where trays of each level have their own.
    #[serde(default)]
    pub level: Option<String>,
    /// "rho" (beta-binomial: correlation of two cuttings of one tray) or "standard deviation" (random effect, link scale).
    pub measure: String,
    /// Estimate; 0 when nothing beyond chance is seen.
    pub value: f64,
    /// From the observed information; none at a bound.
    pub se: Option<f64>,
    /// Lower profile limit.
    pub low: f64,
    /// Upper profile limit; none when there is none.
    pub high: Option<f64>,
    /// Share of this layer in the variance of cuttings' tolerances, `s^2 / (sum of s^2 + v)`, for random effects. It is not the
    /// beta-binomial rho.
    pub latent_icc: Option<f64>,
    /// Score statistic of rho at 0, for the beta-binomial: far below 0 trays are more alike than chance makes them.
    pub score: Option<f64>,
    /// Trays, or levels of the grouping.
    #[serde(default)]
    pub n_levels: u64,
    /// Degrees of freedom that effects laid out on this layer are tested on.
    #[serde(default)]
    pub df: Option<f64>,
}

/// How a law of the trays was fitted.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default)]
pub struct LawRecord {
    /// Which groupings have random effects and how they lie in each other.
    pub layout: Option<String>,
    /// "adaptive Gauss-Hermite quadrature" or "Laplace's approximation", for random effects.
    pub integration: Option<String>,
    /// Nodes per group of the only or outer grouping, and per tray within it.
    pub nodes: Vec<u64>,
    /// Do more nodes change the log-likelihood by less than 1e-8? Not known for Laplace's approximation.
    pub settled: Option<bool>,
    /// Are the correlations of all levels equal? For beta-binomial models with a correlation per level.
    pub equal_icc: Option<EqualIcc>,
}

/// The likelihood-ratio test that trays of all levels have one correlation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct EqualIcc {
    /// The column.
    pub by: String,
    /// Twice the rise of the log-likelihood over the model with one correlation.
    pub statistic: f64,
    /// Correlations beyond the first that the data can tell.
    pub df: f64,
    /// Upper tail of chi-square.
    pub p: f64,
}
