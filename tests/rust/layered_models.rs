//! Models with units above the tray: against Kenward-Roger on tray rates, and what must not change a number.

use approx::abs_diff_eq;
use std::collections::BTreeSet;

use rootling::control::Control;
use rootling::effects::{ContrastOptions, RateOptions};
use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::prediction::PredictOptions;
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::tables::{AssociationOptions, TrialTrendOptions, association, trial_trend};
use rootling::trial::{Factor, NewRows, UnitKind, Units};
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
        let tests = model(&units(name)).what_matters(None).unwrap().numbers.effects;
        for test in tests {
            let found = &case["rate"]["test"][test.effect.replace(" x ", ":")];
            let [f, _, dof, p] = [0, 1, 2, 3].map(|at| found[at].as_f64().unwrap());
            let (statistic, own, own_p) = (test.statistic.unwrap(), test.error_df.unwrap(), test.p.unwrap());
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
            assert_eq!(component.df, case["anova"]["df"][&component.name].as_f64().unwrap(), "{name}");
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
        let tests: Vec<_> = model.what_matters(None).unwrap().numbers.effects.iter().map(|one| one.p).collect();
        let rates = model.adjusted_rates("strength", &RateOptions::within("length")).unwrap().numbers.rates;
        let limits: Vec<_> = rates.iter().map(|one| (one.value, one.low, one.high)).collect();
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
    let tests = model.what_matters(None).unwrap().numbers.effects;
    assert_eq!(tests[0].test, "not tested");
    assert!(tests[1].p.is_some());
    assert!(model.notes.iter().any(|note| note.code == "confounded_with_whole_plot" && note.text.contains("no test")));
    let rates = model.adjusted_rates("rootstock", &RateOptions::default()).unwrap().numbers.rates;
    assert!(rates.iter().all(|rate| rate.value.is_some() && rate.low.is_none()));
}

#[test]
fn a_season_named_as_effect_is_judged_against_its_blocks() {
    let trial = units("blocks_in_seasons");
    let model = Model::fit(&trial, &ModelSpec::of(&["season", "strength"])).unwrap();
    let tests = model.what_matters(None).unwrap().numbers.effects;
    assert_eq!(tests[0].test, "F on block");
    let rates = model.adjusted_rates("strength", &RateOptions::within("season")).unwrap().numbers.rates;
    assert!(rates.iter().all(|rate| rate.value.is_some() && rate.low.is_some()));
    let found = model.contrasts("season", &ContrastOptions::default(), &Control::new()).unwrap().numbers;
    assert!(found.contrasts.iter().all(|one| one.p.is_some()));
    // Where the season is not asked about, its blocks take it out.
    let other = Model::fit(&trial, &ModelSpec::of(&["strength"])).unwrap();
    assert!(other.notes.iter().any(|note| note.code == "taken_out_together"));
    let rates = other.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers.rates;
    assert!(rates.iter().all(|rate| rate.low.is_some()));
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
        let test = model.what_matters(None).unwrap().numbers.effects[0].clone();
        let contrast = model.contrasts(&first, &ContrastOptions::default(), &Control::new()).unwrap();
        let contrast = &contrast.numbers.contrasts[0];
        assert_rel!(contrast.statistic.unwrap().powi(2), test.statistic.unwrap(), 1e-6);
        assert_rel!(contrast.p.unwrap(), test.p.unwrap(), 1e-6);
        let low = contrast.low.unwrap();
        assert_eq!(contrast.p.unwrap() < 0.05, low > 0.0 || contrast.high.unwrap() < 0.0);
    }
}

/// Rates of a model that takes blocks out hold over further ones: Kenward and Roger's standard errors with blocks and seasons at random.
#[test]
fn rates_hold_over_blocks_and_seasons() {
    let trial = units("blocks_in_seasons");
    let model = Model::fit(&trial, &ModelSpec::of(&["strength"])).unwrap();
    let found = model.adjusted_rates("strength", &RateOptions::default()).unwrap();
    assert_eq!(found.numbers.holds_over, ["block", "season"]);
    assert!(found.notes.iter().any(|note| note.code == "holds_over_places"));
    let case = cases().into_iter().find(|case| case["name"] == "blocks_in_seasons").unwrap();
    let plain = take_rates(&trial, &["strength"], &TakeRatesOptions::default()).unwrap().numbers.rates;
    for (rate, plain) in found.numbers.rates.iter().zip(plain) {
        // emmeans(fit, ~ strength, lmer.df = "kenward-roger") of lmer(rate ~ strength + (1 | season) + (1 | block)): SE of the mean rate.
        let wanted = &case["rate"]["mean"][format!("strength={}", rate.by)];
        let (value, se) = (wanted[0].as_f64().unwrap(), wanted[1].as_f64().unwrap());
        // On rates every strength has the same variance, here that of p (1 - p).
        assert!(abs_diff_eq!(rate.value.unwrap(), value, epsilon = 0.01), "{rate:?} {value}");
        assert!((rate.se.unwrap() / se).ln().abs() < 0.25, "{rate:?} {se}");
        // And take rates say the same.
        let (own, other) = (rate.high.unwrap() - rate.low.unwrap(), plain.high - plain.low);
        assert!((own / other).ln().abs() < 0.1, "{own} {other}");
    }
}

#[test]
fn places_that_are_named_are_meant_themselves() {
    let trial = units("blocks_in_seasons");
    let model = Model::fit(&trial, &ModelSpec::of(&["strength"])).unwrap();
    let block = trial.block.as_ref().unwrap().levels[0].clone();
    let width = |rate: &rootling::effects::AdjustedRate| rate.high.unwrap() - rate.low.unwrap();
    let over = model.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers;
    let options = RateOptions { at: [("block".to_owned(), block)].into(), ..RateOptions::default() };
    let held = model.adjusted_rates("strength", &options).unwrap();
    assert!(held.numbers.holds_over.is_empty() && held.numbers.holds_at == ["block", "season"]);
    assert!(held.notes.iter().any(|note| note.code == "holds_for_places_at_hand"));
    assert!(width(&held.numbers.rates[0]) < width(&over.rates[0]));
    let of_blocks = model.adjusted_rates("block", &RateOptions::default()).unwrap().numbers;
    assert!(of_blocks.holds_over.is_empty());
    // Another law of the trays says what it holds for.
    let mut spec = ModelSpec::of(&["strength"]);
    spec.trays = TrayMode::Dispersion;
    let other = Model::fit(&trial, &spec).unwrap().adjusted_rates("strength", &RateOptions::default()).unwrap();
    assert_eq!(other.numbers.holds_at, ["block", "season"]);
    // A new row without its block, and with it.
    let wide = model.predict(&NewRows::from_csv(b"strength\n0\n").unwrap(), &PredictOptions::default()).unwrap();
    assert_eq!(wide.numbers.holds_over, ["block", "season"]);
    let row = &wide.numbers.rows[0];
    assert_rel!(row.high.unwrap(), over.rates[0].high.unwrap(), 1e-9);
    assert_rel!(row.low.unwrap(), over.rates[0].low.unwrap(), 1e-9);
}

/// Contrasts lie within places: what holds over them is no wider.
#[test]
fn contrasts_do_not_change_with_what_rates_hold_over() {
    let trial = units("blocks_in_seasons");
    let model = Model::fit(&trial, &ModelSpec::of(&["strength"])).unwrap();
    let found = model.contrasts("strength", &ContrastOptions::default(), &Control::new()).unwrap().numbers;
    let test = model.what_matters(None).unwrap().numbers.effects[0].clone();
    // Trays less strengths and blocks: 72 - 4 - 9 + 1.
    assert_eq!(test.error_df, Some(60.0));
    assert!(found.contrasts.iter().all(|one| one.low.is_some()));
}

/// Three rootstocks in plants that stand in every bay: associations and trends take up what either gives.
#[test]
fn several_levels_are_judged_by_all_that_crosses_their_units() {
    let z = |p: f64| -rootling::math::distributions::normal::quantile(0.5 * p);
    for case in cases().iter().filter(|case| case["name"].as_str().unwrap().starts_with("rootstocks_across")) {
        let name = case["name"].as_str().unwrap();
        let trial = units(name);
        let found = association(&trial, "rootstock", &AssociationOptions::default(), &Control::new()).unwrap();
        assert_eq!(found.numbers.judged_by, ["plant", "bay"]);
        assert!(found.numbers.left_out.is_empty());
        assert!(found.notes.iter().any(|note| note.code == "crossed_units"), "{name}");
        let lead = &found.numbers.tests[0].test;
        assert_eq!((lead.method.name(), lead.df), ("tray-rates", Some(2.0)));
        // lmerTest::anova(fit, type = 3, ddf = "Kenward-Roger") on tray rates.
        let wanted = [0, 1, 2, 3].map(|at| case["rate"]["test"]["rootstock"][at].as_f64().unwrap());
        assert!((lead.error_df.unwrap() / wanted[2]).ln().abs() < 0.2, "{name} {lead:?} {wanted:?}");
        assert!(
            abs_diff_eq!(z(lead.p), z(wanted[3]), epsilon = 0.2 + 0.12 * z(wanted[3])),
            "{name} {lead:?} {wanted:?}"
        );
        if case["balanced"] == true {
            // The interaction of lengths and rootstocks lies in the trays, so plants alone have the error of rootstocks.
            assert_rel!(lead.error_df.unwrap(), 6.0, 1e-6);
        }
        let scores = [("K12", 0.0), ("K17", 1.0), ("K30", 2.0)].map(|(level, score)| (level.to_owned(), score)).into();
        let options = TrialTrendOptions { scores: Some(scores), ..TrialTrendOptions::default() };
        let line = trial_trend(&trial, "rootstock", &options, &Control::new()).unwrap();
        assert_eq!(line.numbers.judged_by, ["plant", "bay"]);
        // Along a straight line over three even scores the rise is K30 less K12: emmeans, Kenward-Roger.
        let wanted = &case["rate"]["contrast"]["rootstock:contrast=K30 - K12"];
        let [value, se, df] = [0, 1, 2].map(|at| wanted[at].as_f64().unwrap());
        if case["balanced"] == true {
            assert_rel!(line.numbers.value + 1.0, value + 1.0, 1e-9);
            assert_rel!(line.numbers.tests[0].test.df.unwrap(), df, 1e-6);
        }
        assert!((line.numbers.se.unwrap() / se).ln().abs() < 0.3, "{name} {:?} {se}", line.numbers.se);
        assert!((line.numbers.tests[0].test.df.unwrap() / df).ln().abs() < 0.35, "{name} {df}");
    }
}
