//! Criteria that weigh a likelihood against the number of its parameters.

use serde::{Deserialize, Serialize};

/// What counts as one observation in `AICc` and BIC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum CriteriaUnit {
    /// Trays, where a law of the trays is part of the likelihood.
    Trays,
    /// Cuttings, where they are taken as independent.
    Cuttings,
}

/// Criteria of a model; smaller is better, and only models of the same counts can be compared.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Criteria {
    /// `2 k - 2 loglik`.
    pub aic: f64,
    /// `AIC + 2 k (k + 1) / (n - k - 1)`; none when `n` is not above `k + 1`.
    pub aicc: Option<f64>,
    /// `k ln n - 2 loglik`.
    pub bic: f64,
    /// `k`: coefficients, and standard deviations or correlations of trays.
    pub parameters: u64,
    /// `n`.
    pub n: u64,
    /// What `n` counts.
    pub of: CriteriaUnit,
}

impl Criteria {
    /// The criteria of as many parameters and observations at another log-likelihood.
    pub(crate) fn at(self, loglik: f64) -> Self {
        let (k, n) = (self.parameters as f64, self.n as f64);
        let aic = 2.0 * k - 2.0 * loglik;
        let left = n - k - 1.0;
        let aicc = (left > 0.0).then(|| aic + 2.0 * k * (k + 1.0) / left);
        Self { aic, aicc, bic: k * n.ln() - 2.0 * loglik, ..self }
    }
}
