//! The criteria of a fitted model.

use super::criteria_of::{Criteria, CriteriaUnit};
use super::model::{Model, is_used};
use crate::models::enter::TrayMode;

/// Criteria from the log-likelihood with binomial coefficients. A dispersion or effective counts leave no likelihood, and a penalised fit is not
/// at its maximum: there are none then.
///
/// # References
/// Akaike (1974), IEEE Transactions on Automatic Control 19:716-723; Schwarz (1978), Annals of Statistics 6:461-464; Hurvich and
/// Tsai (1989), Biometrika 76:297-307.
pub(crate) fn criteria(model: &Model) -> Option<Criteria> {
    if model.penalised || matches!(model.trays, TrayMode::Dispersion | TrayMode::Effective | TrayMode::Robust) {
        return None;
    }
    let parameters = model.convergence.rank + model.spread.len() as u64;
    let (n, of) =
        if is_used(model) { (model.n_units, CriteriaUnit::Trays) } else { (model.n_cuttings, CriteriaUnit::Cuttings) };
    Some(Criteria { aic: 0.0, aicc: None, bic: 0.0, parameters, n, of }.at(model.loglik))
}
