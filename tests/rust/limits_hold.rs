//! Every interval of plain counts holds its estimate, at any level and for counts of none and of all.

use proptest::prelude::*;
use rootling::Count;
use rootling::counts::{DifferenceMethod, OddsRatioMethod, RatioMethod, difference, odds_ratio, ratio};
use rootling::counts::{PairedMethod, paired};
use rootling::rates::{IntervalMethod, interval};

/// Sizes of which the exact methods are quick; none, all and both ends are drawn as often as what lies between.
fn some_count() -> impl Strategy<Value = Count> {
    (1_u64..60).prop_flat_map(|stuck| {
        let rooted = prop_oneof![Just(0), Just(stuck), Just(1.min(stuck)), Just(stuck - 1), 0..=stuck];
        rooted.prop_map(move |rooted| Count { rooted, stuck })
    })
}

fn some_level() -> impl Strategy<Value = f64> {
    prop_oneof![Just(0.1), Just(0.5), Just(0.95), Just(0.9999), 0.1_f64..0.9999]
}

fn holds(value: f64, low: f64, high: f64) -> bool {
    low <= value && value <= high
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn of_one_rate(count in some_count(), level in some_level()) {
        for method in IntervalMethod::ALL {
            let found = interval(count, method, level).unwrap();
            prop_assert!(holds(found.value, found.low, found.high), "{found:?}");
        }
    }

    #[test]
    fn of_two_rates(first in some_count(), second in some_count(), level in some_level()) {
        for method in DifferenceMethod::ALL {
            let found = difference(first, second, method, level).unwrap();
            prop_assert!(holds(found.value, found.low, found.high), "{found:?}");
        }
        for method in RatioMethod::ALL {
            // The log interval is refused where a group has none rooted.
            let Ok(found) = ratio(first, second, method, level) else { continue };
            prop_assert!(found.value.is_none_or(|value| holds(value, found.low, found.high)), "{found:?}");
        }
        for method in OddsRatioMethod::ALL {
            let Ok(found) = odds_ratio(first, second, method, level) else { continue };
            prop_assert!(found.value.is_none_or(|value| holds(value, found.low, found.high)), "{found:?}");
        }
    }

    #[test]
    fn of_pairs(cells in prop::array::uniform4(0_u64..30), level in some_level()) {
        let [a, b, c, d] = cells;
        prop_assume!(a + b + c + d > 0);
        for method in PairedMethod::ALL {
            let found = paired([[a, b], [c, d]], method, level).unwrap().numbers;
            prop_assert!(holds(found.value, found.low, found.high), "{found:?}");
            let odds = found.odds_ratio.is_none_or(|value| holds(value, found.odds_ratio_low, found.odds_ratio_high));
            prop_assert!(odds, "{found:?}");
        }
    }
}

/// What brought it up: 0 of 605 against 462 of 462, whose interval by Agresti and Caffo at 50 % ended below the difference of 1.
#[test]
fn none_against_all_at_half() {
    let (none, all) = (Count { rooted: 0, stuck: 605 }, Count { rooted: 462, stuck: 462 });
    for level in [0.1, 0.5, 0.9, 0.9999] {
        let found = difference(none, all, DifferenceMethod::AgrestiCaffo, level).unwrap();
        assert!(holds(1.0, found.low, found.high), "{found:?}");
    }
}
