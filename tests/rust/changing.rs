//! What holds on one scale alone, limits under robust covariances, values beyond what was tried.

use approx::abs_diff_eq;
use std::collections::BTreeMap;

use rootling::control::Control;
use rootling::effects::{ContrastOptions, LetterOptions, Pattern, RateOptions, Scale};
use rootling::math::distributions::student_t;
use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::prediction::PredictOptions;
use rootling::trial::{Covariate, NewRows, UnitKind, Units};
use serde_json::Value;

use crate::contrasts::{ask, on, options};
use crate::models::{factor, has_note, spec, trays, units};

/// Three strengths and two rootstocks in four trays each, their log odds nearly additive.
fn two_by_three() -> Units {
    let cell = |at: usize| (["0", "2500", "5000"][at / 4 % 3], ["K12", "K17"][at / 12]);
    let strength: Vec<&str> = (0..24).map(|at| cell(at).0).collect();
    let stock: Vec<&str> = (0..24).map(|at| cell(at).1).collect();
    let rooted = vec![2, 1, 3, 2, 6, 5, 8, 7, 11, 9, 12, 10, 9, 7, 10, 8, 15, 13, 16, 14, 18, 17, 16, 19];
    units(UnitKind::Tray, rooted, vec![20; 24], vec![factor("strength", &strength), factor("rootstock", &stock)])
}

#[test]
fn changes_need_their_interaction() {
    let changing = || ContrastOptions { changing_with: Some("rootstock".into()), ..options() };
    let additive = Model::fit(&two_by_three(), &spec(&["strength", "rootstock"], &[])).unwrap();
    let refused = additive.contrasts("strength", &changing(), &Control::new()).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "this model does not let strength act differently by rootstock, so nothing in it can say how its differences change with \
         rootstock; ask a model that does: interactions=[(\"strength\", \"rootstock\")]"
    );
    let model = Model::fit(&two_by_three(), &spec(&["strength", "rootstock"], &[&["strength", "rootstock"]])).unwrap();
    let interaction = model.what_matters(None).unwrap().numbers.effects[2].clone();
    let found = ask(&model, "strength", &ContrastOptions { scale: Scale::Odds, ..changing() });
    // Where log odds add up, no change on their scale stands out when their joint test does not.
    assert!(interaction.p.unwrap() > 0.2);
    assert!(found.numbers.contrasts.iter().all(|row| row.p_adjusted.unwrap() > 0.1));
    assert!(has_note(&found.notes, "depends_on_scale"));
    let points = ask(&model, "strength", &changing()).numbers;
    // Differences of differences in points and of log odds are two questions.
    let apart = points.contrasts.iter().zip(&found.numbers.contrasts);
    assert!(apart.into_iter().any(|(a, b)| (a.p.unwrap() / b.p.unwrap() - 1.0).abs() > 0.05));
}

#[test]
fn two_rates_have_one_p_value_and_weighted_ones_have_not() {
    let model = Model::fit(&two_by_three(), &spec(&["strength", "rootstock"], &[])).unwrap();
    let p = |options: &ContrastOptions| ask(&model, "strength", options).numbers.contrasts[0].p.unwrap();
    for scale in [Scale::Ratio, Scale::Odds] {
        assert_rel!(p(&on(scale)), p(&options()), 1e-7);
        assert!(!has_note(&ask(&model, "strength", &on(scale)).notes, "depends_on_scale"));
    }
    // The highest against the mean of the two below.
    let weights = [("0", -0.5), ("2500", -0.5), ("5000", 1.0)].map(|(level, weight)| (level.to_owned(), weight));
    let kind = || Pattern::Weights(vec![("top".to_owned(), BTreeMap::from(weights.clone()))]);
    let line = |scale| ContrastOptions { pattern: kind(), ..on(scale) };
    assert!((p(&line(Scale::Odds)) / p(&line(Scale::Points)) - 1.0).abs() > 1e-4);
    assert!(has_note(&ask(&model, "strength", &line(Scale::Odds)).notes, "depends_on_scale"));
}

#[test]
fn odds_ratios_under_an_interaction_say_where_they_hold() {
    let model = Model::fit(&two_by_three(), &spec(&["strength", "rootstock"], &[&["strength", "rootstock"]])).unwrap();
    let found = model.odds_ratios(0.95).unwrap();
    let names: Vec<&str> = found.numbers.ratios.iter().map(|one| one.comparison.as_str()).collect();
    let want = [
        "strength 2500 against 0, at rootstock K12",
        "strength 5000 against 0, at rootstock K12",
        "rootstock K17 against K12, at strength 0",
        "strength 2500 against 0, times more with rootstock K17 against K12",
        "strength 5000 against 0, times more with rootstock K17 against K12",
    ];
    assert_eq!(names, want);
    // by hand, from the counts of K12 alone: 8 and 26 of 80 rooted
    assert_rel!(found.numbers.ratios[0].odds_ratio, (26.0 / 54.0) / (8.0 / 72.0), 1e-7);
    assert!(has_note(&found.notes, "odds_at_one_level"));
    assert!(found.methods.contains("where the other effect is at its reference (rootstock K12 and strength 0)"));
    // Without an interaction they hold at every level, and nothing is said.
    let plain = Model::fit(&two_by_three(), &spec(&["strength", "rootstock"], &[])).unwrap().odds_ratios(0.95).unwrap();
    assert_eq!(plain.numbers.ratios[0].comparison, "strength 2500 against 0");
    assert!(!has_note(&plain.notes, "odds_at_one_level"));
}

#[test]
fn averages_under_an_interaction_are_called_so_wherever_they_stand() {
    let model = Model::fit(&two_by_three(), &spec(&["strength", "rootstock"], &[&["strength", "rootstock"]])).unwrap();
    let caution = "main_effect_under_interaction";
    assert!(has_note(&model.adjusted_rates("strength", &RateOptions::default()).unwrap().notes, caution));
    assert!(!has_note(&model.adjusted_rates("strength", &RateOptions::within("rootstock")).unwrap().notes, caution));
    assert!(has_note(&ask(&model, "strength", &options()).notes, caution));
}

#[test]
fn limits_do_not_exclude_a_count_of_none_or_all() {
    // Effects that add up put the rates of K17 above 0 and below 100 %, where 0 of 80 and 80 of 80 were counted.
    let mut data = two_by_three();
    data.rooted = vec![0, 0, 0, 0, 6, 5, 8, 7, 20, 20, 20, 20, 0, 0, 0, 0, 15, 13, 16, 14, 20, 20, 20, 20];
    let model = Model::fit(&data, &spec(&["strength", "rootstock"], &[])).unwrap();
    let rates = model.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers.rates;
    let limits = |at: usize| (rates[at].low.unwrap(), rates[at].high.unwrap());
    assert!(limits(0).0 <= 0.0 && rates[0].value.unwrap() > 0.0 && limits(0).1 < 0.5);
    assert!(limits(1).0 > 0.0 && limits(1).1 < 1.0);
    assert!(limits(2).1 >= 1.0 && rates[2].value.unwrap() < 1.0 && limits(2).0 > 0.5);
    let rows = NewRows::from_csv(b"strength,rootstock\n0,K17\n2500,K17\n5000,K12\n").unwrap();
    let rows = model.predict(&rows, &PredictOptions::default()).unwrap().numbers.rows;
    assert!(rows[0].low.unwrap() <= 0.0 && rows[0].high.unwrap() < 1.0);
    assert!(rows[1].low.unwrap() > 0.0 && rows[1].high.unwrap() < 1.0);
    assert!(rows[2].low.unwrap() > 0.0 && rows[2].high.unwrap() >= 1.0);
}

#[test]
fn each_odds_ratio_says_what_it_does_with_the_others() {
    let model = Model::fit(&two_by_three(), &spec(&["strength", "rootstock"], &[])).unwrap();
    let held = model.odds_ratios(0.95).unwrap();
    let averaged = ask(&model, "strength", &ContrastOptions { against: Some("0".into()), ..on(Scale::Odds) });
    assert!(has_note(&held.notes, "conditional_odds") && has_note(&averaged.notes, "averaged_odds"));
    // Averaging over rootstocks draws the ratio towards 1 (Gail, Wieand and Piantadosi 1984).
    let (a, b) = (held.numbers.ratios[1].odds_ratio, averaged.numbers.contrasts[1].value.unwrap());
    assert!(a > 1.02 * b && b > 1.0, "{a} {b}");
    let says = |sheet: &rootling::Sheet, name: &str| {
        let column = sheet.columns.iter().find(|column| column.name == name).unwrap();
        serde_json::to_value(&column.values).unwrap()[0].as_str().unwrap().to_owned()
    };
    assert_eq!(says(&held.table, "other_effects"), "held");
    assert_eq!(says(&averaged.table, "other_effects"), "averaged over");
    assert_eq!((says(&held.table, "statistic_is"), says(&averaged.table, "statistic_is")), ("F".into(), "t".into()));
    // Within each rootstock nothing is averaged: the ratio is that of the model.
    let within = ContrastOptions { within: Some("rootstock".into()), ..on(Scale::Odds) };
    let within = ask(&model, "strength", &within);
    assert_rel!(within.numbers.contrasts[0].value.unwrap(), held.numbers.ratios[0].odds_ratio, 1e-8);
    assert_eq!(says(&within.table, "other_effects"), "held");
}

#[test]
fn robust_contrasts_have_limits() {
    let all: Value = serde_json::from_str(include_str!("../reference/values/robust_limits.json")).unwrap();
    let whole = |value: &Value| value.as_array().unwrap().iter().map(|x| x.as_u64().unwrap()).collect::<Vec<u64>>();
    for case in all["cases"].as_array().unwrap() {
        let level: Vec<String> = whole(&case["level"]).iter().map(u64::to_string).collect();
        let data =
            units(UnitKind::Tray, whole(&case["rooted"]), whole(&case["stuck"]), vec![factor("strength", &level)]);
        let model = Model::fit(&data, &ModelSpec { trays: TrayMode::Robust, ..spec(&["strength"], &[]) }).unwrap();
        for (at, wanted) in case["contrasts"].as_array().unwrap().iter().enumerate() {
            // Holm's P values come with Bonferroni's limits.
            let adjust = if at < 3 { "none" } else { "holm" };
            let found = ask(&model, "strength", &ContrastOptions { together: adjust.parse().unwrap(), ..options() });
            let row = &found.numbers.contrasts[at % 3];
            let number = |name: &str| wanted[name].as_f64().unwrap();
            // numpy 2.4.6 (CR2 by dense matrices) and scipy 1.17.1 (angles, then Brent), values/robust_limits.json
            assert_rel!(row.value.unwrap(), number("value"), 1e-9);
            assert_rel!(row.statistic.unwrap(), number("statistic"), 1e-7);
            assert_rel!(row.df.unwrap(), number("df"), 1e-7);
            assert_rel!(row.p.unwrap(), number("p"), 1e-6);
            // rates, so limits are held absolutely: the fit ends at 1e-9 of them
            assert!(abs_diff_eq!(row.low.unwrap(), number("low"), epsilon = 1e-7), "{row:?} {wanted}");
            assert!(abs_diff_eq!(row.high.unwrap(), number("high"), epsilon = 1e-7), "{row:?} {wanted}");
            assert!(row.not_ruled_out.unwrap() < 1.0 && row.why.is_none());
        }
    }
}

#[test]
fn limits_by_distance_agree_with_their_p_value() {
    for seed in 0..40_u64 {
        let rooted: Vec<u64> = (0..16).map(|at| 3 + (at * 7 + seed * (at + 3) * 5) % 15).collect();
        let level: Vec<&str> = (0..16).map(|at| ["0", "1000", "2500", "5000"][at / 4]).collect();
        let stock: Vec<&str> = (0..16).map(|at| ["K12", "K17"][at % 2]).collect();
        let data =
            units(UnitKind::Tray, rooted, vec![20; 16], vec![factor("strength", &level), factor("rootstock", &stock)]);
        let model = Model::fit(&data, &ModelSpec { trays: TrayMode::Robust, ..spec(&["strength", "rootstock"], &[]) });
        for row in ask(&model.unwrap(), "strength", &ContrastOptions { together: "none".parse().unwrap(), ..options() })
            .numbers
            .contrasts
        {
            let (low, value, high) = (row.low.unwrap(), row.value.unwrap(), row.high.unwrap());
            assert!(-1.0 <= low && low < value && value < high && high <= 1.0, "{row:?}");
            assert_eq!(row.p.unwrap() < 0.05, low > 0.0 || high < 0.0, "{row:?}");
            // t of the critical value and of the statistic are on the same degrees of freedom
            assert_rel!(row.p.unwrap(), student_t::two_sided(row.statistic.unwrap(), row.df.unwrap()), 1e-9);
        }
    }
}

#[test]
fn trays_that_are_all_alike_are_said_so() {
    let strength = factor("strength", &["0", "0", "0", "2500", "2500", "2500", "5000", "5000", "5000"]);
    let data = units(UnitKind::Tray, vec![4, 4, 4, 12, 12, 12, 15, 18, 17], vec![20; 9], vec![strength]);
    let model = Model::fit(&data, &ModelSpec { trays: TrayMode::Robust, ..spec(&["strength"], &[]) }).unwrap();
    let found = ask(&model, "strength", &options());
    let rows = &found.numbers.contrasts;
    assert_rel!(rows[0].value.unwrap(), 0.4, 1e-9);
    assert!(rows[0].p.is_none() && rows[0].low.is_none());
    assert!(rows[0].why.as_deref().unwrap().contains("alike to the last cutting"));
    assert!(rows[1].p.is_some() && rows[1].high.is_some());
    assert!(has_note(&found.notes, "not_available"));
    assert_eq!(found.numbers.n_tests, 2);
}

#[test]
fn ratios_without_a_bound_are_infinite() {
    // Nothing rooted without hormone: any ratio above some bound is possible.
    let strength = factor("strength", &["0", "0", "0", "0", "2500", "2500", "2500", "2500"]);
    let data = units(UnitKind::Tray, vec![0, 0, 0, 0, 9, 12, 8, 11], vec![20; 8], vec![strength]);
    let model = Model::fit(&data, &spec(&["strength"], &[])).unwrap();
    for scale in [Scale::Ratio, Scale::Odds] {
        let found = ask(&model, "strength", &on(scale));
        let row = &found.numbers.contrasts[0];
        assert!(row.low.unwrap() > 1.0 && row.high == Some(f64::INFINITY), "{row:?}");
        assert_eq!((row.not_ruled_out, &row.why), (Some(f64::INFINITY), &None));
        assert!(has_note(&found.notes, "one_sided_bound") && found.words().contains("at least"), "{}", found.words());
    }
    let ratio = &model.odds_ratios(0.95).unwrap().numbers.ratios[0];
    assert!(ratio.low.unwrap() > 1.0 && ratio.high == Some(f64::INFINITY) && ratio.why.is_none(), "{ratio:?}");
}

#[test]
fn far_outside_what_was_tried_nothing_is_known() {
    let mut data = trays();
    // Not a combination of blocks and strengths.
    let values = (0..data.len()).map(|at| 10.0 + (at * 7 % 11) as f64).collect();
    data.covariates = vec![Covariate { name: "dark_days".into(), values }];
    let model = Model::fit(&data, &spec(&["strength", "dark_days"], &[])).unwrap();
    let at = |value: &str| BTreeMap::from([("dark_days".to_owned(), value.to_owned())]);
    for (value, outside) in [("15", false), ("400", true), ("1e6", true), ("-1e6", true), ("1e9", true)] {
        let rates = model.adjusted_rates("strength", &RateOptions { at: at(value), ..RateOptions::default() }).unwrap();
        let compared = ask(&model, "strength", &ContrastOptions { at: at(value), ..options() });
        let lettered =
            model.letters("strength", &LetterOptions { at: at(value), ..LetterOptions::default() }, &Control::new());
        for notes in [&rates.notes, &compared.notes, &lettered.unwrap().notes] {
            assert_eq!(has_note(notes, "outside_tested_range"), outside, "{value}");
        }
        for rate in &rates.numbers.rates {
            let (low, high) = (rate.low.unwrap(), rate.high.unwrap());
            assert!(low <= rate.value.unwrap() && rate.value.unwrap() <= high, "{value}: {rate:?}");
            assert!(rate.se.is_none_or(f64::is_finite));
        }
        for row in &compared.numbers.contrasts {
            assert!([row.value, row.low, row.high, row.se].iter().flatten().all(|x| x.is_finite()));
        }
    }
}
