//! Contrasts and averaged rates against reference values.

use approx::abs_diff_eq;
use rootling::control::Control;
use rootling::effects::{ContrastOptions, Pattern, RateOptions, Scale};
use rootling::models::{Model, ModelSpec};
use rootling::trial::UnitKind;

use crate::contrasts::{ask, on, options};
use crate::models::{crowder, factor, quasi, spec, trays, units};

fn values(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap()
}

fn list(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|one| one.as_f64().unwrap()).collect()
}

/// The trays of the invented trial, benches additive, strengths as numbers.
fn benches() -> Model {
    let mut data = trays();
    data.treatments[0].numbers = data.treatments[0].levels.iter().map(|level| level.parse().ok()).collect();
    Model::fit(&data, &quasi(ModelSpec::of(&["strength"]))).unwrap()
}

#[test]
fn limits_and_p_values_solve_the_equations_of_the_profile() {
    // tests/reference/make/contrasts.py (scipy 1.17.1 root, multivariate_t)
    let file = values(include_str!("../reference/values/contrasts.json"));
    let plates = Model::fit(&crowder(), &quasi(spec(&["seed", "extract"], &[&["seed", "extract"]]))).unwrap();
    let within = ContrastOptions { within: Some("seed".into()), ..options() };
    let against = ContrastOptions { pattern: Pattern::Control, ..options() };
    let trend = ContrastOptions { pattern: Pattern::Trend, ..options() };
    let mut asked = Vec::new();
    for (scale, name) in [(Scale::Points, "points"), (Scale::Ratio, "ratio"), (Scale::Odds, "odds")] {
        asked.push((
            &plates,
            "plates",
            format!("extract within seed, {name}"),
            "extract",
            ContrastOptions { scale, ..within.clone() },
        ));
        asked.push((&plates, "plates", format!("seed, {name}"), "seed", on(scale)));
    }
    let benches = benches();
    for (scale, name) in [(Scale::Points, "points"), (Scale::Ratio, "ratio")] {
        let options = ContrastOptions { scale, ..against.clone() };
        asked.push((&benches, "benches", format!("strength against the first, {name}"), "strength", options));
    }
    asked.push((&benches, "benches", "trend of strength, points".into(), "strength", trend));
    for (model, group, name, by, options) in asked {
        let want = &file[group][&name];
        let joint = ask(model, by, &options).numbers.contrasts;
        let single = ask(model, by, &ContrastOptions { together: "none".parse().unwrap(), ..options.clone() }).numbers;
        assert_eq!(single.df, want["df"].as_f64());
        let rows = want["rows"].as_array().unwrap();
        assert_eq!(rows.len(), joint.len(), "{name}");
        for ((row, single), joint) in rows.iter().zip(&single.contrasts).zip(&joint) {
            let number = |key: &str| row[key].as_f64().unwrap();
            let shown = |x: f64| if options.scale == Scale::Points { x } else { x.exp() };
            assert_rel!(single.value.unwrap(), shown(number("value")), 1e-8);
            assert_rel!(single.statistic.unwrap(), number("statistic"), 1e-7);
            assert_rel!(single.p.unwrap(), number("p"), 1e-6);
            assert_rel!(single.low.unwrap(), shown(number("low")), 1e-6);
            assert_rel!(single.high.unwrap(), shown(number("high")), 1e-6);
            // multivariate_t is good to about 1e-5.
            assert!(
                abs_diff_eq!(joint.p_adjusted.unwrap(), number("joint_p"), epsilon = 3e-5),
                "{name}: {joint:?} {row}"
            );
        }
    }
}

#[test]
fn averaged_rates_and_their_errors_against_other_hands() {
    // tests/reference/make/effects_peers.R (emmeans 1.8.4.1, regrid to the response)
    let file = values(include_str!("../reference/values/effects_peers.json"));
    let plates = Model::fit(&crowder(), &quasi(spec(&["seed", "extract"], &[&["seed", "extract"]]))).unwrap();
    let dilution = crate::models::Table::read("crowder_dilution.csv");
    let factor = factor("dilution", &dilution.text("dilution"));
    let dilution = units(UnitKind::Tray, dilution.whole("germinated"), dilution.whole("n"), vec![factor]);
    let dilution = Model::fit(&dilution, &quasi(ModelSpec::of(&["dilution"]))).unwrap();
    let benches = benches();
    let equal = RateOptions::default;
    let cases = [
        (&plates, "rates seeds seed equal", "seed", equal()),
        (&plates, "rates seeds extract equal", "extract", equal()),
        (&plates, "rates seeds extract seed equal", "extract", RateOptions::within("seed")),
        (&dilution, "rates dilution dilution equal", "dilution", equal()),
        (&benches, "rates trays strength equal", "strength", equal()),
    ];
    for (model, name, by, options) in cases {
        let (want, rates) = (&file[name], model.adjusted_rates(by, &options).unwrap().numbers.rates);
        assert_eq!(list(&want["value"]).len(), rates.len());
        for ((rate, value), error) in rates.iter().zip(list(&want["value"])).zip(list(&want["se"])) {
            assert_rel!(rate.value.unwrap(), value, 1e-8);
            assert_rel!(rate.se.unwrap(), error, 1e-7);
        }
    }
}

#[test]
fn single_step_p_values_against_other_hands() {
    use rootling::effects::{Direction, Family, SingleStep, single_step};
    use rootling::math::distributions::multivariate::Precision;
    // tests/reference/make/effects_peers.R (multcomp 1.4.22, mvtnorm 1.1.3 to 1e-7)
    let file = values(include_str!("../reference/values/effects_peers.json"));
    for name in ["single step dilution pairs", "single step trays pairs", "single step trays control"] {
        let want = &file[name];
        let covariance: Vec<Vec<f64>> = want["covariance"].as_array().unwrap().iter().map(list).collect();
        let (estimates, dof) = (list(&want["estimate"]), want["df"].as_f64().unwrap());
        let family = Family { estimates: &estimates, covariance: &covariance, df: dof, direction: Direction::Either };
        let found = single_step(&family, SingleStep::Joint, 0.95, &Precision::default(), &Control::new()).unwrap();
        for (row, p) in found.rows.iter().zip(list(&want["p"])).filter(|(_, p)| *p > 1e-4) {
            assert_rel!(row.p, p, 2e-3);
        }
    }
}
