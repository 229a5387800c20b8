//! Gains are those of the rates and differences that the other verbs tell.

use rootling::decide::{ChooseOptions, choose};
use rootling::prelude::*;

use super::chosen::{asked, bays, benches, few, trial};

/// Money over take where a cutting costs nothing that parts levels: gains are takes.
fn as_takes() -> ChooseOptions {
    ChooseOptions { draws: 40_000, ..ChooseOptions::of(1.0, 1.0, 0.0) }
}

fn compared(trial: &Trial, first: &str, second: &str) -> rootling::compare::Comparison {
    trial.compare("strength", (first, second), &CompareOptions::default(), &Control::new()).unwrap().numbers
}

#[test]
fn limits_of_a_level_are_those_of_its_take() {
    for trial in [trial(), few(), benches(), bays()] {
        for confidence in [0.8, 0.95, 0.99] {
            let options = TakeRatesOptions { confidence, ..TakeRatesOptions::default() };
            let rates = trial.take_rates(&["strength"], &options).unwrap().numbers.rates;
            let found = choose(&trial, "strength", &ChooseOptions { confidence, ..as_takes() }, &Control::new())
                .unwrap()
                .numbers;
            for (level, rate) in found.levels.iter().zip(&rates) {
                assert_eq!((level.rooted, level.stuck), (rate.rooted, rate.stuck));
                assert_rel!(level.take, rate.value, 1e-14);
                // Quantiles of 40,000 points lie between two of them.
                assert!((level.low - rate.low).abs() < 5e-4, "{} of {}", level.low, rate.low);
                assert!((level.high - rate.high).abs() < 5e-4, "{} of {}", level.high, rate.high);
            }
        }
    }
}

#[test]
fn gains_are_takes_times_price_less_costs() {
    let plain = choose(&trial(), "strength", &as_takes(), &Control::new()).unwrap().numbers;
    let options = ChooseOptions { draws: 40_000, ..asked() };
    let found = choose(&trial(), "strength", &options, &Control::new()).unwrap().numbers;
    for (level, take) in found.levels.iter().zip(&plain.levels) {
        // 20,000 cuttings, 3.00 a tree of which 0.8 come to sale, 0.40 and a twentieth of 1.00 for each cutting, 0.02 more at 5000.
        let cost = 0.45 + if level.level == "5000" { 0.02 } else { 0.0 };
        assert_rel!(level.cost, cost, 1e-12);
        let gain = |take: f64| 20_000.0 * (3.0 * 0.8 * take - cost);
        for (money, take) in [(level.value, take.value), (level.low, take.low), (level.high, take.high)] {
            assert!((money - gain(take)).abs() < 1e-6 * money.abs().max(1.0), "{money} of {}", gain(take));
        }
        assert_rel!(level.trees, 20_000.0 * 0.8 * level.take_expected, 1e-12);
    }
}

/// The chance and the limits of the difference of two levels beside those of the comparison: they are drawn from both takes, where the comparison
/// has a score of its own, so they agree closely and not to the digit.
#[test]
fn two_levels_agree_with_their_comparison() {
    for (name, trial, within) in
        [("trays", trial(), 0.012), ("few trays", few(), 0.02), ("benches", benches(), 0.015), ("bays", bays(), 0.03)]
    {
        let found = choose(&trial, "strength", &as_takes(), &Control::new()).unwrap().numbers;
        let told = compared(&trial, &found.runner_up, &found.best);
        let (low, high) = (told.low.unwrap(), told.high.unwrap());
        assert!((found.low - low).abs() < within, "{name}: {} of {low}", found.low);
        assert!((found.high - high).abs() < within, "{name}: {} of {high}", found.high);
        let p = told.p.unwrap();
        let one = found.levels.iter().find(|level| level.level == found.best).unwrap();
        if found.levels.len() == 2 {
            assert!((1.0 - one.chance_best - p / 2.0).abs() < 0.01, "{name}: {} of {}", 1.0 - one.chance_best, p / 2.0);
        }
        let beside = found.compared.unwrap();
        assert_eq!((beside.low, beside.high), (low, high));
    }
}

#[test]
fn what_all_levels_share_falls_out_of_their_difference() {
    let found = choose(&benches(), "strength", &as_takes(), &Control::new()).unwrap().numbers;
    let width = |low: f64, high: f64| high - low;
    let levels: Vec<f64> = found.levels.iter().map(|level| width(level.low, level.high)).collect();
    // Benches differ by far more than trays: the limits of takes are wide, those of the difference are not.
    assert!(width(found.low, found.high) < 0.75 * levels[0].hypot(levels[1]), "{found:?}");
}
