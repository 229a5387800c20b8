//! A change of a yield split over its steps.

use proptest::prelude::*;
use rootling::steps::{SplitMethod, split, yield_change};

/// The mean over all orders, order by order.
fn by_orders(before: &[f64], after: &[f64]) -> Vec<f64> {
    fn orders(left: &[usize]) -> Vec<Vec<usize>> {
        if left.is_empty() {
            return vec![Vec::new()];
        }
        let mut all = Vec::new();
        for one in left {
            let others: Vec<usize> = left.iter().copied().filter(|other| other != one).collect();
            all.extend(orders(&others).into_iter().map(|rest| std::iter::once(*one).chain(rest).collect()));
        }
        all
    }
    let all = orders(&(0..before.len()).collect::<Vec<_>>());
    let mut parts = vec![0.0; before.len()];
    for order in &all {
        let mut now = before.to_vec();
        for step in order {
            let earlier: f64 = now.iter().product();
            now[*step] = after[*step];
            parts[*step] += (now.iter().product::<f64>() - earlier) / all.len() as f64;
        }
    }
    parts
}

#[test]
fn a_change_is_split_by_logarithmic_means() {
    // By hand: L = -0.08 / ln(0.352 / 0.432); L ln(0.5 / 0.6) and L ln(0.88 / 0.9), in Python's math.
    let found = split(&[0.8, 0.6, 0.9], &[0.8, 0.5, 0.88]);
    assert_eq!(found.method, SplitMethod::LogarithmicMean);
    assert_eq!(found.parts[0], 0.0);
    assert_rel!(found.parts[1], -0.07122130118231185, 1e-13);
    assert_rel!(found.parts[2], -0.008778698817688122, 1e-13);
}

#[test]
fn where_a_take_is_zero_all_orders_are_averaged() {
    let (before, after) = ([0.8, 0.0, 0.9, 0.5], [0.7, 0.6, 0.95, 0.5]);
    let found = split(&before, &after);
    assert_eq!(found.method, SplitMethod::AllOrders);
    for (part, want) in found.parts.iter().zip(by_orders(&before, &after)) {
        assert!((part - want).abs() < 1e-15, "{part} {want}");
    }
    let alone = split(&[0.0], &[0.4]);
    assert_rel!(alone.parts[0], 0.4, 1e-15);
}

proptest! {
    #[test]
    fn parts_add_up(pairs in prop::collection::vec((0.0..=1.0_f64, 0.0..=1.0_f64), 1..7), zero in any::<bool>()) {
        let (mut before, after): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
        if zero {
            before[0] = 0.0;
        }
        let found = split(&before, &after);
        let change = after.iter().product::<f64>() - before.iter().product::<f64>();
        prop_assert!((found.parts.iter().sum::<f64>() - change).abs() < 1e-12);
        let back = split(&after, &before);
        for (one, other) in found.parts.iter().zip(&back.parts) {
            prop_assert!((one + other).abs() < 1e-12);
        }
    }
}

fn chain(takes: &[(&str, f64)]) -> Vec<(String, f64)> {
    takes.iter().map(|(step, take)| ((*step).to_owned(), *take)).collect()
}

#[test]
fn the_answer_says_which_step_it_is() {
    let before = chain(&[("graft", 0.8), ("dark", 0.6), ("rooted", 0.9)]);
    // Another order of the same steps is the same chain.
    let after = chain(&[("rooted", 0.88), ("graft", 0.8), ("dark", 0.5)]);
    let found = yield_change(&before, &after).unwrap();
    assert_eq!(
        found.sentence,
        "8.0 fewer of 100 started reach the end: dark accounts for 7.1 fewer, rooted for 0.9 fewer."
    );
    assert_eq!(found.details[2], "dark: take 50.0 % against 60.0 %, -7.1 points of the overall yield.");
    assert_rel!(found.numbers.value, -0.08, 1e-13);
    let still = yield_change(&before, &before).unwrap();
    assert_eq!(still.sentence, "43.2 of 100 started reach the end, now as before.");
    let none = yield_change(&chain(&[("graft", 0.0), ("rooted", 0.9)]), &chain(&[("graft", 0.5), ("rooted", 0.9)]));
    let none = none.unwrap();
    assert_eq!(none.sentence, "45.0 more of 100 started reach the end: graft accounts for 45.0 more.");
    assert!(none.methods.contains("over all orders"));
}
