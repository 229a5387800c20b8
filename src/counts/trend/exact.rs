//! The exact distribution of a score sum, given how many cuttings each group has and how many rooted in all.

use serde::{Deserialize, Serialize};

use super::groups::{Groups, whole_scores};
use crate::control::Control;
use crate::counts::exact::{ExactOptions, Exactness, count_tables, drawn_p};
use crate::error::Result;
use crate::math::distributions::binomial;

/// Relative slack within which two probabilities or distances count as equal.
const SLACK: f64 = 1e-7;
/// Entries of the convolution held at one time (8 bytes each).
const MOST_CELLS: u64 = 30_000_000;

/// Exact P values of a trend; `statistic` is the sum of the scores of the rooted cuttings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrendExact {
    /// Sum of the scores of the rooted cuttings.
    pub statistic: f64,
    /// Its mean without a trend.
    pub mean: f64,
    /// Two-sided P: all sums that are not more probable than the observed one, with relative slack 1e-7. With two groups it
    /// is Fisher's.
    pub p: f64,
    /// P of a sum at most as large as observed.
    pub p_lower: f64,
    /// P of a sum at least as large as observed.
    pub p_higher: f64,
    /// Probability of the observed sum.
    pub probability: f64,
    /// `less` with the observed sum weighing one half.
    pub mid_p_lower: f64,
    /// `greater` with the observed sum weighing one half.
    pub mid_p_higher: f64,
    /// Twice the smaller tail, at most 1.
    pub doubled: f64,
    /// P of a sum at least as far from its mean.
    pub by_distance: f64,
    /// Whether every table was accounted for.
    pub method: Exactness,
    /// Standard error of a drawn two-sided P.
    pub se: Option<f64>,
    /// Tables drawn.
    pub draws: Option<u64>,
    /// Seed of the draws.
    pub seed: Option<u64>,
}

/// The exact test, by convolution where `options.work` allows it, else by random tables.
pub(super) fn exact(groups: &Groups, options: ExactOptions, control: &Control) -> Result<TrendExact> {
    let options = options.check()?;
    if let Some(scores) = whole_scores(&groups.scores)
        && let Some(law) = law(groups, &scores, options.work, control)?
    {
        return Ok(from_law(groups, &scores, &law));
    }
    drawn(groups, options, control)
}

/// P(sum = k) for whole scores, k from 0; `None` when it is too much work.
fn law(groups: &Groups, scores: &[u64], work: u64, control: &Control) -> Result<Option<Vec<f64>>> {
    let (rooted, stuck) = (groups.total_rooted(), groups.total_stuck());
    // The fewer of rooted and not rooted are spread over the groups; the other sum follows from the total.
    let spread = rooted.min(stuck - rooted);
    let top = scores.iter().max().copied().unwrap_or(0).saturating_mul(spread);
    let cells = top.saturating_add(1).saturating_mul(spread + 1);
    let ways: u64 = groups.stuck.iter().fold(0, |sum: u64, n| sum.saturating_add(n.min(&spread) + 1));
    let whole =
        scores.iter().zip(&groups.stuck).fold(0_u64, |sum, (score, n)| sum.saturating_add(score.saturating_mul(*n)));
    if cells > MOST_CELLS
        || (spread < rooted && whole > MOST_CELLS)
        || cells.saturating_mul(ways) > work.saturating_mul(8)
    {
        return Ok(None);
    }
    let chance = spread as f64 / stuck as f64;
    // Lowest scores first, so that sums stay small as long as they can.
    let mut order: Vec<(u64, u64)> = scores.iter().copied().zip(groups.stuck.iter().copied()).collect();
    order.sort_unstable();
    let spread = spread as usize;
    let mut rows: Vec<Vec<f64>> = vec![Vec::new(); spread + 1];
    if let Some(start) = rows.first_mut() {
        start.push(1.0);
    }
    let mut so_far = 0_usize;
    for (group, (score, n)) in order.iter().enumerate() {
        let weights: Vec<f64> =
            (0..=*n.min(&(spread as u64))).map(|k| binomial::pmf(k as f64, *n as f64, chance)).collect();
        so_far = spread.min(so_far + *n as usize);
        // Behind the last group only the sums of all are asked for.
        let least = if group + 1 == order.len() { spread } else { 0 };
        // From the last row back, so that the rows a row is made from are still the old ones.
        for at in (least..=so_far).rev() {
            control.step()?;
            let (earlier, rest) = rows.split_at_mut(at);
            let Some(row) = rest.first_mut() else { continue };
            row.resize(at * *score as usize + 1, 0.0);
            for value in row.iter_mut() {
                *value *= weights.first().copied().unwrap_or(0.0);
            }
            for (k, weight) in weights.iter().enumerate().skip(1).take(at) {
                let shift = k * *score as usize;
                if let (Some(from), Some(to)) = (earlier.get(at - k), row.get_mut(shift..)) {
                    for (to, from) in to.iter_mut().zip(from) {
                        *to += weight * from;
                    }
                }
            }
        }
    }
    let mut last = rows.pop().unwrap_or_default();
    let total: f64 = last.iter().sum();
    for value in &mut last {
        *value /= total;
    }
    if (spread as u64) < rooted {
        // Sums of those that did not root: the rooted have the rest.
        return Ok(Some(mirrored(&last, whole as usize)));
    }
    Ok(Some(last))
}

fn mirrored(law: &[f64], whole: usize) -> Vec<f64> {
    let mut turned = vec![0.0; whole + 1];
    for (to, from) in turned.iter_mut().rev().zip(law) {
        *to = *from;
    }
    turned
}

fn from_law(groups: &Groups, scores: &[u64], law: &[f64]) -> TrendExact {
    let observed: u64 = scores.iter().zip(&groups.rooted).map(|(score, rooted)| score * rooted).sum();
    let whole: u64 = scores.iter().zip(&groups.stuck).map(|(score, stuck)| score * stuck).sum();
    let mean = whole as f64 * groups.total_rooted() as f64 / groups.total_stuck() as f64;
    let at = observed as usize;
    let probability = law.get(at).copied().unwrap_or(0.0);
    let less: f64 = law.iter().take(at + 1).sum();
    let greater: f64 = law.iter().skip(at).rev().sum();
    let limit = probability * (1.0 + SLACK);
    let by_probability: f64 = law.iter().filter(|p| **p <= limit).sum();
    let distance = (observed as f64 - mean).abs() * (1.0 - SLACK);
    let by_distance: f64 =
        law.iter().enumerate().filter(|(k, _)| (*k as f64 - mean).abs() >= distance).map(|(_, p)| p).sum();
    TrendExact {
        statistic: groups.statistic(),
        mean: groups.mean_statistic(),
        p: by_probability.min(1.0),
        p_lower: less.min(1.0),
        p_higher: greater.min(1.0),
        probability,
        mid_p_lower: (less - 0.5 * probability).min(1.0),
        mid_p_higher: (greater - 0.5 * probability).min(1.0),
        doubled: (2.0 * less.min(greater)).min(1.0),
        by_distance: by_distance.min(1.0),
        method: Exactness::Exact,
        se: None,
        draws: None,
        seed: None,
    }
}

/// Random tables: a drawn sum has no probability of its own, so the two-sided P is by distance from the mean.
fn drawn(groups: &Groups, options: ExactOptions, control: &Control) -> Result<TrendExact> {
    let (observed, all) = (groups.scaled_statistic(), groups.total_rooted());
    let mean = groups.scaled_spread().0 * all as f64;
    let slack = 1e-9 * all as f64;
    let [less, greater, far, same] = count_tables(
        (&groups.stuck, &[all, groups.total_stuck() - all]),
        options.draws,
        options.seed,
        control,
        |columns| {
            let sum: f64 = columns
                .first()
                .map_or(0.0, |rooted| groups.scaled.iter().zip(rooted).map(|(score, n)| score * *n as f64).sum());
            let off = sum - observed;
            let far = (sum - mean).abs() >= (observed - mean).abs() - slack;
            [off <= slack, off >= -slack, far, off.abs() <= slack]
        },
    )?;
    let p = |hits| drawn_p(hits, options.draws).0;
    let (by_distance, se) = drawn_p(far, options.draws);
    let probability = same as f64 / options.draws as f64;
    Ok(TrendExact {
        statistic: groups.statistic(),
        mean: groups.mean_statistic(),
        p: by_distance,
        p_lower: p(less),
        p_higher: p(greater),
        probability,
        mid_p_lower: p(less) - 0.5 * probability,
        mid_p_higher: p(greater) - 0.5 * probability,
        doubled: (2.0 * p(less.min(greater))).min(1.0),
        by_distance,
        method: Exactness::Drawn,
        se: Some(se),
        draws: Some(options.draws),
        seed: Some(options.seed),
    })
}
