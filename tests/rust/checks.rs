//! Checks of fitted models against `tests/reference/values/diagnostics.json` (made by `tests/reference/make/diagnostics.R`, R 4.2.2), by
//! second routes, and by simulation.

use approx::abs_diff_eq;
use std::sync::OnceLock;

use rootling::Answer;
use rootling::checks::{CheckOptions, Checks};
use rootling::control::Control;
use rootling::math::distributions::{beta_binomial, binomial, normal};
use rootling::math::rng::{self, stream};
use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::prediction::PredictOptions;
use rootling::trial::{Covariate, NewRows, UnitKind, Units};
use serde_json::Value;

use crate::models::{Table, crowder, endometrial, factor, full_arm, has_note, plum, spec, trays, units};
use crate::predict::bays;
use crate::support::within;

fn reference(id: &str, key: &str) -> Vec<Option<f64>> {
    static ALL: OnceLock<Value> = OnceLock::new();
    let all = ALL.get_or_init(|| serde_json::from_str(include_str!("../reference/values/diagnostics.json")).unwrap());
    all[id][key].as_array().unwrap().iter().map(Value::as_f64).collect()
}

fn checked(model: &Model) -> Answer<Checks> {
    model.checks(&CheckOptions::default(), &Control::new()).unwrap()
}

fn fit(units: &Units, effects: &[&str], trays: TrayMode) -> Model {
    Model::fit(units, &ModelSpec { trays, ..spec(effects, &[]) }).unwrap()
}

/// R's fits end at a relative change of the deviance of 1e-14, which leaves about 1e-7 in the estimates' last digits.
const R_FIT: f64 = 1e-6;

fn agree(id: &str, key: &str, got: &[Option<f64>]) {
    let want = reference(id, key);
    assert_eq!(got.len(), want.len(), "{id} {key}");
    for (index, (got, want)) in got.iter().zip(&want).enumerate() {
        match (got, want) {
            (Some(got), Some(want)) => {
                assert!(within(*got, *want, R_FIT, 1e-9), "{id} {key} {index}: {got} against {want}");
            }
            _ => assert_eq!(got.is_some(), want.is_some(), "{id} {key} {index}"),
        }
    }
}

/// A pick from every tray.
type Pick = fn(&rootling::checks::TrayCheck) -> Option<f64>;

#[test]
fn single_counts_agree_with_the_reference() {
    let data = [("crowder", crowder(), vec!["seed", "extract"]), ("trays", trays(), vec!["strength"])];
    for (id, data, effects) in data {
        let plain = checked(&fit(&data, &effects, TrayMode::Ignore)).numbers;
        let quasi = checked(&fit(&data, &effects, TrayMode::Dispersion)).numbers;
        let columns: [(&str, &Checks, Pick); 9] = [
            ("leverage", &plain, |tray| Some(tray.leverage)),
            ("leverage", &quasi, |tray| Some(tray.leverage)),
            ("distance", &plain, |tray| tray.distance),
            ("quasi_distance", &quasi, |tray| tray.distance),
            ("pearson", &plain, |tray| Some(tray.pearson_residual)),
            ("deviance", &quasi, |tray| Some(tray.deviance_residual)),
            ("standardised", &quasi, |tray| tray.standardised_residual),
            ("refit", &plain, |tray| tray.refit_change),
            ("fitted", &plain, |tray| Some(tray.expected / tray.stuck as f64)),
        ];
        for (key, figures, pick) in columns {
            agree(id, key, &figures.trays.iter().map(pick).collect::<Vec<_>>());
        }
        let fit = plain.goodness_of_fit.as_ref().unwrap();
        agree(id, "total_pearson", &[Some(fit.pearson)]);
        agree(id, "total_deviance", &[Some(fit.deviance)]);
        assert_rel!(fit.pearson_p, reference(id, "pearson_p")[0].unwrap(), R_FIT);
        assert_rel!(fit.deviance_p, reference(id, "deviance_p")[0].unwrap(), R_FIT);
        agree(id, "quasi_dispersion", &[quasi.dispersion.as_ref().map(|dispersion| dispersion.value)]);
        agree(id, "link_statistic", &[plain.link_check.as_ref().map(|test| test.statistic)]);
        let (test, used) = (quasi.link_check.unwrap(), quasi.dispersion.unwrap());
        assert_rel!(test.statistic * used.used, reference(id, "link_statistic")[0].unwrap(), R_FIT);
        assert_eq!(test.error_df, Some(used.df));
    }
}

fn birthwt() -> Units {
    let table = Table::read("hosmer_lemeshow_1989.csv");
    let rows = table.whole("low");
    let n = rows.len();
    let mut data = units(UnitKind::Pooled, rows, vec![1; n], vec![factor("race", &table.text("race"))]);
    let names = ["age", "lwt", "smoke", "ht", "ui"];
    data.covariates = names.map(|name| Covariate { name: name.into(), values: table.number(name) }).into();
    data
}

#[test]
fn single_births_are_tested_in_groups() {
    let model = Model::fit(&birthwt(), &spec(&["age", "lwt", "race", "smoke", "ht", "ui"], &[])).unwrap();
    let answer = checked(&model);
    let figures = &answer.numbers;
    let test = figures.hosmer_lemeshow.as_ref().unwrap();
    agree("birthwt", "statistic", &[Some(test.statistic)]);
    assert_rel!(test.p, reference("birthwt", "p")[0].unwrap(), R_FIT);
    assert_eq!((test.groups, test.df), (10, 8.0));
    let groups = &figures.calibration;
    agree("birthwt", "size", &groups.iter().map(|group| Some(group.stuck as f64)).collect::<Vec<_>>());
    agree("birthwt", "rooted", &groups.iter().map(|group| Some(group.rooted as f64)).collect::<Vec<_>>());
    agree("birthwt", "expected", &groups.iter().map(|group| Some(group.expected)).collect::<Vec<_>>());
    agree("birthwt", "leverage", &figures.trays.iter().map(|tray| Some(tray.leverage)).collect::<Vec<_>>());
    agree("birthwt", "distance", &figures.trays.iter().map(|tray| tray.distance).collect::<Vec<_>>());
    agree("birthwt", "link_statistic", &[figures.link_check.as_ref().map(|test| test.statistic)]);
    assert_eq!((&figures.goodness_of_fit, &figures.dispersion), (&None, &None));
    for code in ["no_goodness_of_fit", "grouping"] {
        assert!(has_note(&answer.notes, code), "{code}");
    }
    assert!(
        answer.words().contains("Observed rates agree with the expected ones in 10 groups (P = 0.21)."),
        "{}",
        answer.sentence
    );
}

#[test]
fn ties_stay_together() {
    // by hand: four combinations of 240 cuttings each; the middles 120, 360, 600, 840 of 960 fall into groups 1, 3, 6 and 8
    let figures = checked(&fit(&plum(), &["planting", "length"], TrayMode::Ignore)).numbers;
    assert_eq!(figures.calibration.iter().map(|group| group.stuck).collect::<Vec<_>>(), [240; 4]);
    assert_eq!(figures.hosmer_lemeshow, None);
    // all cuttings have one expected rate: one group
    let data = units(UnitKind::Tray, vec![3, 4, 5, 6], vec![9; 4], vec![factor("strength", &["a", "b", "a", "b"])]);
    let even = checked(&fit(&data, &["strength"], TrayMode::Dispersion)).numbers;
    assert_eq!(even.calibration.iter().map(|group| group.n_units).collect::<Vec<_>>(), [2, 2]);
}

#[test]
fn refits_are_fits_without_the_tray() {
    // A second route: the model fitted to a trial that never held the tray, asked for the rates by `predict`.
    for mode in [TrayMode::Dispersion, TrayMode::BetaBinomial, TrayMode::Random, TrayMode::Ignore] {
        let data = crowder();
        let model = fit(&data, &["seed", "extract"], mode);
        let figures = checked(&model).numbers;
        let rows = NewRows::from_csv(
            b"seed,extract\nO_aegyptiaca_73,bean\nO_aegyptiaca_73,cucumber\nO_aegyptiaca_75,bean\nO_aegyptiaca_75,cucumber\n",
        )
        .unwrap();
        let rates = |model: &Model| -> Vec<f64> {
            let found = model.predict(&rows, &PredictOptions::default()).unwrap();
            found.numbers.rows.iter().map(|row| row.value.unwrap()).collect()
        };
        let whole = rates(&model);
        for left_out in [0, 7, 16] {
            let mut less = data.clone();
            less.rooted.remove(left_out);
            less.stuck.remove(left_out);
            for treatment in &mut less.treatments {
                treatment.codes.remove(left_out);
            }
            let without = rates(&fit(&less, &["seed", "extract"], mode));
            let largest = whole.iter().zip(&without).map(|(old, new)| (new - old).abs()).fold(0.0, f64::max);
            assert_rel!(figures.trays[left_out].refit_change.unwrap().abs(), largest, 1e-6);
        }
    }
}

#[test]
fn one_step_comes_near_the_refit() {
    let figures = checked(&fit(&crowder(), &["seed", "extract"], TrayMode::Dispersion)).numbers;
    for tray in &figures.trays {
        let (step, refit) = (tray.one_step_change.unwrap(), tray.refit_change.unwrap());
        assert!(
            abs_diff_eq!(step, refit, epsilon = 0.12 * refit.abs() + 0.0002),
            "{}: {step} against {refit}",
            tray.tray
        );
    }
}

#[test]
fn probabilities_are_those_of_the_law() {
    // Second routes: sums of the probabilities of all counts as far out, by the distributions' own functions.
    let sides = |pmf: &dyn Fn(f64) -> f64, y: u64, m: u64| {
        let sum = |range: std::ops::RangeInclusive<u64>| range.map(|k| pmf(k as f64)).sum::<f64>();
        (2.0 * sum(0..=y).min(sum(y..=m))).min(1.0)
    };
    let beta = fit(&crowder(), &["seed", "extract"], TrayMode::BetaBinomial);
    let rho = beta.spread[0].value;
    for tray in checked(&beta).numbers.trays {
        let (m, p) = (tray.stuck as f64, tray.expected / tray.stuck as f64);
        let want = sides(&|k| beta_binomial::ln_pmf(k, m, p, rho).exp(), tray.rooted, tray.stuck);
        assert_rel!(tray.p, want, 1e-10);
    }
    let quasi = fit(&crowder(), &["seed", "extract"], TrayMode::Dispersion);
    let dispersion = quasi.strata.tray.dispersion;
    for tray in checked(&quasi).numbers.trays {
        let (m, p) = (tray.stuck as f64, tray.expected / tray.stuck as f64);
        // the beta-binomial law with `dispersion` times the binomial variance
        let rho = (dispersion - 1.0) / (m - 1.0);
        let want = sides(&|k| beta_binomial::ln_pmf(k, m, p, rho).exp(), tray.rooted, tray.stuck);
        assert_rel!(tray.p, want, 1e-10);
    }
    let random = fit(&crowder(), &["seed", "extract"], TrayMode::Random);
    let s = random.spread[0].value;
    for (tray, eta) in checked(&random).numbers.trays.iter().zip(etas(&random)) {
        let m = tray.stuck as f64;
        // a plain sum over many equal steps
        let mixed = |k: f64| -> f64 {
            let node = |i: i32| {
                let z = f64::from(i) * 0.004;
                0.004 * (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
                    * binomial::pmf(k, m, Link::Logit.at(eta + s * z).mean)
            };
            (-2500..=2500).map(node).sum()
        };
        assert_rel!(tray.p, sides(&mixed, tray.rooted, tray.stuck), 1e-9);
    }
}

/// Linear predictors of the plates by the coefficients' names.
fn etas(model: &Model) -> Vec<f64> {
    let value = |name: &str| model.coefficient(name).map_or(0.0, |coefficient| coefficient.value);
    let of = |unit: usize| {
        let parts = ["seed", "extract"]
            .map(|name| value(&format!("{name} {}", model.units.factor(name).unwrap().label(unit).unwrap())));
        value("intercept") + parts[0] + parts[1]
    };
    (0..model.units.len()).map(of).collect()
}

/// Quantile residuals of a drawn trial of two treatments with 40 trays each, as probabilities.
fn drawn(seed: u64, mode: TrayMode) -> Vec<f64> {
    let mut random = stream(seed, 0);
    let levels: Vec<&str> = (0..80).map(|tray| if tray % 2 == 0 { "a" } else { "b" }).collect();
    let stuck: Vec<u64> = (0..80).map(|tray| [5, 12, 25][tray % 3]).collect();
    let draw = |(tray, m): (usize, &u64)| {
        let rate = if tray % 2 == 0 { 0.25 } else { 0.6 };
        match mode {
            TrayMode::Ignore => rng::binomial(&mut random, *m, rate),
            TrayMode::Random => {
                let eta = (rate / (1.0 - rate)).ln() + 0.8 * rng::deviate(&mut random);
                rng::binomial(&mut random, *m, Link::Logit.at(eta).mean)
            }
            _ => rng::beta_binomial(&mut random, *m, rate, 0.1),
        }
    };
    let rooted: Vec<u64> = stuck.iter().enumerate().map(draw).collect();
    let data = units(UnitKind::Tray, rooted, stuck, vec![factor("strength", &levels)]);
    let model = fit(&data, &["strength"], mode);
    let options = CheckOptions { seed, refit: Some(false), ..CheckOptions::default() };
    let found = model.checks(&options, &Control::new()).unwrap().numbers;
    found.trays.iter().map(|tray| normal::cdf(tray.quantile_residual)).collect()
}

#[test]
fn quantile_residuals_of_a_true_model_are_even() {
    // 60 trials of 80 trays in twenty cells of 240: chi-square on 19 degrees of freedom passes 49 once in 5,000 times (R 4.2.2,
    // qchisq(1 - 1/5000, 19) = 48.5). The two or three estimates from 80 trays make the residuals a trifle too alike.
    for mode in [TrayMode::Ignore, TrayMode::BetaBinomial, TrayMode::Random] {
        let mut cells = [0.0_f64; 20];
        for seed in 0..60 {
            for p in drawn(seed, mode) {
                cells[((20.0 * p) as usize).min(19)] += 1.0;
            }
        }
        let statistic: f64 = cells.iter().map(|n| (n - 240.0).powi(2) / 240.0).sum();
        assert!(statistic < 48.5, "{mode:?}: {statistic} {cells:?}");
    }
}

#[test]
fn seeds_decide_the_residuals() {
    let model = fit(&crowder(), &["seed", "extract"], TrayMode::Dispersion);
    let of = |seed| {
        let options = CheckOptions { seed, ..CheckOptions::default() };
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let found = one.install(|| model.checks(&options, &Control::new()).unwrap());
        assert_eq!(found, model.checks(&options, &Control::new()).unwrap());
        found.numbers.trays.iter().map(|tray| tray.quantile_residual).collect::<Vec<_>>()
    };
    assert_ne!(of(1), of(2));
}

#[test]
fn a_tray_far_out_is_named() {
    let levels = ["0", "0", "0", "0", "0", "0", "5000", "5000", "5000", "5000", "5000", "5000"];
    let mut data = units(
        UnitKind::Tray,
        vec![5, 6, 4, 5, 6, 4, 30, 31, 2, 29, 30, 31],
        vec![40; 12],
        vec![factor("strength", &levels)],
    );
    let names: Vec<String> = (1..=12).map(|tray| format!("T{tray:02}")).collect();
    data.tray = Some(factor("tray", &names));
    let answer = checked(&fit(&data, &["strength"], TrayMode::Ignore));
    assert!(
        answer
            .words()
            .contains("Tray T09 of strength 5000 rooted far less than expected: 2 of 40, 25.5 expected (P < 0.001"),
        "{}",
        answer.sentence
    );
    assert!(
        answer.words().contains("Leaving out tray T09 would move the rate of strength 5000 by +"),
        "{}",
        answer.sentence
    );
    assert!(has_note(&answer.notes, "outlying_counts"));
    let even = checked(&fit(&crowder(), &["seed", "extract"], TrayMode::Dispersion));
    assert!(
        even.words().contains("No tray lies farther from its expectation than chance explains."),
        "{}",
        even.sentence
    );
}

#[test]
fn a_wrong_link_is_seen() {
    // Rates that follow the complementary log-log line exactly, in 2,000 cuttings per tray: the logit bends, its own link does not.
    let z: Vec<f64> = (0..12).map(|tray| -2.5 + 0.3 * f64::from(tray)).collect();
    let rooted = z.iter().map(|z| (2000.0 * (1.0 - (-(z + 0.4).exp()).exp())).round() as u64).collect();
    let mut data = units(UnitKind::Tray, rooted, vec![2000; 12], vec![]);
    data.covariates = vec![Covariate { name: "length".into(), values: z }];
    let of = |link| {
        let model = Model::fit(&data, &ModelSpec { link, trays: TrayMode::Ignore, ..spec(&["length"], &[]) }).unwrap();
        checked(&model).numbers.link_check.unwrap().p
    };
    assert!(
        of(Link::Logit) < 1e-6 && of(Link::ComplementaryLogLog) > 0.5,
        "{} {}",
        of(Link::Logit),
        of(Link::ComplementaryLogLog)
    );
}

#[test]
fn counts_that_set_their_own_estimate() {
    let strength = factor("strength", &["0", "0", "2500", "2500", "5000"]);
    let data = units(UnitKind::Tray, vec![3, 5, 12, 11, 9], vec![20; 5], vec![strength]);
    let answer = checked(&fit(&data, &["strength"], TrayMode::Dispersion));
    let last = &answer.numbers.trays[4];
    assert_rel!(last.leverage, 1.0, 1e-12);
    assert_eq!(
        (last.distance, last.standardised_residual, last.one_step_change, last.refit_change),
        (None, None, None, None)
    );
    assert!(has_note(&answer.notes, "sets_its_own_estimate"));
    let saturated = checked(&fit(&plum(), &["planting", "length"], TrayMode::Ignore));
    assert_eq!(saturated.numbers.goodness_of_fit.as_ref().map(|fit| fit.df), Some(1.0));
    let full = Model::fit(&plum(), &spec(&["planting", "length"], &[&["planting", "length"]])).unwrap();
    let full = checked(&full);
    assert_eq!((&full.numbers.goodness_of_fit, &full.numbers.link_check), (&None, &None));
    assert!(has_note(&full.notes, "no_goodness_of_fit"));
}

#[test]
fn separated_and_penalised_models_are_checked() {
    for model in [
        Model::fit(&full_arm(), &spec(&["strength"], &[])).unwrap(),
        Model::fit(&endometrial(), &spec(&["NV", "PI", "EH"], &[])).unwrap(),
    ] {
        let answer = checked(&model);
        assert!(answer.numbers.trays.iter().all(|tray| tray.quantile_residual.is_finite() && tray.leverage < 1.0));
        assert!(answer.table.columns.len() > 10);
    }
}

#[test]
fn weights_count_as_trays_alike() {
    // A second route: a plate of weight 2 has twice the leverage of each of two plates alike.
    let mut twice = crowder();
    for column in [&mut twice.rooted, &mut twice.stuck] {
        column.push(column[3]);
    }
    for treatment in &mut twice.treatments {
        treatment.codes.push(treatment.codes[3]);
    }
    let mut data = crowder();
    let weight = (0..21).map(|i| if i == 3 { 2.0 } else { 1.0 }).collect();
    data.covariates = vec![Covariate { name: "weight".into(), values: weight }];
    let asked =
        ModelSpec { trays: TrayMode::Ignore, weights: Some("weight".to_owned()), ..spec(&["seed", "extract"], &[]) };
    let weighted = checked(&Model::fit(&data, &asked).unwrap()).numbers.trays;
    let plain = checked(&fit(&twice, &["seed", "extract"], TrayMode::Ignore)).numbers.trays;
    assert_rel!(weighted[3].leverage, plain[3].leverage + plain[21].leverage, 1e-9);
    assert_rel!(weighted[0].leverage, plain[0].leverage, 1e-9);
    assert_rel!(weighted[3].expected, plain[3].expected, 1e-9);
    assert_rel!(weighted[0].refit_change.unwrap(), plain[0].refit_change.unwrap(), 1e-6);
}

#[test]
fn whole_plots_and_random_bays_are_checked() {
    let data = bays(4);
    for mode in [TrayMode::Dispersion, TrayMode::Random, TrayMode::BetaBinomial] {
        let figures = checked(&fit(&data, &["dark", "strength"], mode)).numbers;
        assert_eq!(figures.trays.len(), 16);
        assert!(figures.trays.iter().all(|tray| tray.refit_change.is_some()));
    }
}

#[test]
fn stops_and_refusals() {
    let model = fit(&crowder(), &["seed", "extract"], TrayMode::Random);
    let control = Control::new();
    control.stop();
    let stopped = model.checks(&CheckOptions::default(), &control);
    assert_eq!(stopped.unwrap_err(), rootling::Error::Interrupted);
    let few = CheckOptions { groups: 2, ..CheckOptions::default() };
    let refused = model.checks(&few, &Control::new()).unwrap_err();
    assert_eq!(refused.to_string(), "groups 2 is outside 3 to 100");
}
