//! The likelihood of a baseline: counts of batches, whose logits share a shift by set week and place, and one by week.
//!
//! The likelihood of a cluster along its shift is tabled once for each correlation and rate; layers are then integrals over these tables.

use rayon::prelude::*;

use super::batch::{Counted, add_likelihood};
use crate::control::{Signal, checkpoint};

/// Widest shift that is looked at, and nodes of the table.
const REACH: f64 = 3.0;
const COARSE: usize = 25;
/// Nodes between two of the table.
const BETWEEN: usize = 4;
const FINE: usize = (COARSE - 1) * BETWEEN + 1;
const FINE_STEP: f64 = 2.0 * REACH / (FINE as f64 - 1.0);
/// A layer narrower than this is summed over three points of its own.
const NARROW: f64 = 0.8 * FINE_STEP;

/// The widest layer.
pub(super) const WIDEST: f64 = 0.9;

/// A function of the shift: its logarithm at the fine nodes.
pub(super) type Along = Vec<f64>;

fn shift(node: usize) -> f64 {
    node as f64 * FINE_STEP - REACH
}

/// The table of a cluster; `odds` is exp of the shifts of the coarse nodes.
fn table(batches: &[Counted], g: f64, odds: &[f64; COARSE]) -> Along {
    let mut coarse = [0.0; COARSE];
    for batch in batches {
        checkpoint();
        add_likelihood(batch, g, odds, &mut coarse);
    }
    refined(&coarse)
}

/// The tables of all clusters.
pub(super) fn tables(clusters: &[Vec<Counted>], g: f64) -> Vec<Along> {
    let signal = Signal::here();
    let mut odds = [0.0; COARSE];
    odds.iter_mut().zip(0..).for_each(|(odds, node)| *odds = shift(node * BETWEEN).exp());
    clusters.par_iter().map(|batches| signal.on(|| table(batches, g, &odds))).collect()
}

/// Values at the fine nodes from those at the coarse ones: cubic between four neighbours.
fn refined(coarse: &[f64]) -> Along {
    (0..FINE)
        .map(|node| {
            let start = (node / BETWEEN).saturating_sub(1).min(COARSE - 4);
            let place = node as f64 / BETWEEN as f64 - start as f64;
            let weights = [
                -(place - 1.0) * (place - 2.0) * (place - 3.0) / 6.0,
                place * (place - 2.0) * (place - 3.0) / 2.0,
                -place * (place - 1.0) * (place - 3.0) / 2.0,
                place * (place - 1.0) * (place - 2.0) / 6.0,
            ];
            coarse.iter().skip(start).zip(weights).map(|(value, weight)| value * weight).sum()
        })
        .collect()
}

/// Offsets in fine nodes and weights of a normal layer of this width.
fn weights(width: f64) -> Vec<(i64, f64)> {
    if width <= 0.0 {
        return vec![(0, 1.0)];
    }
    if width < NARROW {
        // Three points with the variance of the layer.
        let share = (width / FINE_STEP).powi(2) / 2.0;
        return vec![(-1, share), (0, 1.0 - 2.0 * share), (1, share)];
    }
    let reach = (6.0 * width / FINE_STEP).ceil() as i64;
    let height = |offset: i64| (-0.5 * (offset as f64 * FINE_STEP / width).powi(2)).exp();
    let total: f64 = (-reach..=reach).map(height).sum();
    (-reach..=reach).map(|offset| (offset, height(offset) / total)).collect()
}

/// ln of the likelihood along the shift of the layer above, with a layer of this width integrated out.
pub(super) fn layered(own: &Along, width: f64) -> Along {
    if width <= 0.0 {
        return own.clone();
    }
    let weights = weights(width);
    let peak = own.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let heights: Vec<f64> = own.iter().map(|value| (value - peak).exp()).collect();
    let at = |node: usize| -> f64 {
        let term = |(offset, weight): &(i64, f64)| {
            let place = (node as i64 + offset).clamp(0, FINE as i64 - 1) as usize;
            heights.get(place).map_or(0.0, |height| weight * height)
        };
        peak + weights.iter().map(term).sum::<f64>().max(f64::MIN_POSITIVE).ln()
    };
    let coarse: Vec<f64> = (0..COARSE).map(|node| at(node * BETWEEN)).collect();
    refined(&coarse)
}

/// The integral of a function along a shift over a normal layer about 0: its logarithm, and mean and variance of the shift given the counts.
pub(super) fn integrated(along: &Along, width: f64) -> (f64, f64, f64) {
    let middle = (FINE as i64 - 1) / 2;
    let terms: Vec<(f64, f64)> = weights(width)
        .into_iter()
        .filter_map(|(offset, weight)| {
            let value = along.get(usize::try_from(middle + offset).ok()?)?;
            Some((offset as f64 * FINE_STEP, weight.ln() + value))
        })
        .collect();
    let peak = terms.iter().map(|(_, ln)| *ln).fold(f64::NEG_INFINITY, f64::max);
    let weight = |ln: &f64| (ln - peak).exp();
    let total: f64 = terms.iter().map(|(_, ln)| weight(ln)).sum();
    let mean = terms.iter().map(|(shift, ln)| shift * weight(ln)).sum::<f64>() / total;
    let variance = terms.iter().map(|(shift, ln)| (shift - mean).powi(2) * weight(ln)).sum::<f64>() / total;
    (peak + total.ln(), mean, variance)
}

/// Sum of two functions.
pub(super) fn add(into: &mut [f64], other: &[f64]) {
    into.iter_mut().zip(other).for_each(|(sum, one)| *sum += one);
}

/// No counts: likely everywhere.
pub(super) fn flat() -> Along {
    vec![0.0; FINE]
}

/// Mean and variance of the shift of one cluster given all counts of its week: `own` is its table, `others` what the other clusters of the
/// week say along the shift of the week.
pub(super) fn posterior(own: &Along, others: &Along, week: f64, week_in_place: f64) -> (f64, f64) {
    let peak = others.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut masses = vec![0.0; FINE];
    let inner = weights(week_in_place);
    for (offset, value, weight) in around(others, week) {
        let mass = weight * (value - peak).exp();
        for (further, share) in &inner {
            if let Some(entry) = masses.get_mut(node_at(offset + further)) {
                *entry += mass * share;
            }
        }
    }
    let peak = own.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let found: Vec<f64> = masses.iter().zip(own).map(|(mass, ln)| mass * (ln - peak).exp()).collect();
    moments(&found).unwrap_or_else(|| apart(own, others, week, &inner))
}

/// The same where large batches disagree so far that no shift is likely by either: kept as logarithms throughout.
fn apart(own: &Along, others: &Along, week: f64, inner: &[(i64, f64)]) -> (f64, f64) {
    let mut places: Vec<Vec<f64>> = vec![Vec::new(); FINE];
    for (offset, value, weight) in around(others, week) {
        for (further, share) in inner {
            if let Some(terms) = places.get_mut(node_at(offset + further)) {
                terms.push(value + (weight * share).ln());
            }
        }
    }
    let logs: Vec<f64> = places.iter().zip(own).map(|(terms, own)| ln_sum(terms) + own).collect();
    let peak = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    moments(&logs.iter().map(|ln| (ln - peak).exp()).collect::<Vec<f64>>()).unwrap_or_default()
}

/// The nodes of a layer about 0: offset, what is said there, weight.
fn around(along: &Along, width: f64) -> impl Iterator<Item = (i64, f64, f64)> + '_ {
    let value =
        |offset: i64| usize::try_from((FINE as i64 - 1) / 2 + offset).ok().and_then(|at| along.get(at)).copied();
    weights(width).into_iter().filter_map(move |(offset, weight)| Some((offset, value(offset)?, weight)))
}

/// The node so far from the middle, or the last one on that side.
fn node_at(offset: i64) -> usize {
    ((FINE as i64 - 1) / 2 + offset).clamp(0, FINE as i64 - 1) as usize
}

/// Mean and variance of the shift with these weights of the nodes; None where all are 0.
fn moments(weights: &[f64]) -> Option<(f64, f64)> {
    let terms = || weights.iter().zip(0..).map(|(weight, node)| (shift(node), weight));
    let total: f64 = weights.iter().sum();
    let mean = terms().map(|(at, weight)| at * weight).sum::<f64>() / total;
    let variance = terms().map(|(at, weight)| (at - mean).powi(2) * weight).sum::<f64>() / total;
    (total > f64::MIN_POSITIVE).then_some((mean, variance))
}

/// ln of the sum of exponentials; minus infinity of none.
fn ln_sum(terms: &[f64]) -> f64 {
    let peak = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if peak.is_finite() { peak + terms.iter().map(|ln| (ln - peak).exp()).sum::<f64>().ln() } else { peak }
}

#[cfg(test)]
mod tests {
    use super::{Along, FINE, posterior, shift};

    /// The logarithm of a normal density about a centre.
    fn peaked(centre: f64, sd: f64) -> Along {
        (0..FINE).map(|node| -0.5 * ((shift(node) - centre) / sd).powi(2)).collect()
    }

    #[test]
    fn clusters_that_disagree_far_beyond_chance_have_a_shift_all_the_same() {
        // Counts of 100,000 plants place a logit to 0.008; layers of 0.3 and 0.2 between weeks and places pull little.
        for apart in [0.5, 1.0, 2.0] {
            let (mean, variance) = posterior(&peaked(apart, 0.05), &peaked(-apart, 0.008), 0.3, 0.2);
            assert!(mean.abs() <= apart && (0.0..0.1).contains(&variance), "{apart}: {mean} {variance}");
        }
        // By hand: the week is at -0.25, and the cluster between that, to 0.2, and its own 0.25, to 0.1.
        let (mean, variance) = posterior(&peaked(0.25, 0.1), &peaked(-0.25, 0.05), 0.3, 0.2);
        let week = 1.0 / (1.0 / 0.0025 + 1.0 / 0.09);
        let before = (-0.25 * week / 0.0025, week + 0.04);
        let wanted = 1.0 / (1.0 / before.1 + 100.0);
        assert!((mean - wanted * (before.0 / before.1 + 25.0)).abs() < 2e-3, "{mean}");
        assert!((variance / wanted - 1.0).abs() < 0.02, "{variance}");
        let (mean, variance) = posterior(&peaked(0.0, 0.4), &peaked(0.0, 0.4), 0.3, 0.2);
        assert!(mean.abs() < 1e-12 && variance > 0.0);
    }
}
