//! Unconditional and paired tests, tests against a target and a margin: reference values, second routes, properties.

use approx::abs_diff_eq;
use std::sync::OnceLock;

use proptest::prelude::*;
use rootling::Count;
use rootling::compare::{Claim, EquivalenceOptions, MarginTest, equivalence};
use rootling::control::Control;
use rootling::counts::{
    ContingencyTable, PairedMethod, UnconditionalOrder, UnconditionalTest, fisher, paired, unconditional,
};
use rootling::counts::{
    DifferenceMethod, OddsRatioMethod, RatioMethod, difference, difference_sentence, likelihood_ratio_test, odds_ratio,
    odds_ratio_sentence, ratio, ratio_sentence, score_test,
};
use rootling::error::Error;
use rootling::rates::{TargetMethod, against_target, against_target_many};
use serde_json::Value;

use crate::support::{check, check_list, entry, number};

fn table(cells: [[u64; 2]; 2]) -> ContingencyTable {
    ContingencyTable::new(cells.iter().map(|row| row.to_vec()).collect()).unwrap()
}

fn test(cells: [[u64; 2]; 2], order: UnconditionalOrder) -> UnconditionalTest {
    unconditional(&table(cells), order, 0.95, &Control::new()).unwrap().numbers
}

fn cells_of([x1, n1, x2, n2]: [u64; 4]) -> [[u64; 2]; 2] {
    [[x1, n1 - x1], [x2, n2 - x2]]
}

fn groups([x1, n1, x2, n2]: [u64; 4]) -> (Count, Count) {
    (Count { rooted: x1, stuck: n1 }, Count { rooted: x2, stuck: n2 })
}

/// Reference values are p1 - p2 and p1 / p2; ours are second minus first, so their groups enter the other way round.
fn turned(counts: [u64; 4]) -> (Count, Count) {
    let (one, two) = groups(counts);
    (two, one)
}

/// Pairs with first and second exchanged, for references that subtract the second from the first.
fn turned_pairs([[a, b], [c, d]]: [[u64; 2]; 2]) -> [[u64; 2]; 2] {
    [[a, c], [b, d]]
}

#[test]
fn unconditional_tests_agree_with_the_reference() {
    // expected.json test2x2_*: enumeration with scipy 1.17.1
    for cells in [
        [[3, 1], [1, 3]],
        [[10, 2], [3, 15]],
        [[7, 12], [8, 3]],
        [[20, 0], [14, 6]],
        [[8, 2], [1, 5]],
        [[0, 10], [5, 5]],
        [[5, 0], [0, 5]],
        [[1, 9], [11, 3]],
        [[3, 7], [3, 7]],
        [[43, 2], [40, 5]],
        [[74, 31], [43, 32]],
    ] {
        let [[a, b], [c, d]] = cells;
        let values = entry(&format!("test2x2_{a}_{b}_{c}_{d}"));
        let wanted = |name: &str, key: &str| number(&values["unconditional"][name][key]);
        let (barnard, boschloo) = (test(cells, UnconditionalOrder::Barnard), test(cells, UnconditionalOrder::Boschloo));
        let unpooled = test(cells, UnconditionalOrder::BarnardUnpooled);
        for (got, want) in [
            // Published sides are those of the first row, ours of the second.
            (barnard.p_higher, wanted("barnard_pooled", "less")),
            (barnard.p_lower, wanted("barnard_pooled", "greater")),
            (barnard.p, wanted("barnard_pooled", "two_sided")),
            (unpooled.p, number(&values["unconditional"]["barnard_unpooled_two_sided"])),
            (boschloo.p_higher, wanted("boschloo", "less")),
            (boschloo.p_lower, wanted("boschloo", "greater")),
            (boschloo.doubled, wanted("boschloo", "two_sided_twice_smaller")),
            (boschloo.p, wanted("boschloo", "two_sided_fisher_minlike_statistic")),
        ] {
            // the grid of the reference leaves 1e-7
            assert_rel!(got, want, 1e-6);
        }
        let exact = fisher(&table(cells)).unwrap();
        for (got, key) in [
            (exact.doubled, "two_sided_doubled"),
            (exact.blaker, "two_sided_blaker"),
            (exact.mid_p_doubled, "midp_doubled"),
        ] {
            assert_rel!(got, number(&values["fisher"][key]), 1e-9);
        }
    }
    // expected.json *_scipy_printed: scipy documentation; groups are columns there
    let barnard = test([[7, 8], [12, 3]], UnconditionalOrder::Barnard);
    assert_rel!(barnard.p_higher, number(&entry("barnard_scipy_printed")["value"][1]), 0.029);
    let boschloo = test([[74, 43], [31, 32]], UnconditionalOrder::Boschloo);
    assert_rel!(boschloo.p_lower, number(&entry("boschloo_scipy_printed")["value"][1]), 0.0028);
}

#[test]
fn exact_ties_of_mirror_tables_are_kept() {
    // expected.json test2x2_8_2_1_5, note: ties lost to rounding give 0.0132, enumeration 0.0167
    assert_rel!(test([[8, 2], [1, 5]], UnconditionalOrder::Barnard).p, 0.016_693_115_234_375, 1e-12);
}

fn generated() -> &'static Value {
    static ALL: OnceLock<Value> = OnceLock::new();
    ALL.get_or_init(|| serde_json::from_str(include_str!("../reference/values/two_rates.json")).unwrap())
}

fn cases() -> impl Iterator<Item = ([u64; 4], &'static Value)> {
    let all = generated()["cases"].as_array().unwrap();
    all.iter().map(|case| (serde_json::from_value(case["counts"].clone()).unwrap(), case))
}

#[test]
fn p_values_of_generated_tables_agree() {
    // values/two_rates.json: mpmath at 40 digits, tests/reference/make/two_rates.py
    let mut compared = 0;
    for (counts, case) in cases() {
        let (first, second) = groups(counts);
        let (score, likelihood) = (score_test(first, second).unwrap(), likelihood_ratio_test(first, second).unwrap());
        p_agrees(score.p, &case["chi_square"]["pearson"][1], counts, "score");
        p_agrees(likelihood.p, &case["chi_square"]["likelihood_ratio"][1], counts, "likelihood ratio");
        let Ok(both) = ContingencyTable::new(cells_of(counts).iter().map(|row| row.to_vec()).collect()) else {
            continue;
        };
        let exact = fisher(&both).unwrap();
        for (got, key) in [
            // Published sides are those of the first row, ours of the second.
            (exact.p_higher, "less"),
            (exact.p_lower, "greater"),
            (exact.p, "two_sided"),
            (exact.doubled, "doubled"),
            (exact.blaker, "blaker"),
            (exact.mid_p, "mid_p"),
        ] {
            p_agrees(got, &case["fisher"][key], counts, key);
        }
        compared += 1;
    }
    assert!(compared >= 250, "{compared}");
}

/// Held to 1e-9 relative down to 1e-300.
fn p_agrees(got: f64, want: &Value, counts: [u64; 4], what: &str) {
    let want = number(want);
    let held = if want < 1e-300 { got < 1.1e-300 } else { (got / want - 1.0).abs() <= 1e-9 };
    assert!(held, "{what} of {counts:?}: got {got:e}, want {want:e}");
}

#[test]
fn unconditional_tests_of_generated_tables_agree() {
    // values/two_rates.json: brute force over all tables and rates, tests/reference/make/two_rates.py
    let mut compared = 0;
    for (counts, case) in cases().filter(|(_, case)| case.get("unconditional").is_some()) {
        let Ok(both) = ContingencyTable::new(cells_of(counts).iter().map(|row| row.to_vec()).collect()) else {
            continue;
        };
        for (order, name) in [(UnconditionalOrder::Barnard, "barnard"), (UnconditionalOrder::Boschloo, "boschloo")] {
            let found = unconditional(&both, order, 0.95, &Control::new()).unwrap().numbers;
            for (got, side) in [(found.p, "two_sided"), (found.p_higher, "less"), (found.p_lower, "greater")] {
                p_agrees(got, &case["unconditional"][format!("{name}_{side}")], counts, &format!("{name} {side}"));
            }
        }
        compared += 1;
    }
    assert!(compared >= 60, "{compared}");
}

#[test]
fn intervals_of_generated_tables_agree() {
    // values/two_rates.json: roots of the defining equations with mpmath, tests/reference/make/two_rates.py
    for (counts, case) in cases() {
        let (first, second) = turned(counts);
        for (method, key) in [
            (DifferenceMethod::MiettinenNurminen, "miettinen_nurminen"),
            (DifferenceMethod::Mee, "mee"),
            (DifferenceMethod::Newcombe, "newcombe"),
        ] {
            let found = difference(first, second, method, 0.95).unwrap();
            limits_agree([found.low, found.high], &case[key], counts, key);
        }
        let found = ratio(first, second, RatioMethod::Koopman, 0.95).unwrap();
        limits_agree([found.low, found.high], &case["koopman"], counts, "koopman");
        for (method, key) in [(OddsRatioMethod::Score, "odds_score"), (OddsRatioMethod::ConditionalExact, "odds_exact")]
        {
            if case.get(key).is_some() {
                let found = odds_ratio(first, second, method, 0.95).unwrap();
                limits_agree([found.low, found.high], &case[key], counts, key);
            }
        }
    }
}

/// Held to 1e-8, relative above 1.
fn limits_agree(got: [f64; 2], want: &Value, counts: [u64; 4], what: &str) {
    for (got, want) in got.into_iter().zip([number(&want[0]), number(&want[1])]) {
        let held = got == want || (got - want).abs() <= 1e-8 * want.abs().max(1.0);
        assert!(held, "{what} of {counts:?}: got {got:e}, want {want:e}");
    }
}

#[test]
fn exact_differences_agree_with_brute_force() {
    // values/exact_difference.json: every table and a scan of all differences, tests/reference/make/exact_difference.py
    let all: Value = serde_json::from_str(include_str!("../reference/values/exact_difference.json")).unwrap();
    for case in all["cases"].as_array().unwrap() {
        let counts: [u64; 4] = serde_json::from_value(case["counts"].clone()).unwrap();
        let (first, second) = turned(counts);
        let found = difference(first, second, DifferenceMethod::Exact, 0.95).unwrap();
        limits_agree([found.low, found.high], &case["limits"], counts, "exact difference");
        for (margin, want) in case["p_not_worse"].as_object().unwrap() {
            let margin: f64 = margin.parse().unwrap();
            let options =
                EquivalenceOptions { margin, claim: Claim::NotWorse, method: MarginTest::Exact, confidence: 0.975 };
            let found = equivalence(first, second, &options, &Control::new()).unwrap().numbers;
            assert_rel!(found.p, number(want), 1e-8);
        }
    }
}

#[test]
fn paired_tables_agree_with_the_reference() {
    // expected.json mcnemar_*: statsmodels 0.15.0 and scipy 1.17.1
    for cells in [[[794, 86], [150, 570]], [[101, 121], [59, 33]], [[4, 9], [3, 16]], [[1, 1], [7, 12]]] {
        let [[a, b], [c, d]]: [[u64; 2]; 2] = cells;
        let id = format!("mcnemar_{a}_{b}_{c}_{d}");
        let found = paired(turned_pairs(cells), PairedMethod::Tango, 0.95).unwrap().numbers;
        check(&id, "exact_p", found.tests[0].p);
        check(&id, "mid_p", found.tests[1].p);
        check_list(&id, "chi2", &[found.tests[2].statistic.unwrap(), found.tests[2].p]);
        check_list(&id, "chi2_cc", &[found.tests[3].statistic.unwrap(), found.tests[3].p]);
        check(&id, "conditional_or", found.odds_ratio.unwrap());
        check_list(&id, "tango_ci", &[found.low, found.high]);
    }
    // expected.json paired_tango_*: Tango 1998 Table VII; Agresti & Min 2005; Fagerland et al. 2014
    for cells in [[[4, 9], [3, 16]], [[53, 16], [8, 9]], [[1, 1], [7, 12]]] {
        let [[a, b], [c, d]]: [[u64; 2]; 2] = cells;
        let found = paired(turned_pairs(cells), PairedMethod::Tango, 0.95).unwrap().numbers;
        check_list(&format!("paired_tango_{a}_{b}_{c}_{d}"), "value", &[found.low, found.high]);
    }
}

#[test]
fn newcombe_pairs_without_correlation_are_independent_groups() {
    // two routes: a d = b c leaves no correlation, so the limits are Newcombe's of two independent groups (method 10 of both)
    let cells = [[12, 8], [6, 4]];
    let found = paired(cells, PairedMethod::Newcombe, 0.95).unwrap().numbers;
    let (first, second) = (Count { rooted: 20, stuck: 30 }, Count { rooted: 18, stuck: 30 });
    let free = difference(first, second, DifferenceMethod::Newcombe, 0.95).unwrap();
    assert_rel!(found.low, free.low, 1e-12);
    assert_rel!(found.high, free.high, 1e-12);
}

#[test]
fn tests_against_a_target_agree_with_the_reference() {
    // expected.json binom_test_*: scipy 1.17.1 binomtest
    for (rooted, stuck, target) in
        [(3, 15, 0.1), (682, 925, 0.75), (5, 18, 0.5), (0, 12, 0.25), (19, 20, 0.7), (14, 20, 0.5)]
    {
        let id = format!("binom_test_{rooted}_{stuck}");
        let found = against_target(Count { rooted, stuck }, target, TargetMethod::Exact).unwrap();
        check(&id, "two_sided", found.p);
        check(&id, "greater", found.p_higher);
        if entry(&id).get("less").is_some() {
            check(&id, "less", found.p_lower);
        }
    }
}

#[test]
fn far_tails_against_a_target_keep_their_digits() {
    // by hand: no other table is as extreme, P = 2^-1000 on one side, twice that on both
    let found = against_target(Count { rooted: 1000, stuck: 1000 }, 0.5, TargetMethod::Exact).unwrap();
    assert_rel!(found.p_higher, 2.0_f64.powi(-1000), 1e-12);
    assert_rel!(found.p, 2.0_f64.powi(-999), 1e-12);
    // by hand: z = (60 - 50) / 5 = 2; Abramowitz & Stegun 1964, table 26.1: Q(2) = 0.02275 01319 48179
    let score = against_target(Count { rooted: 60, stuck: 100 }, 0.5, TargetMethod::Score).unwrap();
    assert_rel!(score.statistic.unwrap(), 2.0, 1e-14);
    assert_rel!(score.p, 2.0 * 0.022_750_131_948_179, 1e-12);
}

#[test]
fn many_targets_equal_one_by_one_and_name_the_culprit() {
    let (rooted, stuck, targets) = ([3, 9, 20], [10, 10, 20], [0.2, 0.9, 0.5]);
    for method in TargetMethod::ALL {
        let many = against_target_many(&rooted, &stuck, &targets, method, &Control::new()).unwrap();
        for place in 0..3 {
            let count = Count { rooted: rooted[place], stuck: stuck[place] };
            let one = against_target(count, targets[place], method).unwrap();
            assert_eq!(many[place], [one.p_lower, one.p_higher, one.p]);
        }
    }
    let asked = against_target_many(&[1, 2], &[3, 3], &[0.5, 1.0], TargetMethod::Exact, &Control::new());
    let error = asked.unwrap_err();
    assert!(error.to_string().starts_with("entry 2: target 1 is not between 0 and 1"));
}

#[test]
fn score_odds_ratio_limits_stay_true_for_huge_counts_and_narrow_levels() {
    // two routes: with such counts score and Woolf limits agree to the square of the standard error
    let (first, second) =
        groups([3_000_000_000_000_001, 4_000_000_000_000_000, 1_000_000_000_000_003, 4_000_000_000_000_000]);
    let (score, woolf) = (
        odds_ratio(first, second, OddsRatioMethod::Score, 0.95).unwrap(),
        odds_ratio(first, second, OddsRatioMethod::Woolf, 0.95).unwrap(),
    );
    assert_rel!(score.low, woolf.low, 1e-13);
    assert_rel!(score.high, woolf.high, 1e-13);
    let narrow = odds_ratio(Count { rooted: 6, stuck: 9 }, Count { rooted: 2, stuck: 8 }, OddsRatioMethod::Score, 1e-9);
    let narrow = narrow.unwrap();
    // two routes: to first order the half-width of ln OR is z times the Woolf standard error
    let z = 1e-9 * (std::f64::consts::TAU).sqrt() / 2.0;
    let half = z * (1.0_f64 / 6.0 + 1.0 / 3.0 + 1.0 / 2.0 + 1.0 / 6.0).sqrt();
    assert!(narrow.low < narrow.value.unwrap() && narrow.value.unwrap() < narrow.high);
    assert!(rel_eq!((narrow.high / narrow.low).ln(), 2.0 * half, 1e-5));
    let refused = odds_ratio(first, second, OddsRatioMethod::MidP, 0.95).unwrap_err();
    assert!(refused.to_string().contains("too many for this exact method"), "{refused}");
}

#[test]
fn nothing_rooted_is_said_in_words() {
    let (none, neither) = groups([0, 10, 0, 20]);
    let found = difference(none, neither, DifferenceMethod::MiettinenNurminen, 0.95).unwrap();
    assert!(
        difference_sentence(none, neither, &found).starts_with("No difference is shown: no cutting rooted in either")
    );
    let found = ratio(none, neither, RatioMethod::Koopman, 0.95).unwrap();
    assert_eq!(
        ratio_sentence(none, neither, &found),
        "No cutting rooted in either group, so the ratio of the rates can be anything (95 % interval 0 to infinite)."
    );
    let found = odds_ratio(none, neither, OddsRatioMethod::Score, 0.95).unwrap();
    assert_eq!(
        odds_ratio_sentence(none, neither, &found),
        "No difference is shown: no cutting rooted in either group, so the odds ratio can be anything (95 % interval 0 to infinite)."
    );
    let (all, half) = groups([10, 10, 5, 10]);
    let found = odds_ratio(half, all, OddsRatioMethod::Score, 0.95).unwrap();
    assert!(odds_ratio_sentence(half, all, &found).contains("only a lower bound"));
}

#[test]
fn stopping_and_limits_of_size() {
    let stopped = Control::new();
    stopped.stop();
    let (first, second) = groups([30, 60, 20, 60]);
    assert!(matches!(
        unconditional(&table([[30, 30], [20, 40]]), UnconditionalOrder::Boschloo, 0.95, &stopped),
        Err(Error::Interrupted)
    ));
    let options =
        EquivalenceOptions { margin: 0.1, claim: Claim::Equivalent, method: MarginTest::Exact, confidence: 0.95 };
    assert!(matches!(equivalence(first, second, &options, &stopped), Err(Error::Interrupted)));
    let large = table([[20_000, 1], [3, 4]]);
    let error = unconditional(&large, UnconditionalOrder::Barnard, 0.95, &Control::new()).unwrap_err();
    assert!(error.to_string().starts_with("20008 plants are too many for this exact method (at most 20000)"));
    for margin in [0.0, -0.1, 1.5, f64::NAN] {
        let options = EquivalenceOptions { margin, ..options };
        assert!(equivalence(first, second, &options, &Control::new()).is_err());
    }
}

fn small() -> impl Strategy<Value = [u64; 4]> {
    (1_u64..25, 1_u64..25)
        .prop_flat_map(|(n1, n2)| (0..=n1, Just(n1), 0..=n2, Just(n2)))
        .prop_map(|(x1, n1, x2, n2)| [x1, n1, x2, n2])
        .prop_filter("both columns", |[x1, n1, x2, n2]| x1 + x2 > 0 && x1 + x2 < n1 + n2)
}

proptest! {
    #[test]
    fn unconditional_tests_mirror_and_stay_below_fisher(counts in small()) {
        let [x1, n1, x2, n2] = counts;
        let exact = fisher(&table(cells_of(counts))).unwrap();
        for order in UnconditionalOrder::ALL {
            let found = test(cells_of(counts), order);
            for p in [found.p, found.p_lower, found.p_higher] {
                prop_assert!(p > 0.0 && p <= 1.0, "{found:?}");
            }
            let turned = test(cells_of([x2, n2, x1, n1]), order);
            let failed = test(cells_of([n1 - x1, n1, n2 - x2, n2]), order);
            for (a, b) in [
                (found.p, turned.p), (found.p_lower, turned.p_higher),
                (found.p, failed.p), (found.p_higher, failed.p_lower),
            ] {
                prop_assert!(rel_eq!(a, b, 1e-9), "{found:?} {turned:?} {failed:?}");
            }
            if order == UnconditionalOrder::Boschloo {
                prop_assert!(found.p <= exact.p * (1.0 + 1e-9) && found.p_lower <= exact.p_lower * (1.0 + 1e-9));
            }
        }
    }

    #[test]
    fn two_sided_p_values_keep_their_order(counts in small()) {
        let exact = fisher(&table(cells_of(counts))).unwrap();
        prop_assert!(exact.blaker <= exact.doubled * (1.0 + 1e-6), "{exact:?}");
        let (count, _) = groups(counts);
        for target in [0.1, 0.5, 0.83] {
            let p = |method| against_target(count, target, method).unwrap().p;
            for method in TargetMethod::ALL {
                prop_assert!(p(method) > 0.0 && p(method) <= 1.0);
            }
            prop_assert!(p(TargetMethod::Blaker) <= p(TargetMethod::Doubled) * (1.0 + 1e-6));
        }
    }

    #[test]
    fn margins_and_intervals_agree(counts in small(), margin in 0.02_f64..0.6) {
        let (first, second) = groups(counts);
        let options = EquivalenceOptions { margin, claim: Claim::Equivalent, method: MarginTest::Score, confidence: 0.95 };
        let found = equivalence(first, second, &options, &Control::new()).unwrap().numbers;
        let inside = found.low > -margin && found.high < margin;
        let near = (found.low + margin).abs().min((found.high - margin).abs()) < 1e-7;
        prop_assert!(near || inside == found.shown, "{found:?}");
        let turned = equivalence(second, first, &options, &Control::new()).unwrap().numbers;
        prop_assert!(rel_eq!(found.p_not_worse, turned.p_not_better, 1e-9));
    }

    #[test]
    fn pairs_mirror_and_contain(a in 0_u64..30, b in 0_u64..30, c in 0_u64..30, d in 0_u64..30) {
        prop_assume!(a + b + c + d > 0);
        for method in PairedMethod::ALL {
            let found = paired([[a, b], [c, d]], method, 0.9).unwrap().numbers;
            let turned = paired([[a, c], [b, d]], method, 0.9).unwrap().numbers;
            let wide = paired([[a, b], [c, d]], method, 0.99).unwrap().numbers;
            prop_assert!(found.low <= found.value + 1e-12 && found.value <= found.high + 1e-12, "{found:?}");
            prop_assert!(wide.low <= found.low + 1e-12 && found.high <= wide.high + 1e-12);
            prop_assert!(abs_diff_eq!(found.low, -turned.high, epsilon = 1e-10), "{found:?} {turned:?}");
            for test in &found.tests {
                prop_assert!(test.p > 0.0 && test.p <= 1.0);
            }
        }
    }
}
