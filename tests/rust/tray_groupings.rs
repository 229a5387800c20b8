//! Random effects of named groupings, correlations by level, and stopping such fits.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use std::sync::Arc;

use rootling::Error;
use rootling::control::Control;
use rootling::effects::{ContrastOptions, RateOptions};
use rootling::math::distributions::chi_squared;
use rootling::math::rng;
use rootling::model_tests::BootstrapOptions;
use rootling::models::mixed::{Method, RandomInterceptFit, RandomInterceptSpec, Rows, marginal_rate};
use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::prediction::PredictOptions;
use rootling::trial::{Covariate, NewRows, UnitKind, Units};

use crate::models::factor;

/// 3 batches of 4 bays of 4 trays; stock plants cross all of them; darkness by bay, strength by tray. Takes differ by all of these.
fn trial() -> Units {
    let mut random = rng::stream(7, 0);
    let mut draw = |n: usize, sd: f64| -> Vec<f64> { (0..n).map(|_| sd * rng::deviate(&mut random)).collect() };
    let (batches, bays, plants, trays) = (draw(3, 0.6), draw(12, 0.7), draw(8, 0.6), draw(48, 0.5));
    let eta = |i: usize| {
        -0.2 + 0.5 * (i / 4 % 2) as f64
            + 0.6 * (i % 2) as f64
            + batches[i / 16]
            + bays[i / 4]
            + plants[i * 3 % 8]
            + trays[i]
    };
    let mut random = rng::stream(7, 1);
    let rooted =
        (0..48).map(|i| rng::binomial(&mut random, 20 + (i as u64 % 5), Link::Logit.at(eta(i)).mean)).collect();
    let column = |name: &str, code: &dyn Fn(usize) -> usize| {
        factor(name, &(0..48).map(|i| code(i).to_string()).collect::<Vec<_>>())
    };
    Units {
        kind: UnitKind::Tray,
        rooted,
        stuck: (0..48).map(|i| 20 + (i as u64 % 5)).collect(),
        treatments: vec![column("dark", &|i| i / 4 % 2), column("strength", &|i| i % 2)],
        tray: Some(column("tray", &|i| i)),
        block: None,
        whole_plot: Some(column("bay", &|i| i / 4)),
        season: Some(column("batch", &|i| i / 16)),
        earlier: None,
        stock_plant: Some(column("plant", &|i| i * 3 % 8)),
        covariates: vec![Covariate {
            name: "bench_number".to_owned(),
            values: (0..48).map(|i| f64::from(i / 4 % 4)).collect(),
        }],
    }
}

fn spec(effects: &[&str], random: &[&str]) -> ModelSpec {
    let random = random.iter().map(|name| (*name).to_owned()).collect();
    ModelSpec { trays: TrayMode::Random, random, ..ModelSpec::of(effects) }
}

fn names(model: &Model) -> Vec<&str> {
    model.spread.iter().map(|spread| spread.of.as_str()).collect()
}

fn note<'a>(model: &'a Model, code: &str) -> Option<&'a str> {
    model.notes.iter().find(|note| note.code == code).map(|note| note.text.as_str())
}

#[test]
fn nested_and_crossed_are_read_off_the_data() {
    let units = trial();
    let model = Model::fit(&units, &spec(&["dark", "strength"], &[])).unwrap();
    assert_eq!(names(&model), ["tray", "bay"]);
    let law = model.law.as_ref().unwrap();
    assert_eq!(law.layout.as_deref(), Some("48 trays within 12 levels of bay"));
    assert_eq!((law.settled, law.nodes.len()), (Some(true), 2));
    let model = Model::fit(&units, &spec(&["dark", "strength"], &["batch", "plant"])).unwrap();
    assert_eq!(names(&model), ["tray", "bay", "batch", "plant"]);
    let law = model.law.as_ref().unwrap();
    assert_eq!(
        law.layout.as_deref(),
        Some("48 trays within 12 levels of bay within 3 levels of batch; crossed with them 8 levels of plant")
    );
    assert_eq!((law.integration.as_deref(), law.settled), (Some("Laplace's approximation"), None));
    assert!(note(&model, "random_layout").unwrap().contains("Laplace's approximation"));
    // 3 batches of which 2 degrees of freedom are left
    assert!(note(&model, "few_levels").unwrap().contains("batch (3 levels, 2 degrees of freedom)"));
    assert!(note(&model, "conditional_and_marginal").is_some());
    // A covariate groups by its values.
    let model = Model::fit(&units, &spec(&["strength"], &["bench_number"])).unwrap();
    assert_eq!(model.spread[2].n_levels, 4);
}

/// The same groups given to the engine, and the same likelihood, deviations and coefficients.
#[test]
fn the_model_is_the_engines_fit() {
    let units = trial();
    let model = Model::fit(&units, &spec(&["strength"], &["plant"])).unwrap();
    let (rooted, stuck): (Vec<f64>, Vec<f64>) =
        units.rooted.iter().zip(&units.stuck).map(|(y, m)| (*y as f64, *m as f64)).unzip();
    let x = [vec![1.0; 48], (0..48).map(|i| f64::from(i % 2)).collect()];
    let groups = |size: &dyn Fn(usize) -> usize| (0..48).map(size).collect::<Vec<usize>>();
    let (tray, bay, plant) = (groups(&|i| i), groups(&|i| i / 4), groups(&|i| i * 3 % 8));
    let rows = Rows { x: &x, rooted: &rooted, stuck: &stuck, offset: &[], copies: &[], link: Link::Logit };
    let groupings: [&[usize]; 3] = [&tray, &bay, &plant];
    let wanted = RandomInterceptSpec { rows, groupings: &groupings, method: Method::Laplace, penalised: false };
    let fit = RandomInterceptFit::new(&wanted, &Control::new()).unwrap();
    assert_abs_diff_eq!(fit.loglik, model.loglik, epsilon = 1e-8);
    for (ours, theirs) in model.spread.iter().zip(&fit.deviations) {
        assert_abs_diff_eq!(ours.value, theirs.value, epsilon = 1e-6);
        assert!(ours.low <= ours.value && ours.high.is_none_or(|high| ours.value < high));
    }
    assert_abs_diff_eq!(model.coefficients[1].value, fit.coef[1], epsilon = 1e-7);
    // A rate is averaged over the random effects of all groupings together.
    let rates = model.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers.rates;
    let total = fit.deviations.iter().map(|d| d.value * d.value).sum::<f64>().sqrt();
    assert_rel!(rates[0].value.unwrap(), marginal_rate(Link::Logit, fit.coef[0], total).rate, 1e-6);
    assert!(rates[0].low < rates[0].value && rates[0].typical_tray.is_some());
}

#[test]
fn effects_are_tested_where_they_were_laid_out() {
    let model = Model::fit(&trial(), &spec(&["dark", "strength"], &["batch", "plant"])).unwrap();
    let tests = model.what_matters(None).unwrap().numbers.effects;
    // Every stock plant gave cuttings to one strength only (its number is even or odd as that of its trays), so strength is tested against
    // plants: 8 less 2 strengths, less 1 because the plants of a strength differ between levels of darkness.
    let left = tests[1].error_df.unwrap();
    assert!(tests[0].error_df.unwrap() < 8.0);
    assert_eq!(left, 5.0);
    assert!(
        model
            .what_matters(None)
            .unwrap()
            .methods
            .contains("dark and strength were tested against plant (5 degrees of freedom)")
    );
    // Without them: 12 bays less 3 batches less 1 of darkness; 48 trays less 12 bays less 1 of strength.
    let plain = Model::fit(&trial(), &spec(&["dark", "strength"], &["batch"])).unwrap();
    let plain = plain.what_matters(None).unwrap().numbers.effects;
    assert_eq!((plain[0].error_df, plain[1].error_df), (Some(8.0), Some(35.0)));
    // A rate has the fewest: batches less the mean.
    let found = model.adjusted_rates("strength", &RateOptions::default()).unwrap();
    let predicted = model.predict(&NewRows::from_csv(b"dark,strength\n0,1\n").unwrap(), &PredictOptions::default());
    assert_eq!(predicted.unwrap().numbers.rows[0].df, Some(2.0));
    assert!(found.numbers.rates[0].high.unwrap() < 1.0);
    // Everything else answers as well.
    assert!(model.odds_ratios(0.95).unwrap().numbers.ratios.iter().all(|ratio| ratio.low.unwrap() > 0.0));
    let pairs = model.contrasts("strength", &ContrastOptions::default(), &Control::new()).unwrap();
    assert_eq!(pairs.numbers.df, Some(left));
    let small = Model::fit(&trial(), &spec(&["dark"], &["batch", "plant"])).unwrap();
    let compared = model.against(&small).unwrap().numbers;
    assert_rel!(compared.p.unwrap(), tests[1].p.unwrap(), 1e-4);
    let other = Model::fit(&trial(), &spec(&["dark"], &["batch"])).unwrap();
    assert!(
        model.against(&other).unwrap_err().to_string().contains("their random=, correlation_by= or robust_by= differ")
    );
}

#[test]
fn a_block_named_random_is_no_additive_effect() {
    let mut units = trial();
    units.block = units.season.take();
    let fixed = Model::fit(&units, &spec(&["strength"], &[])).unwrap();
    let random = Model::fit(&units, &spec(&["strength"], &["batch"])).unwrap();
    assert_eq!((fixed.coefficients.len(), random.coefficients.len()), (4, 2));
    assert!(names(&random).contains(&"batch") && note(&random, "block_kept").is_none());
    assert!(random.predict(&NewRows::from_csv(b"strength\n1\n").unwrap(), &PredictOptions::default()).is_ok());
    let text = serde_json::to_string(&random).unwrap();
    let back: Model = serde_json::from_str(&text).unwrap();
    assert_eq!((back.spec.random.as_slice(), back.strata.layers.len()), (["batch".to_owned()].as_slice(), 2));
}

#[test]
fn what_cannot_be_a_grouping_is_refused() {
    let refused = |units: &Units, effects: &[&str], random: &[&str]| {
        Model::fit(units, &spec(effects, random)).unwrap_err().to_string()
    };
    let units = trial();
    assert!(refused(&units, &["strength"], &["plants"]).contains("\"plant\""));
    assert!(refused(&units, &["strength"], &["strength"]).contains("in the model already"));
    assert!(refused(&units, &["strength"], &["plant", "plant"]).contains("named twice"));
    let mut odd = trial();
    odd.season = Some(factor("batch", &["spring"; 48]));
    assert!(refused(&odd, &["strength"], &["batch"]).contains("single level \"spring\""));
    odd.season = Some(factor("batch", &(0..48).map(|i| format!("b{i}")).collect::<Vec<_>>()));
    assert!(refused(&odd, &["strength"], &["batch"]).contains("each of the 48 levels of \"batch\" holds one tray"));
    odd.season = Some(factor("batch", &(0..48).map(|i| format!("b{}", i / 4)).collect::<Vec<_>>()));
    assert!(refused(&odd, &["strength"], &["batch"]).contains("same trays together as \"bay\""));
    odd.season = Some(factor("batch", &(0..48).map(|i| format!("b{}", i % 2)).collect::<Vec<_>>()));
    assert!(refused(&odd, &["strength"], &["batch"]).contains("same trays together as \"strength\""));
    odd.season = Some(factor("batch", &(0..48).map(|i| format!("b{}{}", i % 2, i / 4 % 2)).collect::<Vec<_>>()));
    let mut both = spec(&["dark", "strength"], &["batch"]);
    both.interactions = vec![vec!["dark".to_owned(), "strength".to_owned()]];
    let error = Model::fit(&odd, &both).unwrap_err().to_string();
    assert!(error.contains("leave nothing of \"batch\""), "{error}");
    let mut pooled = trial();
    pooled.kind = UnitKind::Pooled;
    assert!(refused(&pooled, &["strength"], &["batch"]).contains("need recorded trays"));
    let auto = ModelSpec { trays: TrayMode::Auto, ..spec(&["strength"], &["batch"]) };
    assert!(Model::fit(&units, &auto).unwrap_err().to_string().contains("trays=\"random\""));
    let icc = |column: &str, trays| ModelSpec {
        trays,
        correlation_by: Some(column.to_owned()),
        ..ModelSpec::of(&["strength"])
    };
    let wrong = |spec: &ModelSpec| Model::fit(&units, spec).unwrap_err().to_string();
    assert!(wrong(&icc("strength", TrayMode::Random)).contains("trays=\"beta-binomial\""));
    assert!(wrong(&icc("strenght", TrayMode::BetaBinomial)).contains("\"strength\""));
    assert!(wrong(&icc("tray", TrayMode::BetaBinomial)).contains("48 levels and the trial 48 trays"));
}

/// With a rate and a correlation per level the likelihood falls apart into those of the levels.
#[test]
fn correlations_by_level() {
    let units = trial();
    let wanted = ModelSpec {
        trays: TrayMode::BetaBinomial,
        correlation_by: Some("strength".to_owned()),
        ..ModelSpec::of(&["strength"])
    };
    let model = Model::fit(&units, &wanted).unwrap();
    let levels: Vec<_> = model.spread.iter().map(|spread| spread.level.clone().unwrap()).collect();
    assert_eq!((levels, model.spread[0].n_levels), (vec!["0".to_owned(), "1".to_owned()], 24));
    let mut apart = 0.0;
    for level in 0..2 {
        let keep: Vec<usize> = (0..48).filter(|i| i % 2 == level).collect();
        let take = |values: &[u64]| keep.iter().map(|i| values[*i]).collect::<Vec<u64>>();
        let half = crate::models::units(
            UnitKind::Tray,
            take(&units.rooted),
            take(&units.stuck),
            vec![factor("side", &keep.iter().map(|i| (i / 2 % 2).to_string()).collect::<Vec<_>>())],
        );
        let spec = ModelSpec { trays: TrayMode::BetaBinomial, ..ModelSpec::of(&["side"]) };
        let fit = Model::fit(&half, &spec).unwrap();
        let fall = fit.what_matters(None).unwrap().numbers.effects[0].statistic.unwrap();
        apart += fit.loglik - 0.5 * fall;
    }
    assert!(abs_diff_eq!(model.loglik, apart, epsilon = 1e-7), "{} {apart}", model.loglik);
    let one = Model::fit(&units, &ModelSpec { correlation_by: None, ..wanted.clone() }).unwrap();
    let equal = model.law.as_ref().unwrap().equal_icc.as_ref().unwrap();
    assert_abs_diff_eq!(equal.statistic, 2.0 * (model.loglik - one.loglik), epsilon = 1e-7);
    assert_rel!(equal.p, chi_squared::sf(equal.statistic, 1.0), 1e-12);
    assert!(note(&model, "correlation_by_level").unwrap().contains("likelihood ratio"));
    // The range of a new tray takes the correlation of its level.
    let rows = NewRows::from_csv(b"strength\n0\n1\n").unwrap();
    let options = PredictOptions { new_tray: Some(40), ..PredictOptions::default() };
    assert!(model.predict(&rows, &options).unwrap().numbers.rows.iter().all(|row| row.tray_low < row.tray_high));
    let options = BootstrapOptions { draws: 99, ..BootstrapOptions::default() };
    assert!(model.bootstrap_test("strength", &options, &Control::new()).unwrap().numbers.p > 0.0);
}

#[test]
fn trays_more_alike_than_chance_are_reported() {
    let rooted = [10, 10, 11, 10, 10, 11, 14, 14, 15, 14, 15, 14].to_vec();
    let strength = factor("strength", &["0", "0", "0", "0", "0", "0", "1", "1", "1", "1", "1", "1"]);
    let units = crate::models::units(UnitKind::Tray, rooted, vec![25; 12], vec![strength]);
    let spec = ModelSpec { trays: TrayMode::BetaBinomial, ..ModelSpec::of(&["strength"]) };
    let model = Model::fit(&units, &spec).unwrap();
    assert!(model.spread[0].value == 0.0 && model.spread[0].score.unwrap() < -1.645);
    assert!(note(&model, "underdispersion").unwrap().contains("less than chance alone"));
    let random = Model::fit(&units, &ModelSpec { trays: TrayMode::Random, ..spec }).unwrap();
    assert!(random.spread[0].value == 0.0 && random.spread[0].high.unwrap() < 1.0);
    assert!(note(&random, "no_spread_seen").is_some());
}

#[test]
fn a_stop_ends_every_law() {
    let (units, stopped) = (Arc::new(trial()), Arc::new(Control::new()));
    stopped.stop();
    let beta = ModelSpec { trays: TrayMode::BetaBinomial, ..ModelSpec::of(&["strength"]) };
    for spec in [spec(&["strength"], &[]), spec(&["strength"], &["plant"]), beta] {
        assert!(matches!(Model::fit_until(&units, &spec, &stopped), Err(Error::Interrupted)));
        let model = Model::fit(&units, &spec).unwrap().watched(&stopped);
        assert!(matches!(model.what_matters(None), Err(Error::Interrupted)));
        assert!(matches!(model.odds_ratios(0.95), Err(Error::Interrupted)));
        let options = BootstrapOptions { draws: 99, ..BootstrapOptions::default() };
        assert!(matches!(model.bootstrap_test("strength", &options, &stopped), Err(Error::Interrupted)));
    }
}

/// Trays of two strengths.
fn trays(rooted: &[u64], stuck: &[u64]) -> Units {
    let strength: Vec<String> = (0..rooted.len()).map(|i| (i % 2).to_string()).collect();
    crate::models::units(UnitKind::Tray, rooted.to_vec(), stuck.to_vec(), vec![factor("strength", &strength)])
}

const LAWS: [TrayMode; 2] = [TrayMode::BetaBinomial, TrayMode::Random];

#[test]
fn hard_cases_have_clear_answers() {
    for law in LAWS {
        let asked = ModelSpec { trays: law, ..ModelSpec::of(&["strength"]) };
        // All rooted and none rooted: nothing tells how trays differ, and no rate leaves 0 to 100 %.
        for rooted in [[20; 8], [0; 8]] {
            match Model::fit(&trays(&rooted, &[20; 8]), &asked) {
                Ok(model) => {
                    let tests = model.what_matters(None).unwrap().numbers.effects;
                    assert!(tests[0].p.is_none_or(|p| p > 0.5), "{law:?}");
                    let rates = model.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers.rates;
                    assert!(rates.iter().all(|rate| (0.0..=1.0).contains(&rate.value.unwrap())));
                    assert!(note(&model, "separation").is_some());
                }
                Err(error) => assert!(error.to_string().starts_with("not fitted: "), "{law:?}: {error}"),
            }
        }
        // One tray per treatment, and more coefficients than trays: no law, said in a note.
        let pair = Model::fit(&trays(&[7, 12], &[20; 2]), &asked).unwrap();
        assert!(pair.trays == TrayMode::Ignore && note(&pair, "no_tray_information").is_some());
        let mut many = trays(&[7, 12, 9, 15], &[20; 4]);
        many.treatments.push(factor("rootstock", &["a", "b", "c", "d"]));
        let wide = Model::fit(&many, &ModelSpec { trays: law, ..ModelSpec::of(&["strength", "rootstock"]) }).unwrap();
        assert!(wide.trays == TrayMode::Ignore && note(&wide, "inseparable").is_some());
        // Trays of one cutting cannot show how they differ.
        let single = Model::fit(&trays(&[1, 0, 1, 1, 0, 0, 1, 0, 0, 1], &[1; 10]), &asked).unwrap();
        assert_eq!((single.spread[0].value, single.spread[0].high), (0.0, None));
        assert!(note(&single, "no_spread_seen").unwrap().contains("cannot tell it"));
        assert!(note(&single, "one_cutting_per_tray").is_some());
    }
    // Fewer events than trays: said beside the answer.
    for law in LAWS {
        let asked = ModelSpec { trays: law, ..ModelSpec::of(&["strength"]) };
        let sparse = Model::fit(&trays(&[0, 1, 0, 0, 2, 0, 0, 0], &[20; 8]), &asked).unwrap();
        assert!(note(&sparse, "few_events").unwrap().contains("Only 3 cuttings"), "{law:?}");
    }
    // Every tray wholly or not at all: a correlation of 1, and a standard deviation without end.
    let whole = trays(&[20, 0, 0, 20, 20, 0, 0, 20], &[20; 8]);
    let beta = ModelSpec { trays: TrayMode::BetaBinomial, ..ModelSpec::of(&["strength"]) };
    assert_rel!(Model::fit(&whole, &beta).unwrap().spread[0].value, 1.0, 1e-9);
    let random = Model::fit(&whole, &spec(&["strength"], &[])).unwrap_err().to_string();
    assert!(random.contains("its spread runs to infinity"), "{random}");
}

/// Two trays of each of two strengths in each of four bays, two of them dark; of 20 cuttings hardly any rooted.
#[test]
fn a_test_that_does_not_settle_leaves_the_others() {
    let column = |name: &str, code: &dyn Fn(usize) -> usize| {
        factor(name, &(0..16).map(|i| code(i).to_string()).collect::<Vec<_>>())
    };
    let mut rooted = vec![0; 16];
    (rooted[6], rooted[7]) = (1, 2);
    let units = Units {
        rooted,
        stuck: vec![20; 16],
        treatments: vec![column("dark", &|i| i / 4 % 2), column("strength", &|i| i / 2 % 2)],
        tray: Some(column("tray", &|i| i)),
        block: None,
        whole_plot: Some(column("bay", &|i| i / 4)),
        earlier: None,
        stock_plant: None,
        covariates: Vec::new(),
        season: None,
        kind: UnitKind::Tray,
    };
    let model =
        Model::fit(&units, &ModelSpec { trays: TrayMode::Random, ..ModelSpec::of(&["dark", "strength"]) }).unwrap();
    let tests = model.what_matters(None).unwrap();
    let (dark, strength) = (&tests.numbers.effects[0], &tests.numbers.effects[1]);
    // All that rooted stood in one dark bay: without darkness the bays differ without end.
    assert_eq!((dark.test.as_str(), dark.p), ("not settled", None));
    assert!(strength.p.is_some_and(|p| p > 0.05));
    assert!(tests.notes.iter().any(|note| note.code == "test_not_settled"));
    assert!(tests.notes.iter().any(|note| note.code == "few_whole_plots_for_likelihood"));
    assert!(tests.words().contains("Dark cannot be tested by random effects of these counts"), "{}", tests.sentence);
}
