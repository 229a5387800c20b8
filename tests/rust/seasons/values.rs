//! Averages, variances between and tests of differences that are given as numbers, against other routes.

use rootling::control::Control;
use rootling::seasons::{
    Measured, average_as_one, average_of_these, average_over, drawn, paule_mandel, q_profile, restricted_likelihood,
    scatter, season_test,
};
use serde_json::Value;

use crate::support::{number, within};

/// The cases of values/seasons.json (tests/reference/make/seasons.py: numpy, scipy and statsmodels).
fn cases() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../../reference/values/seasons.json")).unwrap();
    all["cases"].as_array().unwrap().clone()
}

fn list(case: &Value, name: &str) -> Vec<f64> {
    case[name].as_array().map(|all| all.iter().map(number).collect()).unwrap_or_default()
}

fn measured(case: &Value) -> Vec<Measured> {
    let df = list(case, "df");
    let each = list(case, "values").into_iter().zip(list(case, "variances")).enumerate();
    each.map(|(at, (value, variance))| Measured { value, variance, df: df.get(at).copied().unwrap_or(f64::INFINITY) })
        .collect()
}

#[test]
fn variances_between_are_those_of_other_routes() {
    for case in cases() {
        let (seasons, name) = (measured(&case), &case["name"]);
        assert_rel!(scatter(&seasons, 0.0).0, number(&case["scatter"]), 1e-12, "{name}");
        let near = |got: f64, want: f64| assert!(within(got, want, 1e-9, 1e-15), "{name}: {got} {want}");
        near(paule_mandel(&seasons), number(&case["paule_mandel"]));
        near(restricted_likelihood(&seasons).unwrap(), number(&case["restricted"]));
        let (low, high) = q_profile(&seasons, 0.95);
        let profile = list(&case, "profile");
        near(low, profile[0]);
        near(high, profile[1]);
    }
}

#[test]
fn published_values() {
    let all = cases();
    // Values of the literature on these trials, from memory: by REML tau2 0.3132, average -0.7145, standard error 0.1798;
    // Q profiles (Viechtbauer 2007) 0.12 to 1.11, and 0.07 to 2.20 for the diuretics of Collins et al. 1985.
    let bcg = measured(&all[0]);
    let between = restricted_likelihood(&bcg).unwrap();
    assert!((between - 0.3132).abs() < 5e-5);
    let weight = |one: &Measured| 1.0 / (one.variance + between);
    let total: f64 = bcg.iter().map(weight).sum();
    let average = bcg.iter().map(|one| weight(one) * one.value).sum::<f64>() / total;
    assert!((average + 0.7145).abs() < 5e-5 && (total.sqrt().recip() - 0.1798).abs() < 5e-5);
    let (low, high) = q_profile(&bcg, 0.95);
    assert!((low - 0.12).abs() < 0.005 && (high - 1.11).abs() < 0.005);
    let (low, high) = q_profile(&measured(&all[1]), 0.95);
    assert!((low - 0.07).abs() < 0.005 && (high - 2.20).abs() < 0.005);
}

#[test]
fn averages_have_the_limits_of_hartung_and_knapp_unless_seasons_alone_are_wider() {
    for case in cases() {
        let (seasons, name) = (measured(&case), &case["name"]);
        let found = average_over(&seasons, 0.95);
        assert!(within(found.value, number(&case["average"]), 1e-10, 1e-15), "{name}");
        let plain = list(&case, "hartung_knapp");
        let as_one = average_as_one(&seasons, 0.95);
        let wanted = (plain[1] - plain[0]).max(as_one.high - as_one.low);
        assert_rel!(found.high - found.low, wanted, 1e-10, "{name}");
    }
}

#[test]
fn the_test_of_seasons_is_welchs() {
    for case in cases().iter().filter(|case| !case["df"].is_null()) {
        let found = season_test(&measured(case));
        assert_rel!(found.statistic, number(&case["f"]), 1e-10, "{}", case["name"]);
        assert_rel!(found.error_df, number(&case["error_df"]), 1e-10, "{}", case["name"]);
        assert_rel!(found.p, number(&case["p"]), 1e-9, "{}", case["name"]);
    }
}

#[test]
fn a_new_season_is_what_other_draws_give() {
    for case in cases().iter().filter(|case| !case["df"].is_null()) {
        let seasons = measured(case);
        let found = drawn(&seasons, 100_000, 3, &Control::new()).unwrap();
        let (low, high) = found.limits(0.95).unwrap();
        let wanted = list(case, "ahead");
        // A million plain draws there, a hundred thousand laws here: a hundredth of the width is four standard errors and more.
        let near = 0.01 * (wanted[1] - wanted[0]);
        assert!((low - wanted[0]).abs() < near && (high - wanted[1]).abs() < near, "{}: {low} {high}", case["name"]);
    }
}

#[test]
fn known_variances_give_the_q_profile_itself() {
    let bcg = measured(&cases()[0]);
    let found = drawn(&bcg, 1000, 1, &Control::new()).unwrap();
    let (low, high) = found.spread_squared_limits(&bcg, 0.95).unwrap();
    let (wanted_low, wanted_high) = q_profile(&bcg, 0.95);
    assert_rel!(low, wanted_low, 1e-8);
    assert_rel!(high, wanted_high, 1e-8);
}

#[test]
fn draws_do_not_depend_on_threads_and_can_be_stopped() {
    let bcg = measured(&cases()[0]);
    let ask = || drawn(&bcg, 2000, 9, &Control::new()).unwrap().limits(0.95).unwrap();
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(ask);
    assert_eq!(one, ask());
    let control = Control::new();
    control.stop();
    assert_eq!(drawn(&bcg, 2000, 9, &control).unwrap_err(), rootling::Error::Interrupted);
}

#[test]
fn a_season_far_off_is_told_apart_from_the_others() {
    let season = |value: f64| Measured { value, variance: 0.0004, df: 12.0 };
    let seasons = [0.10, 0.12, 0.09, 0.11, 0.13, 0.45].map(season);
    let p = drawn(&seasons, 4000, 1, &Control::new()).unwrap().apart(&seasons);
    let least = p.iter().copied().fold(1.0, f64::min);
    assert!(p[5] == least && 6.0 * least < 0.05, "{p:?}");
    assert!(p[..5].iter().all(|p| *p > 0.2), "{p:?}");
}

#[test]
fn two_seasons_are_welchs_mean_of_two() {
    let seasons =
        [Measured { value: 0.10, variance: 0.0016, df: 8.0 }, Measured { value: 0.30, variance: 0.0064, df: 6.0 }];
    let found = average_of_these(&seasons, 0.95);
    assert_rel!(found.value, 0.2, 1e-12);
    assert_rel!(found.se, 0.5 * 0.008_f64.sqrt(), 1e-12);
    // (0.0016 + 0.0064)^2 / (0.0016^2 / 8 + 0.0064^2 / 6).
    assert_rel!(found.df, 0.008 * 0.008 / (0.0016 * 0.0016 / 8.0 + 0.0064 * 0.0064 / 6.0), 1e-12);
    assert_rel!(season_test(&seasons).statistic, 0.04 / 0.008, 1e-12);
    assert_rel!(season_test(&seasons).error_df, found.df, 1e-12);
}
