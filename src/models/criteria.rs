//! Criteria that weigh a likelihood against the number of its parameters.

use serde::{Deserialize, Serialize};

use crate::models::fitted::Model;
use crate::models::spec::TrayMode;
use crate::models::tray_law::is_used;

/// What counts as one observation in `AICc` and BIC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CriteriaUnit {
    /// Trays, where a law of the trays is part of the likelihood.
    Trays,
    /// Cuttings, where they are taken as independent.
    Cuttings,
}

/// Criteria of a model; smaller is better, and only models of the same counts can be compared.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
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

/// Criteria from the log-likelihood with binomial coefficients. A dispersion or effective counts leave no likelihood, and a penalised fit is not
/// at its maximum: there are none then.
///
/// # References
/// Akaike (1974), IEEE Transactions on Automatic Control 19:716-723; Schwarz (1978), Annals of Statistics 6:461-464; Hurvich and
/// Tsai (1989), Biometrika 76:297-307.
pub(super) fn criteria(model: &Model) -> Option<Criteria> {
    if model.penalised || matches!(model.trays, TrayMode::Dispersion | TrayMode::Effective | TrayMode::Robust) {
        return None;
    }
    let parameters = model.convergence.rank + model.spread.len() as u64;
    let (n, of) =
        if is_used(model) { (model.n_units, CriteriaUnit::Trays) } else { (model.n_cuttings, CriteriaUnit::Cuttings) };
    Some(Criteria { aic: 0.0, aicc: None, bic: 0.0, parameters, n, of }.at(model.loglik))
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
