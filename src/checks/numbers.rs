//! What is asked of the checks of a model, and what they find: plain data.

use serde::{Deserialize, Serialize};

use super::calibration::{CalibrationGroup, HosmerLemeshow};
use super::goodness::{Dispersion, GoodnessOfFit};
use super::link_check::LinkCheck;
use super::residuals::QuantilePoint;

/// How to check a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CheckOptions {
    /// Seed of the quantile residuals.
    pub seed: u64,
    /// Groups of the calibration and of the Hosmer-Lemeshow test, 3 to 100.
    pub groups: usize,
    /// Fit the model without each tray in turn; none: where there are at most 300 trays.
    pub refit: Option<bool>,
}

impl Default for CheckOptions {
    fn default() -> Self {
        Self { seed: 1, groups: 10, refit: None }
    }
}

/// One tray against the model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrayCheck {
    /// "tray T07".
    pub tray: String,
    /// "strength 5000, rootstock K12".
    pub treatment: String,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings stuck.
    pub stuck: u64,
    /// Cuttings expected to root.
    pub expected: f64,
    /// Randomised quantile residual: standard normal if the model holds.
    pub quantile_residual: f64,
    /// Pearson residual of the binomial law.
    pub pearson_residual: f64,
    /// Residual over its standard deviation under the model; none for a tray that alone sets an estimate.
    pub standardised_residual: Option<f64>,
    /// Deviance residual of the binomial law.
    pub deviance_residual: f64,
    /// Leverage, 0 to 1.
    pub leverage: f64,
    /// Distance that leaving the tray out moves all coefficients.
    pub distance: Option<f64>,
    /// Largest change of an expected rate without the tray, without it less with it, a proportion: one step from the fit.
    pub one_step_change: Option<f64>,
    /// The same by fitting without the tray.
    pub refit_change: Option<f64>,
    /// The combination whose rate changes so.
    pub changes: Option<String>,
    /// Probability of a count at least as far out on either side.
    pub p: f64,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Checks {
    /// One per tray (or count).
    pub trays: Vec<TrayCheck>,
    /// Tests of the counts against the binomial law; none for single cuttings.
    pub goodness_of_fit: Option<GoodnessOfFit>,
    /// Spread between trays.
    pub dispersion: Option<Dispersion>,
    /// Test for single cuttings.
    pub hosmer_lemeshow: Option<HosmerLemeshow>,
    /// Test of the squared linear predictor.
    pub link_check: Option<LinkCheck>,
    /// Observed against expected.
    pub calibration: Vec<CalibrationGroup>,
    /// Sorted quantile residuals with their envelope.
    pub quantile_plot: Vec<QuantilePoint>,
    /// Seed of the quantile residuals.
    pub seed: u64,
    /// True when the model was fitted without each tray.
    pub refitted: bool,
    /// What one count is called: "tray", "mother plant", or "count" where no trays were recorded.
    #[serde(default)]
    pub unit: String,
}
