//! Two rates: differences, ratios, odds ratios and tests against published and computed values, with shared properties.

use approx::abs_diff_eq;
use proptest::prelude::*;
use rootling::Count;
use rootling::counts::{
    DifferenceMethod, OddsRatioMethod, RatioMethod, difference, likelihood_ratio_test, newcombe_effective, odds_ratio,
    ratio, score_effective, score_test,
};
use rootling::error::Error;

use crate::support::{check, check_list, entry, number};

type Four = (u64, u64, u64, u64);

const PAIRS: [Four; 16] = [
    (56, 70, 48, 80),
    (9, 10, 3, 10),
    (6, 7, 2, 7),
    (5, 56, 0, 29),
    (0, 10, 0, 20),
    (0, 10, 0, 10),
    (10, 10, 0, 20),
    (10, 10, 0, 10),
    (7, 34, 1, 34),
    (20, 20, 14, 20),
    (156, 240, 84, 240),
    (107, 240, 31, 240),
    (12, 25, 19, 25),
    (1, 1, 0, 1),
    (0, 45, 3, 45),
    (34, 45, 14, 45),
];

/// First and second group of p1 - p2 and p1 / p2: ours are second minus first, so the groups of the references enter exchanged.
fn groups((x1, n1, x2, n2): Four) -> (Count, Count) {
    (Count { rooted: x2, stuck: n2 }, Count { rooted: x1, stuck: n1 })
}

fn id(kind: &str, (x1, n1, x2, n2): Four) -> String {
    format!("{kind}_{x1}_{n1}_{x2}_{n2}")
}

fn difference_limits(four: Four, method: DifferenceMethod) -> [f64; 2] {
    let (first, second) = groups(four);
    let found = difference(first, second, method, 0.95).unwrap();
    [found.low, found.high]
}

fn ratio_limits(four: Four, method: RatioMethod) -> [f64; 2] {
    let (first, second) = groups(four);
    let found = ratio(first, second, method, 0.95).unwrap();
    [found.low, found.high]
}

fn odds_limits(four: Four, method: OddsRatioMethod) -> [f64; 2] {
    let (first, second) = groups(four);
    let found = odds_ratio(first, second, method, 0.95).unwrap();
    [found.low, found.high]
}

const DIFFERENCES: [(DifferenceMethod, &str); 6] = [
    (DifferenceMethod::Wald, "wald"),
    (DifferenceMethod::AgrestiCaffo, "agresti_caffo"),
    (DifferenceMethod::Newcombe, "newcombe"),
    (DifferenceMethod::NewcombeCorrected, "newcombe_cc"),
    (DifferenceMethod::MiettinenNurminen, "miettinen_nurminen"),
    (DifferenceMethod::Mee, "mee"),
];

#[test]
fn differences_agree_with_the_reference() {
    // expected.json diff_*: from the definitions with scipy 1.17.1
    for four in PAIRS {
        let (first, second) = groups(four);
        check(&id("diff", four), "estimate", difference(first, second, DifferenceMethod::Wald, 0.95).unwrap().value);
        for (method, key) in DIFFERENCES {
            let limits = difference_limits(four, method);
            let formula: Vec<f64> = list(&id("diff", four), key);
            if formula.iter().all(|limit| limit.abs() <= 1.0) {
                check_list(&id("diff", four), key, &limits);
                continue;
            }
            // the formulas of these two pass what a difference can be, which is cut off
            assert!(matches!(method, DifferenceMethod::Wald | DifferenceMethod::AgrestiCaffo));
            for (got, formula) in limits.iter().zip(formula) {
                assert_rel!(*got, formula.clamp(-1.0, 1.0), 1e-12);
            }
        }
    }
}

fn list(id: &str, key: &str) -> Vec<f64> {
    entry(id)[key].as_array().unwrap().iter().map(number).collect()
}

#[test]
fn limits_of_a_difference_are_differences() {
    let all = [Count { rooted: 0, stuck: 4 }, Count { rooted: 57, stuck: 57 }];
    let [none, every] = all;
    for method in DifferenceMethod::ALL {
        let up = difference(none, every, method, 0.95).unwrap();
        let down = difference(every, none, method, 0.95).unwrap();
        assert!(-1.0 <= down.low && up.high <= 1.0, "{up:?} {down:?}");
    }
}

#[test]
fn differences_agree_with_the_printed_table() {
    // expected.json diff_*_printed: Newcombe 1998, Stat. Med. 17:873-890, Table II
    for four in &PAIRS[..8] {
        for (method, key) in [
            (DifferenceMethod::Mee, "mee"),
            (DifferenceMethod::MiettinenNurminen, "mn"),
            (DifferenceMethod::Newcombe, "newcombe"),
            (DifferenceMethod::NewcombeCorrected, "newcombe_cc"),
        ] {
            check_list(&format!("{}_{key}_printed", id("diff", *four)), "value", &difference_limits(*four, method));
        }
    }
    for four in [PAIRS[0], PAIRS[3]] {
        check_list(
            &format!("{}_wald_printed", id("diff", four)),
            "value",
            &difference_limits(four, DifferenceMethod::Wald),
        );
    }
    // expected.json diff_7_25_2_25_mee_printed: Gart & Nam 1990, Biometrics 46:637-643
    check_list("diff_7_25_2_25_mee_printed", "value", &difference_limits((7, 25, 2, 25), DifferenceMethod::Mee));
}

#[test]
fn ratios_agree_with_the_reference() {
    // expected.json ratio_*: from the definitions with scipy 1.17.1
    for four in PAIRS {
        let (first, second) = groups(four);
        let value = ratio(first, second, RatioMethod::Koopman, 0.95).unwrap().value;
        check(&id("ratio", four), "estimate", value.unwrap_or(f64::NAN));
        assert_eq!(value.is_none(), four.0 == 0 && four.2 == 0);
        check_list(&id("ratio", four), "koopman", &ratio_limits(four, RatioMethod::Koopman));
        check_list(&id("ratio", four), "miettinen_nurminen", &ratio_limits(four, RatioMethod::MiettinenNurminen));
        if entry(&id("ratio", four)).get("katz_log").is_some() {
            check_list(&id("ratio", four), "katz_log", &ratio_limits(four, RatioMethod::Log));
        } else {
            assert!(ratio(first, second, RatioMethod::Log, 0.95).is_err());
        }
    }
    // expected.json ratio_*_printed: Gart & Nam 1988, Biometrics 44:323-338
    check_list("ratio_8_15_4_15_printed", "value", &ratio_limits((8, 15, 4, 15), RatioMethod::Koopman));
    check_list("ratio_6_10_6_20_printed", "value", &ratio_limits((6, 10, 6, 20), RatioMethod::Koopman));
    // expected.json ratio_*_mn_printed: Fagerland & Newcombe 2013, Stat. Med. 32:2823-2836
    for four in [(24, 73, 53, 65), (29, 55, 11, 11), (7, 18, 1, 18)] {
        check_list(
            &format!("{}_mn_printed", id("ratio", four)),
            "value",
            &ratio_limits(four, RatioMethod::MiettinenNurminen),
        );
    }
}

#[test]
fn odds_ratios_agree_with_the_reference() {
    // expected.json or_*: from the definitions with scipy 1.17.1
    for four in PAIRS.into_iter().filter(|four| four.0 + four.2 > 0) {
        let (first, second) = groups(four);
        let name = id("or", four);
        check(
            &name,
            "conditional_ml",
            odds_ratio(first, second, OddsRatioMethod::ConditionalExact, 0.95).unwrap().value.unwrap(),
        );
        check_list(&name, "exact_conditional", &odds_limits(four, OddsRatioMethod::ConditionalExact));
        check_list(&name, "mid_p_conditional", &odds_limits(four, OddsRatioMethod::MidP));
        check_list(&name, "score", &odds_limits(four, OddsRatioMethod::Score));
        check_list(&name, "score_mn", &odds_limits(four, OddsRatioMethod::MiettinenNurminen));
        if entry(&name).get("woolf").is_some() {
            check(&name, "sample_or", odds_ratio(first, second, OddsRatioMethod::Woolf, 0.95).unwrap().value.unwrap());
            check_list(&name, "woolf", &odds_limits(four, OddsRatioMethod::Woolf));
        } else {
            assert!(odds_ratio(first, second, OddsRatioMethod::Woolf, 0.95).is_err());
        }
    }
    // expected.json or_*_mn_printed: Fagerland & Newcombe 2013, Stat. Med. 32:2823-2836
    for four in [(24, 73, 53, 65), (29, 55, 11, 11), (7, 18, 1, 18)] {
        check_list(
            &format!("{}_mn_printed", id("or", four)),
            "value",
            &odds_limits(four, OddsRatioMethod::MiettinenNurminen),
        );
    }
    // expected.json or_cornfield_nocc_printed: Gart & Thomas 1982; limits without correction are the score limits
    check_list("or_cornfield_nocc_printed", "value", &odds_limits((28, 51, 71, 230), OddsRatioMethod::Score));
}

#[test]
fn plum_odds_ratios_and_tests_agree() {
    // expected.json plum_2x2_*: Bartlett 1935, data of Hoblyn & Palmer 1934
    for (name, four) in [("plum_2x2_long", (156, 240, 84, 240)), ("plum_2x2_short", (107, 240, 31, 240))] {
        let (first, second) = groups(four);
        check(name, "sample_or", odds_ratio(first, second, OddsRatioMethod::Woolf, 0.95).unwrap().value.unwrap());
        check_list(name, "woolf_ci", &odds_limits(four, OddsRatioMethod::Woolf));
        let (score, likelihood) = (score_test(first, second).unwrap(), likelihood_ratio_test(first, second).unwrap());
        check(name, "pearson", score.statistic.unwrap());
        check(name, "pearson_p", score.p);
        check(name, "lr_g2", likelihood.statistic.unwrap());
        check(name, "lr_p", likelihood.p);
    }
}

#[test]
fn nothing_or_everything_rooted_is_ordinary() {
    for four in [(0, 10, 0, 20), (10, 10, 20, 20)] {
        let (first, second) = groups(four);
        for method in DifferenceMethod::ALL {
            let found = difference(first, second, method, 0.95).unwrap();
            assert!(found.value == 0.0 && found.low <= 0.0 && found.high >= 0.0, "{found:?}");
        }
        // by hand: one possible table, so nothing can differ
        assert_eq!(score_test(first, second).unwrap().p, 1.0);
        assert_eq!(likelihood_ratio_test(first, second).unwrap().statistic, Some(0.0));
        for method in OddsRatioMethod::ALL {
            let found = odds_ratio(first, second, method, 0.95);
            if method == OddsRatioMethod::Woolf {
                assert!(found.is_err());
                continue;
            }
            let found = found.unwrap();
            assert_eq!((found.value, found.low, found.high), (None, 0.0, f64::INFINITY));
        }
    }
}

#[test]
fn effective_limits_meet_whole_counts() {
    // two routes: critical value 1.959963984540054 is the 97.5 % normal quantile (scipy 1.17.1, norm.ppf(0.975))
    let z = 1.959_963_984_540_054;
    for four in PAIRS {
        let (first, second) = groups(four);
        let (one, two) = ((first.rate(), first.stuck as f64), (second.rate(), second.stuck as f64));
        let (low, high) = newcombe_effective(one, two, z).unwrap();
        let whole = difference_limits(four, DifferenceMethod::Newcombe);
        assert!(abs_diff_eq!(low, whole[0], epsilon = 1e-12) && abs_diff_eq!(high, whole[1], epsilon = 1e-12));
        let (low, high) = score_effective(one, two, z).unwrap();
        let whole = difference_limits(four, DifferenceMethod::MiettinenNurminen);
        assert!(abs_diff_eq!(low, whole[0], epsilon = 1e-11) && abs_diff_eq!(high, whole[1], epsilon = 1e-11));
    }
    for bad in [(-0.1, 5.0), (1.1, 5.0), (f64::NAN, 5.0), (0.5, 0.0), (0.5, f64::NAN)] {
        assert!(newcombe_effective(bad, (0.5, 4.0), z).is_err() && score_effective((0.5, 4.0), bad, z).is_err());
    }
    assert!(score_effective((0.5, 0.3), (0.5, 0.3), z).is_err());
}

#[test]
fn large_nurseries_are_fast_and_finite() {
    // two routes: at a million cuttings per group the exact limits approach the Woolf limits
    let (first, second) = groups((610_000, 1_000_000, 608_500, 1_000_000));
    let exact = odds_ratio(first, second, OddsRatioMethod::ConditionalExact, 0.95).unwrap();
    let woolf = odds_ratio(first, second, OddsRatioMethod::Woolf, 0.95).unwrap();
    assert_rel!(exact.value.unwrap(), woolf.value.unwrap(), 1e-6);
    assert_rel!(exact.low, woolf.low, 1e-4);
    assert_rel!(exact.high, woolf.high, 1e-4);
}

#[test]
fn names_round_trip_and_the_nearest_is_offered() {
    assert!(DifferenceMethod::ALL.iter().all(|one| one.name().parse::<DifferenceMethod>().unwrap() == *one));
    assert!(RatioMethod::ALL.iter().all(|one| one.name().parse::<RatioMethod>().unwrap() == *one));
    assert!(OddsRatioMethod::ALL.iter().all(|one| one.name().parse::<OddsRatioMethod>().unwrap() == *one));
    let Err(Error::Choice(error)) = "newcomb".parse::<DifferenceMethod>() else { panic!("not a choice error") };
    assert_eq!(error.nearest.as_deref(), Some("newcombe"));
}

fn some_groups() -> impl Strategy<Value = Four> {
    let group =
        || (1_u64..120, 0.0_f64..=1.0).prop_map(|(stuck, share)| ((share * stuck as f64).round() as u64, stuck));
    (group(), group()).prop_map(|((x1, n1), (x2, n2))| (x1, n1, x2, n2))
}

fn reciprocal(a: f64, b: f64) -> bool {
    (a == 0.0 && b == f64::INFINITY) || (b == 0.0 && a == f64::INFINITY) || (a * b - 1.0).abs() < 1e-7
}

proptest! {
    #[test]
    fn differences_contain_nest_and_mirror(four in some_groups(), level in 0.5_f64..0.999) {
        let (first, second) = groups(four);
        for method in DifferenceMethod::ALL {
            let narrow = difference(first, second, method, level).unwrap();
            let wide = difference(first, second, method, level + 0.5 * (1.0 - level)).unwrap();
            let mirror = difference(second, first, method, level).unwrap();
            prop_assert!(narrow.low <= narrow.value && narrow.value <= narrow.high, "{narrow:?}");
            prop_assert!(wide.low <= narrow.low + 1e-11 && narrow.high <= wide.high + 1e-11, "{narrow:?} {wide:?}");
            prop_assert!(abs_diff_eq!(mirror.low, -narrow.high, epsilon = 1e-9) && abs_diff_eq!(mirror.high, -narrow.low, epsilon = 1e-9), "{narrow:?} {mirror:?}");
        }
    }

    #[test]
    fn ratios_contain_nest_and_mirror(four in some_groups(), level in 0.5_f64..0.999) {
        let (first, second) = groups(four);
        for method in [RatioMethod::Koopman, RatioMethod::MiettinenNurminen] {
            let narrow = ratio(first, second, method, level).unwrap();
            let wide = ratio(first, second, method, level + 0.5 * (1.0 - level)).unwrap();
            let mirror = ratio(second, first, method, level).unwrap();
            let value = narrow.value.unwrap_or(1.0);
            prop_assert!(narrow.low <= value * (1.0 + 1e-9) && value <= narrow.high * (1.0 + 1e-9), "{narrow:?}");
            prop_assert!(wide.low <= narrow.low * (1.0 + 1e-9) && narrow.high <= wide.high * (1.0 + 1e-9));
            prop_assert!(reciprocal(mirror.low, narrow.high) && reciprocal(mirror.high, narrow.low), "{narrow:?} {mirror:?}");
        }
    }

    #[test]
    fn odds_ratios_contain_nest_and_mirror(four in some_groups(), level in 0.5_f64..0.999) {
        let (first, second) = groups(four);
        prop_assume!(four.0 + four.2 > 0 && four.0 + four.2 < four.1 + four.3);
        for method in OddsRatioMethod::ALL {
            let Ok(narrow) = odds_ratio(first, second, method, level) else {
                prop_assert_eq!(method, OddsRatioMethod::Woolf);
                continue;
            };
            let wide = odds_ratio(first, second, method, level + 0.5 * (1.0 - level)).unwrap();
            let mirror = odds_ratio(second, first, method, level).unwrap();
            let value = narrow.value.unwrap();
            prop_assert!(narrow.low <= value * (1.0 + 1e-9) && value <= narrow.high * (1.0 + 1e-9), "{narrow:?}");
            prop_assert!(wide.low <= narrow.low * (1.0 + 1e-9) && narrow.high <= wide.high * (1.0 + 1e-9));
            prop_assert!(reciprocal(mirror.low, narrow.high) && reciprocal(mirror.high, narrow.low), "{narrow:?} {mirror:?}");
        }
    }
}
