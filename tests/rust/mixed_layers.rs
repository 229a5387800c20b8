//! Generated trials with nested and crossed groupings against other programs' fits.

use approx::abs_diff_eq;
use rootling::control::Control;
use rootling::math::regression::Link;
use rootling::models::mixed::{DeviationStatus, Method};

use crate::mixed::Case;

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

pub(crate) fn cases() -> Vec<(serde_json::Value, Case)> {
    let file: serde_json::Value = serde_json::from_str(include_str!("../reference/values/mixed_layers.json")).unwrap();
    let read = |case: &serde_json::Value| {
        let strength = numbers(&case["strength"]);
        let levels = strength.iter().copied().fold(0.0, f64::max) as usize;
        let is = |k: usize| strength.iter().map(|s| f64::from(u8::from(*s as usize == k))).collect::<Vec<f64>>();
        let x = std::iter::once(vec![1.0; strength.len()]).chain((1..=levels).map(is)).collect();
        let codes = |levels: &serde_json::Value| numbers(levels).iter().map(|code| *code as usize).collect();
        // As the file orders them: trays, then these.
        let others = ["row", "column", "batch", "bay", "plant"].map(|name| &case["groups"][name]);
        let trays: Vec<usize> = (0..strength.len()).collect();
        let groups = std::iter::once(trays).chain(others.into_iter().filter(|one| one.is_array()).map(codes)).collect();
        let (rooted, stuck) = (numbers(&case["rooted"]), numbers(&case["stuck"]));
        (case.clone(), Case { x, rooted, stuck, groups, link: Link::Logit })
    };
    file["cases"].as_array().unwrap().iter().map(read).collect()
}

/// The likelihood is nowhere below that of either peer, and where it is theirs so are the estimates.
#[test]
fn by_laplaces_approximation() {
    let mut same = 0;
    for (wanted, case) in cases() {
        let fit = case.random(Method::Laplace);
        // lme4 1.1.31 glmer and glmmTMB 1.1.5, tests/reference/values/mixed_layers.json
        let peers = [numbers(&wanted["loglik"])[0], numbers(&wanted["loglik_other"])[0]];
        let best = peers[0].max(peers[1]);
        assert!(fit.loglik > best - 1e-6, "{}: {} against {best}", wanted["kind"], fit.loglik);
        if (fit.loglik - peers[0]).abs() < 1e-6 {
            same += 1;
            // At likelihoods within 1e-6 of each other a coefficient can be off by the root of 2e-6 of its standard error.
            for (j, (ours, theirs)) in fit.coef.iter().zip(numbers(&wanted["coef"])).enumerate() {
                let reach = 2e-6_f64.sqrt() * fit.covariance[[j, j]].sqrt();
                assert!(
                    abs_diff_eq!(*ours, theirs, epsilon = 1.1 * reach),
                    "{}: {ours} {theirs} {reach}",
                    wanted["kind"]
                );
            }
            // Near 0 the likelihood hardly changes with a standard deviation.
            for (ours, theirs) in fit.deviations.iter().zip(numbers(&wanted["sd"])) {
                assert!(
                    abs_diff_eq!(ours.value, theirs, epsilon = 2e-2),
                    "{}: {} {theirs}",
                    wanted["kind"],
                    ours.value
                );
            }
        }
    }
    assert!(same >= 40, "{same} of 48 at the same place");
}

#[test]
fn by_quadrature() {
    let control = Control::new();
    let mut checked = 0;
    for (wanted, case) in cases().into_iter().filter(|(wanted, _)| wanted["integrated"].is_array()) {
        let fit = case.random(Method::Quadrature);
        // numpy and scipy 1.17.1 (equal steps, BFGS), tests/reference/values/mixed_layers.json
        let values = numbers(&wanted["integrated"]);
        let (loglik, p) = (values[values.len() - 1], fit.coef.len());
        assert!(abs_diff_eq!(fit.loglik, loglik, epsilon = 1e-6), "{} {loglik}", fit.loglik);
        for (ours, theirs) in fit.coef.iter().zip(&values) {
            assert!(abs_diff_eq!(ours, theirs, epsilon = 1e-4), "{ours} {theirs}");
        }
        for (ours, theirs) in fit.deviations.iter().zip([values[p + 1], values[p]]) {
            match ours.status {
                DeviationStatus::Estimated => {
                    assert!(rel_eq!(ours.value, theirs, 1e-4), "{} {theirs}", ours.value);
                }
                _ => assert!(theirs < 0.02, "{theirs}"),
            }
        }
        let (low, high) = fit.deviation_limits(1, 0.95, &control).unwrap();
        // At a limit above 0 the likelihood has fallen by half the chi-square quantile (scipy.stats.chi2.ppf(0.95, 1) = 3.8414588).
        assert!(low <= fit.deviations[1].value && high > fit.deviations[1].value);
        checked += 1;
    }
    assert_eq!(checked, 16);
}
