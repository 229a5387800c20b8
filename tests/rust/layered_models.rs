//! Models with units above the tray: against Kenward-Roger on tray rates, and what must not change a number.

use std::collections::BTreeSet;

use rootling::control::Control;
use rootling::effects::{ContrastOptions, RateOptions, adjusted_rates, contrasts, effect_tests};
use rootling::models::{Model, ModelSpec};
use rootling::trial::{Factor, UnitKind, Units};
use serde_json::Value;

/// A factor with its levels in the order of their names, numbers by size.
fn factor(name: &str, entries: &[String]) -> Factor {
    let mut levels: Vec<String> = entries.iter().cloned().collect::<BTreeSet<_>>().into_iter().collect();
    levels.sort_by(|a, b| match (a.parse::<f64>(), b.parse::<f64>()) {
        (Ok(a), Ok(b)) => a.total_cmp(&b),
        _ => a.cmp(b),
    });
    let codes = entries.iter().map(|entry| levels.iter().position(|level| level == entry).unwrap() as u32).collect();
    Factor { name: name.to_owned(), levels, numbers: None, codes }
}

/// A data set by name, with bays as whole plots and plants as stock plants.
fn units(name: &str) -> Units {
    let path = format!("{}/tests/data/layered/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let mut lines = text.lines().map(|line| line.trim().split(',').map(str::to_owned).collect::<Vec<String>>());
    let head = lines.next().unwrap();
    let rows: Vec<Vec<String>> = lines.collect();
    let column = |name: &str| -> Option<Vec<String>> {
        let at = head.iter().position(|known| known == name)?;
        Some(rows.iter().map(|row| row[at].clone()).collect())
    };
    let known = |name: &str| column(name).map(|entries| factor(name, &entries));
    let count = |name: &str| column(name).unwrap().iter().map(|entry| entry.parse().unwrap()).collect();
    Units {
        kind: UnitKind::Tray,
        rooted: count("rooted"),
        stuck: count("stuck"),
        treatments: ["length", "rootstock", "strength"].into_iter().filter_map(known).collect(),
        tray: Some(factor("tray", &(0..rows.len()).map(|at| at.to_string()).collect::<Vec<_>>())),
        block: known("block"),
        whole_plot: known("bay"),
        season: known("season"),
        earlier: None,
        stock_plant: known("plant"),
        covariates: Vec::new(),
    }
}

/// The model of all treatments with all their interactions.
fn model(units: &Units) -> Model {
    let names: Vec<&str> = units.treatments.iter().map(|one| one.name.as_str()).collect();
    let mut spec = ModelSpec::of(&names);
    if names.len() > 1 {
        spec.interactions = vec![names.iter().map(|name| (*name).to_owned()).collect()];
    }
    Model::fit(units, &spec).unwrap()
}

fn cases() -> Vec<Value> {
    // tests/reference/make/layered_rates.R: R 4.2.2, lme4 1.1.31, lmerTest 3.1.3 and pbkrtest 0.5.2 on tray rates.
    let all: Value = serde_json::from_str(include_str!("../reference/values/layered_rates.json")).unwrap();
    all["cases"].as_array().unwrap().clone()
}

/// Degrees of freedom and P values of effect tests stay near those of Kenward and Roger on tray rates. They are no more than near: a score
/// takes variances from p (1 - p), and mean squares below what lies beneath them are held there. Interactions of log odds are other
/// hypotheses than those of rates, so only their degrees of freedom are held.
#[test]
fn effect_tests_are_near_kenward_and_roger() {
    let mut told = Vec::new();
    for case in cases() {
        let name = case["name"].as_str().unwrap();
        let tests = effect_tests(&model(&units(name))).unwrap().figures.effects;
        for test in tests {
            let found = &case["rate"]["test"][test.effect.replace(" x ", ":")];
            let [f, _, dof, p] = [0, 1, 2, 3].map(|at| found[at].as_f64().unwrap());
            let (statistic, own, own_p) =
                (test.statistic.unwrap(), test.dof_denominator.unwrap(), test.p_value.unwrap());
            told.push((name.to_owned(), test.effect.clone(), (f, statistic), (dof, own), (p, own_p)));
        }
    }
    assert!(told.len() > 20);
    for (name, effect, _, (dof, own), (p, own_p)) in told {
        assert!((own / dof).ln().abs() < 0.35, "{name} {effect}: df {own} against {dof}");
        let z = |p: f64| -rootling::math::distributions::normal::quantile(0.5 * p);
        let alike = effect.contains(" x ") || (z(own_p) - z(p)).abs() < 0.2 + 0.12 * z(p);
        assert!(alike, "{name} {effect}: P {own_p} against {p}");
    }
}

#[test]
fn balanced_mean_squares_are_those_by_hand() {
    for case in cases().iter().filter(|case| case["balanced"] == true) {
        let name = case["name"].as_str().unwrap();
        // Blocks within which all treatments vary are taken out as fixed effects, and their seasons with them.
        if name == "blocks_in_seasons" {
            continue;
        }
        let units = units(name);
        let model = model(&units);
        let Some(above) = model.strata.above.as_ref() else { panic!("{name}: no layers") };
        for component in &above.layers.components {
            let by_hand = case["anova"]["mean_square"][&component.name].as_f64().unwrap();
            assert_rel!(component.mean_square / 25.0, by_hand, 1e-9);
            assert_eq!(component.dof, case["anova"]["df"][&component.name].as_f64().unwrap(), "{name}");
        }
        let tray = case["anova"]["mean_square"]["tray"].as_f64().unwrap();
        assert_rel!(above.layers.tray_mean_square / 25.0, tray, 1e-9);
    }
}

/// What a trial's units say, whichever role names them.
#[test]
fn roles_change_no_number() {
    let bays = units("bays");
    let plot = bays.whole_plot.clone();
    let roles: Vec<Units> = vec![
        bays.clone(),
        Units { whole_plot: None, block: plot.clone(), ..bays.clone() },
        Units { whole_plot: None, stock_plant: plot.clone(), ..bays.clone() },
        Units { whole_plot: None, season: plot.clone(), ..bays.clone() },
        Units { block: plot, ..bays },
    ];
    let figures = |units: &Units| {
        let model = model(units);
        let tests: Vec<_> = effect_tests(&model).unwrap().figures.effects.iter().map(|one| one.p_value).collect();
        let rates = adjusted_rates(&model, "strength", &RateOptions::within("length")).unwrap().figures.rates;
        let limits: Vec<_> = rates.iter().map(|one| (one.value, one.conf_low, one.conf_high)).collect();
        (tests, limits)
    };
    let first = figures(&roles[0]);
    for other in &roles[1..] {
        assert_eq!(figures(other), first);
    }
}

#[test]
fn one_plant_per_level_is_an_estimate_and_no_test() {
    let plants = units("plants");
    let mut one = plants.clone();
    one.stock_plant = Some(Factor { name: "plant".to_owned(), ..plants.treatments[0].clone() });
    let model = model(&one);
    let tests = effect_tests(&model).unwrap().figures.effects;
    assert_eq!(tests[0].test, "not tested");
    assert!(tests[1].p_value.is_some());
    assert!(model.notes.iter().any(|note| note.code == "confounded_with_whole_plot" && note.text.contains("no test")));
    let rates = adjusted_rates(&model, "rootstock", &RateOptions::default()).unwrap().figures.rates;
    assert!(rates.iter().all(|rate| rate.value.is_some() && rate.conf_low.is_none()));
}

#[test]
fn a_season_named_as_effect_is_judged_against_its_blocks() {
    let trial = units("blocks_in_seasons");
    let model = Model::fit(&trial, &ModelSpec::of(&["season", "strength"])).unwrap();
    let tests = effect_tests(&model).unwrap().figures.effects;
    assert_eq!(tests[0].test, "F on block");
    let rates = adjusted_rates(&model, "strength", &RateOptions::within("season")).unwrap().figures.rates;
    assert!(rates.iter().all(|rate| rate.value.is_some() && rate.conf_low.is_some()));
    let found = contrasts(&model, "season", &ContrastOptions::default(), &Control::new()).unwrap().figures;
    assert!(found.contrasts.iter().all(|one| one.p_value.is_some()));
    // Where the season is not asked about, its blocks take it out.
    let other = Model::fit(&trial, &ModelSpec::of(&["strength"])).unwrap();
    assert!(other.notes.iter().any(|note| note.code == "taken_out_together"));
    let rates = adjusted_rates(&other, "strength", &RateOptions::default()).unwrap().figures.rates;
    assert!(rates.iter().all(|rate| rate.conf_low.is_some()));
}

/// For two levels the test of an effect, its contrast and its odds ratio are one test.
#[test]
fn effect_tests_and_contrasts_agree_with_layers() {
    for name in ["plants", "uneven_trays", "bays"] {
        let model = Model::fit(
            &units(name),
            &ModelSpec::of(&[if name.starts_with("plants") { "rootstock" } else { "length" }, "strength"]),
        )
        .unwrap();
        let first = model.spec.effects[0].clone();
        let test = effect_tests(&model).unwrap().figures.effects[0].clone();
        let contrast = contrasts(&model, &first, &ContrastOptions::default(), &Control::new()).unwrap();
        let contrast = &contrast.figures.contrasts[0];
        assert_rel!(contrast.statistic.unwrap().powi(2), test.statistic.unwrap(), 1e-6);
        assert_rel!(contrast.p_value.unwrap(), test.p_value.unwrap(), 1e-6);
        let low = contrast.conf_low.unwrap();
        assert_eq!(contrast.p_value.unwrap() < 0.05, low > 0.0 || contrast.conf_high.unwrap() < 0.0);
    }
}
