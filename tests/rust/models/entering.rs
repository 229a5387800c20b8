//! What enters: interactions, powers, numbers, offset, weights, references, and the statistics of effects.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use std::collections::BTreeMap;

use rootling::models::{CriteriaUnit, Link, Model, ModelSpec, StatisticKind, TrayMode};
use rootling::trial::{Covariate, LoadOptions, UnitKind, Units, read_csv};
use serde_json::Value;

use super::{Table, crowder, errors, estimates, factor, has_note, near, plum, quasi, spec, units};
use crate::support::{check, check_list, number};

fn values(id: &str) -> Value {
    let file: Value = serde_json::from_str(include_str!("../../reference/values/effect_statistics.json")).unwrap();
    file[id].clone()
}

fn list(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

fn births() -> Units {
    let table = Table::read("hosmer_lemeshow_1989.csv");
    let factors = vec![factor("race", &table.text("race")), factor("smoke", &table.text("smoke"))];
    let mut data = units(UnitKind::Pooled, table.whole("low"), vec![1; table.whole("low").len()], factors);
    let names = ["age", "lwt", "ptl", "ht", "ui", "ftv"];
    data.covariates = names.map(|name| Covariate { name: name.into(), values: table.number(name) }).into();
    data
}

#[test]
fn powers_and_products_of_covariates() {
    // R 4.2.2 glm with I(age^2) and its interactions: tests/reference/values/effect_statistics.json
    let mut asked = spec(&["age", "smoke", "lwt"], &[&["smoke", "age"], &["age", "lwt"]]);
    asked.polynomials.insert("age".into(), 2);
    let model = Model::fit(&births(), &asked).unwrap();
    let want = values("birthwt_square");
    near(&estimates(&model), &list(&want["coef"]), 1e-6);
    near(&errors(&model), &list(&want["se"]), 1e-6);
    assert_abs_diff_eq!(model.loglik, list(&want["loglik"])[0], epsilon = 1e-9);
    let names: Vec<&str> = model.coefficients.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names[2], "age squared");
    assert_eq!(names[6], "smoke 1 x age squared");
    assert_eq!(names[8], "age squared x lwt");
    // The effect is tested with all its powers; they are kept apart well though their coefficients are of the user's ages.
    assert_eq!(model.effect_statistic("smoke x age", StatisticKind::LikelihoodRatio).unwrap().df, 2);
    assert!(model.convergence.condition < 1e4, "{}", model.convergence.condition);
}

#[test]
fn statistics_of_effects() {
    // R 4.2.2 glm, anova(test = "Rao"), vcov: tests/reference/values/effect_statistics.json
    let kinds =
        [("ratio", StatisticKind::LikelihoodRatio), ("score", StatisticKind::Score), ("wald", StatisticKind::Wald)];
    let check = |model: &Model, want: &Value, effects: &[&str]| {
        for (name, kind) in kinds {
            for (at, effect) in effects.iter().enumerate() {
                let got = model.effect_statistic(effect, kind).unwrap();
                // R's own information is that of its last step but one.
                assert_rel!(got.statistic, list(&want[name])[at], 1e-6);
                assert_eq!(got.df as f64, list(&want["df"])[at]);
            }
        }
        assert_abs_diff_eq!(model.loglik, list(&want["loglik"])[0], epsilon = 1e-8);
    };
    for (id, link) in [
        ("crowder_logit", Link::Logit),
        ("crowder_probit", Link::Probit),
        ("crowder_cloglog", Link::ComplementaryLogLog),
    ] {
        let model = Model::fit(&crowder(), &quasi(ModelSpec { link, ..spec(&["seed", "extract"], &[]) })).unwrap();
        check(&model, &values(id), &["seed", "extract"]);
        assert!(model.criteria.is_none(), "a dispersion leaves no likelihood");
    }
    let effects = ["age", "lwt", "race", "smoke", "ptl", "ht", "ui", "ftv"];
    let (model, want) = (Model::fit(&births(), &spec(&effects, &[])).unwrap(), values("birthwt"));
    check(&model, &want, &effects);
    let criteria = model.criteria.unwrap();
    assert_rel!(criteria.aic, list(&want["aic"])[0], 1e-9);
    assert_rel!(criteria.bic, list(&want["bic"])[0], 1e-9);
    assert_rel!(criteria.aicc.unwrap(), list(&want["aicc"])[0], 1e-9);
    assert_eq!((criteria.n, criteria.parameters, criteria.of), (189, 10, CriteriaUnit::Cuttings));
    let law = ModelSpec { trays: TrayMode::BetaBinomial, ..spec(&["seed", "extract"], &[]) };
    let law = Model::fit(&crowder(), &law).unwrap();
    assert_eq!(law.criteria.map(|c| (c.n, c.parameters, c.of)), Some((21, 4, CriteriaUnit::Trays)));
    assert!(law.effect_statistic("seed", StatisticKind::Score).unwrap_err().to_string().contains("likelihood ratios"));
    assert!(
        law.effect_statistic("sed", StatisticKind::Wald).unwrap_err().to_string().contains("did you mean \"seed\"")
    );
}

#[test]
fn interactions_of_three_bring_those_of_two() {
    let whole = Model::fit(&cube(), &spec(&["a", "b", "c"], &[&["a", "b", "c"]])).unwrap();
    let note = whole.notes.iter().find(|note| note.code == "smaller_interactions_added").unwrap();
    assert!(note.text.starts_with("a x b and a x c and b x c entered as well"), "{}", note.text);
    let named = spec(&["a", "b", "c"], &[&["b", "a"], &["a", "b", "c"], &["c", "a"], &["b", "c"]]);
    let named = Model::fit(&cube(), &named).unwrap();
    assert!(!has_note(&named.notes, "smaller_interactions_added"));
    // Eight coefficients for eight cells, whatever the order they were named in: the rates are met exactly.
    assert_eq!((whole.coefficients.len(), named.coefficients.len()), (8, 8));
    assert!(whole.convergence.converged && abs_diff_eq!(whole.loglik, named.loglik, epsilon = 1e-10));
    // by hand: the interaction of three is the log of the ratio of two ratios of odds ratios
    let odds = |y: f64| (y / (20.0 - y)).ln();
    let [y000, y100, y010, y110, y001, y101, y011, y111] = CUBE.map(|y| odds(y as f64));
    let want = y111 - y110 - y101 - y011 + y100 + y010 + y001 - y000;
    assert_rel!(whole.coefficients[7].value, want, 1e-9);
    assert_eq!(whole.coefficients[7].name, "a 1 x b 1 x c 1");
}

const CUBE: [u64; 8] = [3, 5, 8, 12, 6, 9, 4, 15];

/// Two trays of each combination of three factors of two levels; the two hold the same.
fn cube() -> Units {
    let bit = |shift: usize| (0..16).map(|at| (((at / 2) >> shift) & 1).to_string()).collect::<Vec<String>>();
    let factors = vec![factor("a", &bit(0)), factor("b", &bit(1)), factor("c", &bit(2))];
    units(UnitKind::Tray, CUBE.iter().flat_map(|y| [*y, *y]).collect(), vec![20; 16], factors)
}

#[test]
fn a_treatment_as_a_number() {
    let doses = ["0", "10", "20", "40", "0", "10", "20", "40"];
    let (rooted, stuck) = (vec![2, 5, 9, 14, 3, 6, 8, 15], vec![20; 8]);
    let as_factor = units(UnitKind::Tray, rooted.clone(), stuck.clone(), vec![factor("dark_days", &doses)]);
    let mut as_number = units(UnitKind::Tray, rooted, stuck, vec![]);
    let values = doses.iter().map(|dose| dose.parse().unwrap()).collect();
    as_number.covariates = vec![Covariate { name: "dark_days".into(), values }];
    let numeric = ModelSpec { numeric: vec!["dark_days".into()], ..spec(&["dark_days"], &[]) };
    let (a, b) =
        (Model::fit(&as_factor, &numeric).unwrap(), Model::fit(&as_number, &spec(&["dark_days"], &[])).unwrap());
    assert_eq!(a.coefficients, b.coefficients);
    let mut square = spec(&["dark_days"], &[]);
    square.polynomials.insert("dark_days".into(), 3);
    let (cubic, free) =
        (Model::fit(&as_factor, &square).unwrap(), Model::fit(&as_factor, &spec(&["dark_days"], &[])).unwrap());
    // A cubic through four levels is the model of four levels.
    assert_rel!(cubic.loglik, free.loglik, 1e-12);
    assert_eq!(cubic.coefficients[3].name, "dark_days cubed");
    square.polynomials.insert("dark_days".into(), 4);
    assert!(Model::fit(&as_factor, &square).unwrap_err().to_string().contains("degree 4 in \"dark_days\""));
    let text = ModelSpec { numeric: vec!["planting".into()], ..spec(&["planting"], &[]) };
    assert!(Model::fit(&plum(), &text).unwrap_err().to_string().contains("level \"at_once\" is none"));
    let unknown = ModelSpec { numeric: vec!["lengths".into()], ..spec(&["length"], &[]) };
    assert!(Model::fit(&plum(), &unknown).unwrap_err().to_string().contains("did you mean \"length\""));
}

/// Weights of 2 are counts twice over, weights of 0 are absent counts.
#[test]
fn weights_are_repeated_or_missing_counts() {
    let mut weighted = crowder();
    let weight = |at: usize| [1.0, 2.0, 0.0][at % 3];
    let n = weighted.len();
    weighted.covariates = vec![Covariate { name: "care".into(), values: (0..n).map(weight).collect() }];
    let copies: Vec<usize> = (0..n).flat_map(|at| vec![at; weight(at) as usize]).collect();
    let pick = |values: &[u64]| copies.iter().map(|at| values[*at]).collect::<Vec<u64>>();
    let mut repeated = crowder();
    (repeated.rooted, repeated.stuck) = (pick(&repeated.rooted), pick(&repeated.stuck));
    for treatment in &mut repeated.treatments {
        treatment.codes = copies.iter().map(|at| treatment.codes[*at]).collect();
    }
    for trays in [TrayMode::Dispersion, TrayMode::Ignore] {
        let asked = ModelSpec { trays, ..spec(&["seed", "extract"], &[]) };
        let a = Model::fit(&weighted, &ModelSpec { weights: Some("care".into()), ..asked.clone() }).unwrap();
        let b = Model::fit(&repeated, &asked).unwrap();
        near(&estimates(&a), &estimates(&b), 1e-11);
        near(&errors(&a), &errors(&b), 1e-11);
        if trays == TrayMode::Dispersion {
            assert_rel!(a.pearson, b.pearson, 1e-11);
        }
        // Units, not weights, set the degrees of freedom.
        assert_eq!(a.n_units, 14);
        assert!(has_note(&a.notes, "weighted"));
        let note = a.notes.iter().find(|note| note.code == "zero_weight").unwrap();
        assert!(note.text.contains("seed O_aegyptiaca_75, extract bean; "), "{}", note.text);
    }
    let quasi = ModelSpec { weights: Some("care".into()), ..spec(&["seed"], &[]) };
    let model = Model::fit(&weighted, &quasi).unwrap();
    assert_eq!(model.strata.tray.df, Some(12.0));
    let law = ModelSpec { trays: TrayMode::Random, ..quasi.clone() };
    assert!(Model::fit(&weighted, &law).unwrap_err().to_string().contains("trays=\"dispersion\""));
    weighted.covariates[0].values[4] = -0.5;
    assert!(
        Model::fit(&weighted, &quasi).unwrap_err().to_string().contains("weight -0.5 of column \"care\" in unit 5")
    );
    weighted.covariates[0].values[4] = f64::NAN;
    assert!(Model::fit(&weighted, &quasi).unwrap_err().to_string().contains("weight NaN"));
    weighted.covariates[0].values.fill(0.0);
    assert!(Model::fit(&weighted, &quasi).unwrap_err().to_string().contains("every weight"));
}

#[test]
fn an_offset_is_a_known_part() {
    // An offset of 0.7 x takes 0.7 off the slope of x and leaves the fit as it is.
    let mut data = births();
    let age = data.covariates[0].values.clone();
    data.covariates.push(Covariate { name: "known".into(), values: age.iter().map(|x| 0.07 * x).collect() });
    let plain = Model::fit(&data, &spec(&["age", "race"], &[])).unwrap();
    let shifted = ModelSpec { offset: Some("known".into()), ..spec(&["age", "race"], &[]) };
    let other = Model::fit(&data, &shifted).unwrap();
    assert_rel!(other.loglik, plain.loglik, 1e-12);
    assert_rel!(estimates(&plain)[1] - estimates(&other)[1], 0.07, 1.4e-9);
    near(&errors(&other), &errors(&plain), 1e-8);
    let unknown = ModelSpec { offset: Some("knwn".into()), ..shifted };
    assert!(Model::fit(&data, &unknown).unwrap_err().to_string().contains("did you mean \"known\""));
}

/// In every mode an offset of 0.3 x takes 0.3 off the slope of x, at all powers and limits; models of one set of trays have
/// log-likelihoods that can be compared.
#[test]
fn offsets_and_powers_in_every_mode() {
    let x: Vec<f64> = (0..16).map(|at| f64::from(at % 5) + 0.25 * f64::from(at % 3)).collect();
    let mut data = cube();
    // Trays that differ, so that the spread is not at its bound.
    data.rooted.iter_mut().enumerate().for_each(|(at, y)| *y = (*y + [0, 4, 1, 0, 2][at % 5]).min(19));
    let part = x.iter().map(|x| 0.3 * x).collect();
    let covariate = |name: &str, values: Vec<f64>| Covariate { name: name.into(), values };
    data.covariates = vec![covariate("x", x), covariate("part", part)];
    let mut asked = spec(&["a", "x"], &[]);
    asked.polynomials.insert("x".into(), 2);
    let mut found = Vec::new();
    for trays in [TrayMode::Ignore, TrayMode::Dispersion, TrayMode::BetaBinomial, TrayMode::Random] {
        asked.trays = trays;
        let plain = Model::fit(&data, &asked).unwrap();
        let other = Model::fit(&data, &ModelSpec { offset: Some("part".into()), ..asked.clone() }).unwrap();
        assert!(
            abs_diff_eq!(plain.loglik, other.loglik, epsilon = 1e-7),
            "{trays:?} {} {}",
            plain.loglik,
            other.loglik
        );
        for (name, shift) in [("intercept", 0.0), ("x", 0.3), ("x squared", 0.0), ("a 1", 0.0)] {
            let (a, b) = (plain.coefficient(name).unwrap().value, other.coefficient(name).unwrap().value);
            assert!(abs_diff_eq!(a - b, shift, epsilon = 1e-5), "{trays:?} {name}: {a} {b}");
            let limits = |model: &Model| model.profile(name, 0.9).unwrap().unwrap();
            let (first, second) = (limits(&plain), limits(&other));
            assert!(abs_diff_eq!(first.low - second.low, shift, epsilon = 1e-4), "{trays:?} {name}");
            assert!(abs_diff_eq!(first.high - second.high, shift, epsilon = 1e-4), "{trays:?} {name}");
            assert!(first.low < a && a < first.high);
        }
        found.push(plain.loglik);
    }
    // A law of the trays holds the binomial as its bound; a dispersion leaves the likelihood as it is.
    assert!(abs_diff_eq!(found[0], found[1], epsilon = 1e-9), "{found:?}");
    assert!(found[2] >= found[0] - 1e-9 && found[3] >= found[0] - 1e-9, "{found:?}");
    // The same trays in a model of fewer effects: never above, as the constants are those of the trays.
    let fewer = Model::fit(&data, &ModelSpec { trays: TrayMode::Ignore, ..spec(&["a"], &[]) }).unwrap();
    assert!(fewer.loglik < found[0], "{} {found:?}", fewer.loglik);
}

fn loaded(options: LoadOptions) -> rootling::trial::Trial {
    let text =
        "light,rooted,stuck,tray\nbright,12,20,a\nbright,14,20,b\ndark,5,20,c\ndark,4,20,d\ndim,9,20,e\ndim,7,20,f\n";
    let roles = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["light".into()],
        tray: Some("tray".into()),
        ..options
    };
    read_csv(text.as_bytes(), &roles).unwrap()
}

#[test]
fn controls_and_declared_orders_reach_the_model() {
    let control = std::sync::Arc::new(rootling::control::Control::new());
    let names = |trial: &rootling::trial::Trial, spec: &ModelSpec| -> Vec<String> {
        let model = trial.model(spec, &control).unwrap();
        model.coefficients.iter().map(|c| c.name.clone()).collect()
    };
    let asked = spec(&["light"], &[]);
    let plain = loaded(LoadOptions::default());
    assert_eq!(names(&plain, &asked), ["intercept", "light dark", "light dim"]);
    let dark = BTreeMap::from([("light".to_owned(), "dark".to_owned())]);
    let trial = loaded(LoadOptions { control: dark.clone(), ..LoadOptions::default() });
    assert_eq!(names(&trial, &asked), ["intercept", "light bright", "light dim"]);
    assert_eq!(trial.controls(), &dark);
    assert!(trial.design().lines.iter().any(|line| line == "light: the control is dark"));
    let model = trial.model(&asked, &control).unwrap();
    assert_eq!((model.spec.controls.clone(), model.refit().unwrap()), (dark, model.clone()));
    let other = ModelSpec { reference: BTreeMap::from([("light".into(), "dim".into())]), ..asked.clone() };
    assert_eq!(names(&trial, &other), ["intercept", "light bright", "light dark"]);
    let order = vec!["dark".to_owned(), "dim".to_owned(), "bright".to_owned()];
    let ordered =
        loaded(LoadOptions { level_order: BTreeMap::from([("light".into(), order)]), ..LoadOptions::default() });
    assert_eq!(names(&ordered, &asked), ["intercept", "light dim", "light bright"]);
    assert_eq!(ordered.model(&asked, &control).unwrap().spec.ordered, ["light"]);
    assert_eq!(ordered.units().rooted, [5, 4, 9, 7, 12, 14]);
    let misplaced = ModelSpec { reference: BTreeMap::from([("lihgt".into(), "dim".into())]), ..asked };
    assert!(trial.model(&misplaced, &control).unwrap_err().to_string().contains("did you mean \"light\""));
}

#[test]
fn printed_and_computed_fits_of_the_reference_sets() {
    // expected.json crowder_dilution_glm (R 4.2.2)
    let table = Table::read("crowder_dilution.csv");
    let dilution = factor("dilution", &table.text("dilution"));
    let plates = units(UnitKind::Tray, table.whole("germinated"), table.whole("n"), vec![dilution]);
    let model = Model::fit(&plates, &quasi(spec(&["dilution"], &[]))).unwrap();
    check_list("crowder_dilution_glm", "estimate", &estimates(&model));
    check_list("crowder_dilution_glm", "se", &errors(&model));
    check("crowder_dilution_glm", "deviance", model.deviance);
    check("crowder_dilution_glm", "pearson_x2", model.pearson);
    // Dobson's coefficients and the printed deviances of the beetles: expected.json bliss_dobson_coefs, bliss_deviances_printed
    let table = Table::read("bliss_beetles.csv");
    let mut beetles = units(UnitKind::Tray, table.whole("killed"), table.whole("n"), vec![]);
    beetles.covariates = vec![Covariate { name: "dose".into(), values: table.number("log10_dose") }];
    for (name, link) in [("logit", Link::Logit), ("probit", Link::Probit), ("cloglog", Link::ComplementaryLogLog)] {
        let model = Model::fit(&beetles, &quasi(ModelSpec { link, ..spec(&["dose"], &[]) })).unwrap();
        check("bliss_deviances_printed", name, model.deviance);
        if link == Link::Logit {
            check_list("bliss_dobson_coefs", "estimate", &estimates(&model));
            check_list("bliss_dobson_coefs", "se", &errors(&model));
        }
    }
    // expected.json birthwt_printed (Hosmer and Lemeshow)
    let model = Model::fit(&births(), &spec(&["age", "lwt", "race", "ftv"], &[])).unwrap();
    check_list("birthwt_printed", "estimate", &estimates(&model));
    check("birthwt_printed", "loglik", model.loglik);
}
