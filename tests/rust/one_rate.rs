//! One rate at 50 digits: intervals and tests of generated counts, one by one and in long lists.

use rootling::Count;
use rootling::control::Control;
use rootling::error::Error;
use rootling::rates::{
    IntervalMethod, Sides, TargetMethod, against_target, against_target_many, bound, interval, interval_many,
};
use serde_json::Value;

use crate::support::number;

fn cases() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../reference/values/one_rate.json")).unwrap();
    all["cases"].as_array().unwrap().clone()
}

fn count(case: &Value) -> Count {
    Count { rooted: case["rooted"].as_u64().unwrap(), stuck: case["stuck"].as_u64().unwrap() }
}

/// The limits and, of rates near 1, their complements, which must keep their digits as far as a float next to 1 can.
fn limits_hold(got: [f64; 2], case: &Value, method: IntervalMethod, rel: f64) {
    let want = &case[method.name()];
    for (got, want) in got.into_iter().zip([number(&want[0]), number(&want[1])]) {
        let held = got == want || (got / want - 1.0).abs() <= rel;
        assert!(held, "{} of {:?} at {}: got {got:e}, want {want:e}", method.name(), count(case), case["level"]);
    }
}

#[test]
fn intervals_agree_with_fifty_digits() {
    // values/one_rate.json: mpmath at 50 digits, tests/reference/make/one_rate.py
    let mut compared = 0;
    for case in cases() {
        for (method, rel) in [
            (IntervalMethod::ClopperPearson, 1e-13),
            (IntervalMethod::Jeffreys, 1e-13),
            (IntervalMethod::MidP, 1e-12),
            (IntervalMethod::Likelihood, 1e-12),
            (IntervalMethod::Wilson, 1e-13),
        ] {
            let found = interval(count(&case), method, number(&case["level"])).unwrap();
            limits_hold([found.low, found.high], &case, method, rel);
        }
        compared += 1;
    }
    assert!(compared >= 120, "{compared}");
}

#[test]
fn long_lists_agree_with_fifty_digits() {
    // values/one_rate.json: mpmath at 50 digits, tests/reference/make/one_rate.py
    for case in cases() {
        // Counts below 10,000 repeat and are taken once; a few larger ones make the list one of many sizes.
        for filler in [5_u64, 40_000_000] {
            let one = count(&case);
            let list = |own: u64, filler: u64| -> Vec<u64> {
                std::iter::once(own).chain((0..10_000).map(|_| filler)).collect()
            };
            let (rooted, stuck) = (list(one.rooted, filler / 2), list(one.stuck, filler));
            for method in [IntervalMethod::ClopperPearson, IntervalMethod::Jeffreys] {
                let found =
                    interval_many(&rooted, &stuck, method, number(&case["level"]), Sides::Both, &Control::new())
                        .unwrap();
                limits_hold([found.low[0], found.high[0]], &case, method, 1e-13);
            }
        }
    }
}

#[test]
fn tabulated_limits_equal_those_made_one_by_one() {
    // two routes: the table of beta points against the solution for each count, at many levels and on either side
    let stuck: Vec<u64> = (0..12_000_u64).map(|at| 21 + at * at / 100 + 7 * at).collect();
    let rooted: Vec<u64> = stuck.iter().enumerate().map(|(at, stuck)| stuck * (at as u64 % 97) / 96).collect();
    for level in [0.0001, 0.05, 0.5, 0.8, 0.95, 0.999, 1.0 - 1e-9, 1.0 - 1e-15] {
        for sides in Sides::ALL {
            if sides != Sides::Both && level < 0.5 {
                continue;
            }
            for method in [IntervalMethod::ClopperPearson, IntervalMethod::Jeffreys] {
                let many = interval_many(&rooted, &stuck, method, level, sides, &Control::new()).unwrap();
                for at in (0..stuck.len()).step_by(61) {
                    let one = Count { rooted: rooted[at], stuck: stuck[at] };
                    let found = match sides {
                        Sides::Both => interval(one, method, level).unwrap(),
                        _ => bound(one, method, level, sides).unwrap(),
                    };
                    assert_rel!(many.low[at], found.low, 5e-14);
                    assert_rel!(many.high[at], found.high, 5e-14);
                }
            }
        }
    }
}

#[test]
fn limits_of_the_largest_counts_are_those_of_the_normal_law() {
    // definition: with 2^53 cuttings the limits are p -+ z sqrt(p q / n); the half count that the exact ones add is 1e-8 of that,
    // and a limit near 1/2 held to 5e-15 of itself is held to 2.5e-7 of it
    let (rooted, stuck) = (1_u64 << 52, 1_u64 << 53);
    let half = 1.959_963_984_540_054 * 0.5 / (stuck as f64).sqrt();
    for method in [IntervalMethod::ClopperPearson, IntervalMethod::Jeffreys, IntervalMethod::MidP] {
        let found = interval(Count { rooted, stuck }, method, 0.95).unwrap();
        assert_rel!(0.5 - found.low, half, 5e-7);
        assert_rel!(found.high - 0.5, half, 5e-7);
    }
    // definition: at its centre the binomial has P(X <= n / 2) = 1/2 + P(X = n / 2) / 2, and P(X = n / 2) = sqrt(2 / (pi n))
    let found = against_target(Count { rooted, stuck }, 0.5, TargetMethod::Doubled).unwrap();
    assert_rel!(found.p_lower, 0.5 + 0.5 * (2.0 / std::f64::consts::PI / stuck as f64).sqrt(), 1e-11);
}

#[test]
fn tests_agree_with_fifty_digits() {
    // values/one_rate.json: mpmath at 50 digits, tests/reference/make/one_rate.py
    let mut compared = 0;
    for case in cases() {
        for test in case["tests"].as_array().unwrap() {
            let target = number(&test["target"]);
            let of = |method| against_target(count(&case), target, method).unwrap();
            for (got, key) in [
                (of(TargetMethod::Exact).p, "exact"),
                (of(TargetMethod::Doubled).p, "doubled"),
                (of(TargetMethod::Blaker).p, "blaker"),
                (of(TargetMethod::MidP).p, "mid-p"),
                (of(TargetMethod::Exact).p_lower, "less"),
                (of(TargetMethod::Exact).p_higher, "greater"),
            ] {
                let want = number(&test[key]);
                let held = if want < 1e-300 { got < 1.1e-300 } else { (got / want - 1.0).abs() <= 1e-9 };
                assert!(held, "{key} of {:?} at {target}: got {got:e}, want {want:e}", count(&case));
                compared += 1;
            }
        }
    }
    assert!(compared >= 1000, "{compared}");
}

#[test]
fn a_stop_ends_long_lists() {
    let control = Control::new();
    control.stop();
    let (rooted, stuck, targets) = (vec![3; 20_000], vec![9; 20_000], vec![0.5; 20_000]);
    let many = interval_many(&rooted, &stuck, IntervalMethod::Blaker, 0.95, Sides::Both, &control);
    assert_eq!(many.unwrap_err(), Error::Interrupted);
    let many = against_target_many(&rooted, &stuck, &targets, TargetMethod::Exact, &control);
    assert_eq!(many.unwrap_err(), Error::Interrupted);
}
