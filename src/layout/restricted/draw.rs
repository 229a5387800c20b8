//! Orders drawn until one meets the restrictions, so that each of the set is as likely as the others.

use rand_chacha::ChaCha8Rng;

use super::count::meeting;
use super::rule::{Rows, Rule};
use crate::control::checkpoint_at;
use crate::math::rng::{deal, stream};

/// Orders drawn before it is given up.
const TRIES: u64 = 3_000_000;
/// Orders drawn to learn of a share, and trays dealt for that at most.
const DRAWS: u64 = 20_000;
const MOST_DEALT: u64 = 10_000_000;

/// An order of these trays that meets the rule; none within the tries.
pub(in crate::layout) fn dealt(rng: &mut ChaCha8Rng, rule: Rule, rows: Rows, trays: &[usize]) -> Option<Vec<usize>> {
    let mut order = trays.to_vec();
    for attempt in 0..TRIES {
        checkpoint_at(attempt);
        let n = order.len();
        deal(rng, &mut order, n);
        if rule.is_met(rows, &order) {
            return Some(order);
        }
    }
    None
}

/// What drawn orders show where they are too many to be counted.
pub(in crate::layout) struct Share {
    /// Of all orders, those that meet the rule.
    pub(in crate::layout) met: f64,
    /// Chance that neighbours are alike, least and most.
    pub(in crate::layout) neighbours: Option<(f64, f64)>,
}

/// The share of orders that meet the rule, by draws of their own.
pub(in crate::layout) fn share_by_draws(seed: u64, rule: Rule, rows: Rows, trays: &[usize]) -> Share {
    let mut rng = stream(seed, u64::MAX);
    let mut order = trays.to_vec();
    let (mut met, mut alike) = (0_u64, vec![0_u64; rows.trays]);
    let draws = (MOST_DEALT / order.len().max(1) as u64).clamp(1, DRAWS);
    for draw in 0..draws {
        checkpoint_at(draw);
        let n = order.len();
        deal(&mut rng, &mut order, n);
        if rule.is_met(rows, &order) {
            met += 1;
            for (slot, pair) in alike.iter_mut().zip(order.windows(2)) {
                *slot += u64::from(pair.first() == pair.last());
            }
        }
    }
    let chances = (0..rows.trays.saturating_sub(1)).filter(|at| !rows.begins(at + 1));
    let chances = chances.filter_map(|at| alike.get(at)).map(|n| *n as f64 / met.max(1) as f64);
    Share { met: met as f64 / draws as f64, neighbours: (met > 0).then(|| least_and_most(chances)).flatten() }
}

/// Chance that neighbours in a row are treated alike, least and most of all pairs, where orders can be counted.
pub(in crate::layout) fn neighbours(rule: Rule, rows: Rows, sizes: &[usize]) -> Option<(f64, f64)> {
    let all = meeting(rule, rows, sizes, None).filter(|all| *all > 0.0)?;
    let pairs = (0..rows.trays.saturating_sub(1)).filter(|at| !rows.begins(at + 1));
    let chances: Option<Vec<f64>> = pairs.map(|at| Some(meeting(rule, rows, sizes, Some(at))? / all)).collect();
    least_and_most(chances?.into_iter())
}

fn least_and_most(chances: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    chances.fold(None, |found, one| {
        let (low, high) = found.unwrap_or((one, one));
        Some((f64::min(low, one), f64::max(high, one)))
    })
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::math::distributions::chi_squared;

    #[test]
    fn every_order_of_the_set_is_as_likely() {
        let (rule, rows) = (Rule { longest_run: Some(2), different_ends: true }, Rows { trays: 8, columns: 8 });
        let wanted = meeting(rule, rows, &[4, 4], None).unwrap();
        let (mut seen, mut rng): (BTreeMap<Vec<usize>, u64>, _) = (BTreeMap::new(), stream(4, 0));
        let draws = 20_000_u64;
        for _ in 0..draws {
            *seen.entry(dealt(&mut rng, rule, rows, &[0, 0, 0, 0, 1, 1, 1, 1]).unwrap()).or_default() += 1;
        }
        assert_eq!(seen.len() as f64, wanted);
        let expected = draws as f64 / wanted;
        let x2: f64 = seen.values().map(|n| (*n as f64 - expected).powi(2) / expected).sum();
        assert!(chi_squared::sf(x2, wanted - 1.0) > 0.001, "{x2} on {wanted}");
    }

    #[test]
    fn neighbours_counted_and_drawn_agree() {
        let (rule, rows) = (Rule { longest_run: Some(2), different_ends: false }, Rows { trays: 12, columns: 12 });
        let trays: Vec<usize> = (0..12).map(|at| at % 2).collect();
        let (low, high) = neighbours(rule, rows, &[6, 6]).unwrap();
        let drawn = share_by_draws(7, rule, rows, &trays);
        let (seen_low, seen_high) = drawn.neighbours.unwrap();
        assert!(
            (low - seen_low).abs() < 0.02 && (high - seen_high).abs() < 0.02,
            "{low} {high} {seen_low} {seen_high}"
        );
        let share = meeting(rule, rows, &[6, 6], None).unwrap() / 924.0;
        assert!((share - drawn.met).abs() < 0.015, "{share} {}", drawn.met);
        // Any two trays are alike by 5 in 11; neighbours by less.
        assert!(high < 5.0 / 11.0);
    }
}
