//! What the tests of one model against another find: plain data.

use serde::{Deserialize, Serialize};

/// What the draws say of one effect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BootstrapTest {
    /// `strength` or `strength x rootstock`.
    pub effect: String,
    /// "likelihood ratio" or "F".
    pub test: String,
    /// Statistic of the trial.
    pub statistic: f64,
    /// Degrees of freedom of the effect.
    pub df: f64,
    /// `(1 + exceeded) / (draws + 1)`.
    pub p: f64,
    /// Standard error of the P value for the number of draws.
    pub monte_carlo_error: f64,
    /// Draws.
    pub draws: u64,
    /// Draws whose statistic was at least as large.
    pub exceeded: u64,
    /// Draws that could not be fitted; they count as exceeding.
    pub failed: u64,
    /// P value of the same effect from its reference distribution.
    pub approximate_p: Option<f64>,
    /// Seed.
    pub seed: u64,
}

/// One of the two models.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ModelLine {
    /// "strength, rootstock, strength x rootstock".
    pub effects: String,
    /// Coefficients, and standard deviations or correlations of trays.
    pub parameters: u64,
    /// Log-likelihood of the counts of all trays, binomial coefficients included; none with a dispersion, which has no likelihood.
    pub loglik: Option<f64>,
    /// `2 k - 2 loglik`; none with a penalty either.
    pub aic: Option<f64>,
    /// AIC corrected for few observations: trays where a law of the trays is part of the likelihood, cuttings otherwise.
    pub aicc: Option<f64>,
    /// `k ln n - 2 loglik`.
    pub bic: Option<f64>,
}

/// Both models and the test of what the larger one adds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ModelComparison {
    /// The model with fewer effects.
    pub smaller: ModelLine,
    /// The model that contains it.
    pub larger: ModelLine,
    /// Effects that only the larger model has.
    pub added: Vec<String>,
    /// "likelihood ratio", "penalised likelihood ratio", "F", "F on whole plots", "likelihood ratio as F", "robust F" or "not tested".
    pub test: String,
    /// Chi-square or F.
    pub statistic: Option<f64>,
    /// Coefficients that the larger model has more.
    pub df: f64,
    /// Degrees of freedom of the error, for F.
    pub error_df: Option<f64>,
    /// P value.
    pub p: Option<f64>,
}
