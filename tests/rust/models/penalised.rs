//! Penalised fits with every link, and what their limits and P values rest on.

use rootling::models::{Link, Model, ModelSpec, StatisticKind, TrayMode};
use rootling::trial::{UnitKind, Units};
use serde_json::Value;

use super::{errors, estimates, factor, full_arm, has_note, near, spec, units};
use crate::support::number;

const LINKS: [(&str, Link); 4] = [
    ("logit", Link::Logit),
    ("probit", Link::Probit),
    ("cloglog", Link::ComplementaryLogLog),
    ("loglog", Link::LogLog),
];

fn values(name: &str) -> Value {
    let file: Value = serde_json::from_str(include_str!("../../reference/values/penalised_fits.json")).unwrap();
    file[name].clone()
}

fn list(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

/// 14 of 20 against 20 of 20.
fn twenty() -> Units {
    units(UnitKind::Pooled, vec![14, 20], vec![20; 2], vec![factor("strength", &["2500", "5000"])])
}

/// Three strengths in two dips; one combination none rooted, two all rooted.
fn two_ends() -> Units {
    let strength = factor("strength", &["0", "2500", "5000", "0", "2500", "5000"]);
    let dip = factor("dip", &["cold", "cold", "cold", "warm", "warm", "warm"]);
    units(UnitKind::Pooled, vec![0, 7, 20, 3, 12, 20], vec![20; 6], vec![strength, dip])
}

fn check_values(case: &str, data: &Units, effects: &[&str]) {
    let known = values(case);
    for (name, link) in LINKS {
        let (spec, want) = (ModelSpec { link, ..spec(effects, &[]) }, &known[name]);
        let model = Model::fit(data, &spec).unwrap();
        assert!(model.penalised && has_note(&model.notes, "separation"), "{case} {name}");
        near(&estimates(&model), &list(&want["coef"]), 1e-8);
        near(&errors(&model), &list(&want["se"]), 1e-8);
        let limits = model.coefficients.iter().map(|c| model.profile(&c.name, 0.95).unwrap().unwrap());
        for (limits, (statistic, p)) in limits.zip(list(&want["statistic"]).iter().zip(list(&want["p"]))) {
            assert_rel!(limits.statistic, *statistic, 1e-7);
            assert_rel!(limits.p, p, 1e-7);
        }
    }
}

#[test]
fn twenty_of_twenty_against_fourteen() {
    // mpmath 1.4.1, 40 digits: tests/reference/values/penalised_fits.json
    check_values("full_arm_20_of_20_against_14_of_20", &twenty(), &["strength"]);
    // domain.md 4.4: penalised likelihood ratio 0.008 (0.0076 in full), Wald of the same fit 0.06 (0.059)
    let model = Model::fit(&twenty(), &spec(&["strength"], &[])).unwrap();
    let p = model.profile("strength 5000", 0.95).unwrap().unwrap().p;
    assert_eq!(format!("{p:.4}"), "0.0076");
    let wald = model.effect_statistic("strength", StatisticKind::Wald).unwrap().statistic;
    let wald_p = rootling::math::distributions::chi_squared::sf(wald, 1.0);
    assert_eq!(format!("{wald_p:.3}"), "0.059");
    let ratio = model.effect_statistic("strength", StatisticKind::LikelihoodRatio).unwrap().statistic;
    assert_rel!(rootling::math::distributions::chi_squared::sf(ratio, 1.0), p, 1e-9);
}

#[test]
fn both_ends_with_every_link() {
    // mpmath 1.4.1, 40 digits: tests/reference/values/penalised_fits.json
    check_values("two_ends", &two_ends(), &["strength", "dip"]);
}

#[test]
fn a_penalty_on_request_in_every_mode() {
    let mut spec = ModelSpec { penalised: true, ..spec(&["strength"], &[]) };
    let mut plain = full_arm();
    plain.rooted = vec![14, 13, 15, 14, 18, 17, 19, 18];
    for trays in [TrayMode::Dispersion, TrayMode::Ignore, TrayMode::BetaBinomial, TrayMode::Random] {
        spec.trays = trays;
        let model = Model::fit(&plain, &spec).unwrap();
        assert!(model.penalised && has_note(&model.notes, "penalised"), "{trays:?}");
        assert!(model.criteria.is_none() && model.penalised_loglik.is_some(), "{trays:?}");
        let limits = model.profile("strength 5000", 0.95).unwrap().unwrap();
        assert!(limits.low < estimates(&model)[1] && estimates(&model)[1] < limits.high);
        // An odds ratio nearer to 1 than the plain one.
        let unasked = Model::fit(&plain, &ModelSpec { penalised: false, ..spec.clone() }).unwrap();
        assert!(estimates(&model)[1].abs() < estimates(&unasked)[1].abs(), "{trays:?}");
    }
}

#[test]
fn scale_and_centre_of_covariates_change_nothing() {
    let data = super::endometrial();
    let model = Model::fit(&data, &spec(&["NV", "PI", "EH"], &[])).unwrap();
    let mut scaled = data.clone();
    for covariate in &mut scaled.covariates {
        covariate.values.iter_mut().for_each(|x| *x = 1e9 * *x + 3e9);
    }
    let other = Model::fit(&scaled, &spec(&["NV", "PI", "EH"], &[])).unwrap();
    for (a, b) in estimates(&model).iter().zip(estimates(&other)).skip(1) {
        assert_rel!(1e9 * b, *a, 1e-7);
    }
    assert_rel!(other.loglik, model.loglik, 1e-9);
    let jacobian = 3.0 * 1e9_f64.ln();
    assert_rel!(other.penalised_loglik.unwrap() - jacobian, model.penalised_loglik.unwrap(), 1e-8);
    for name in ["NV", "PI", "EH"] {
        let (a, b) = (model.profile(name, 0.9).unwrap().unwrap(), other.profile(name, 0.9).unwrap().unwrap());
        assert_rel!(1e9 * b.low, a.low, 1e-6);
        assert_rel!(1e9 * b.high, a.high, 1e-6);
        assert_rel!(b.p, a.p, 1e-6);
    }
}
