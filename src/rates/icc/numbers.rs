//! What is asked of a tray correlation, and what is found: plain data.

use serde::{Deserialize, Serialize};

use super::beta_binomial::BetaBinomialCorrelation;
use crate::choice::choice;

/// How the correlation is estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CorrelationMethod {
    /// Analysis of variance between trays within treatments.
    #[default]
    Anova,
    /// Maximum likelihood of beta-binomial counts.
    BetaBinomial,
}

choice!(
    CorrelationMethod, "correlation method":
    Anova = "anova",
    BetaBinomial = "beta-binomial",
);

/// Options of [`tray_correlation`](crate::rates::tray_correlation).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CorrelationOptions {
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Method that leads, by name; "anova" when not given.
    pub method: Option<CorrelationMethod>,
}

impl Default for CorrelationOptions {
    fn default() -> Self {
        Self { confidence: 0.95, method: None }
    }
}

/// One estimate of the tray correlation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CorrelationEstimate {
    /// The method.
    pub method: CorrelationMethod,
    /// The correlation.
    pub value: f64,
    /// Lower limit, when there is one.
    pub low: Option<f64>,
    /// Upper limit, when there is one.
    pub high: Option<f64>,
}

/// How alike two cuttings of one tray are, beyond sharing a treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrayCorrelation {
    /// The leading estimate.
    pub value: f64,
    /// Its lower limit.
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
    /// The leading method.
    pub method: CorrelationMethod,
    /// Design effect `1 + (size - 1) value` of an ordinary tray, with a negative value taken as 0.
    pub design_effect: f64,
    /// The design effect at the lower limit.
    pub design_effect_low: Option<f64>,
    /// The design effect at the upper limit.
    pub design_effect_high: Option<f64>,
    /// Cuttings of an ordinary tray, as a cutting sees it.
    pub tray_size: f64,
    /// Trays minus treatments.
    pub df: f64,
    /// Pearson dispersion of trays within treatments: 1 is chance, below 1 is underdispersion.
    pub dispersion: Option<f64>,
    /// Trays.
    pub n_units: u64,
    /// Treatments (combinations).
    pub n_treatments: u64,
    /// Cuttings.
    pub n_cuttings: u64,
    /// All estimates, the leading one first.
    pub estimates: Vec<CorrelationEstimate>,
    /// The beta-binomial fit, where there is one.
    pub beta_binomial: Option<BetaBinomialCorrelation>,
    /// What one unit is called: "tray", or "mother plant" where these are the units.
    #[serde(default = "tray")]
    pub called: String,
}

pub(super) fn tray() -> String {
    "tray".to_owned()
}
