//! Standard deviations of random effects against likelihoods maximised directly (`tests/reference/make/mixed_direct.py`).

use approx::abs_diff_eq;
use serde_json::Value;

use rootling::models::mixed::{DeviationStatus, Method};

use crate::mixed::{Case, generated};
use crate::mixed_layers::cases;

fn direct() -> Value {
    serde_json::from_str(include_str!("../reference/values/mixed_direct.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

/// Log-likelihood to 1e-6; standard deviations to 1e-4 of themselves, coefficients to 1e-4 of their standard errors.
fn agree(id: &str, case: &Case, method: Method, want: &Value) {
    let fit = case.random(method);
    let loglik = want["loglik"].as_f64().unwrap();
    assert!(abs_diff_eq!(fit.loglik, loglik, epsilon = 1e-6), "{id}: {} {loglik}", fit.loglik);
    for (ours, theirs) in fit.deviations.iter().zip(numbers(&want["sd"])) {
        match ours.status {
            DeviationStatus::Estimated => {
                let off = (ours.value / theirs - 1.0).abs();
                assert!(off < 1e-4, "{id}: standard deviation {} {theirs}", ours.value);
            }
            // At 0 the likelihood is level, so a search may stop a little above.
            _ => assert!(theirs < 2e-3, "{id}: standard deviation at 0, {theirs}"),
        }
    }
    for (j, (ours, theirs)) in fit.coef.iter().zip(numbers(&want["coef"])).enumerate() {
        let reach = 1e-4 * fit.covariance[[j, j]].sqrt();
        assert!(abs_diff_eq!(*ours, theirs, epsilon = reach), "{id}: coefficient {ours} {theirs} {reach}");
    }
}

#[test]
fn trays_by_quadrature() {
    // numpy 2.4.6 and scipy 1.17.1: integrals by equal steps, BFGS and Newton, tests/reference/values/mixed_direct.json
    let direct = direct();
    let all = direct["single"].as_object().unwrap();
    assert_eq!(all.len(), 59);
    for (one, case) in generated() {
        let id = one["id"].as_str().unwrap();
        if let Some(want) = all.get(id) {
            agree(id, &case, Method::Quadrature, want);
        }
    }
}

#[test]
fn groupings_by_laplace() {
    // numpy 2.4.6 and scipy 1.17.1: the same approximation by dense matrices, BFGS and Newton, tests/reference/values/mixed_direct.json
    let direct = direct();
    let (some, layers) = (direct["laplace"].as_object().unwrap(), direct["layers"].as_array().unwrap());
    assert_eq!((some.len(), layers.len()), (17, 48));
    for (one, case) in generated() {
        let id = one["id"].as_str().unwrap();
        if let Some(want) = some.get(id) {
            agree(id, &case, Method::Laplace, want);
        }
    }
    for (index, ((one, case), want)) in cases().iter().zip(layers).enumerate() {
        agree(&format!("{index} {}", one["kind"]), case, Method::Laplace, want);
    }
}
