//! Counts as they could have been: drawn from the baseline, as uncertain as it is, with or without a drop.

use crate::math::dense::Cholesky;
use crate::math::distributions::rng::{ChaCha8Rng, beta_binomial_from_end, deviate, stream};
use crate::math::special::expit;
use crate::watch::baseline::{Baseline, Expectations, clustered};
use crate::watch::crop::{Batch, Grouping};

/// Batches of which something is expected, in their clusters and weeks.
#[derive(Debug, Clone)]
pub(super) struct CropLaw<'a> {
    pub(super) batches: Vec<&'a Batch>,
    pub(super) logits: Vec<f64>,
    rows: Rows,
    clusters: Vec<Vec<usize>>,
    weeks: Vec<Vec<usize>>,
    /// Columns of a square root of the covariance of the coefficients, of those that are free.
    root: Vec<Vec<f64>>,
    baseline: &'a Baseline,
}

/// Rows of a design in one piece: what is not 0 of each, one row after the other, and where each ends.
#[derive(Debug, Clone, Default)]
struct Rows {
    entries: Vec<(u32, f64)>,
    ends: Vec<usize>,
}

impl Rows {
    fn push(&mut self, row: &[(usize, f64)]) {
        self.entries.extend(row.iter().map(|(column, value)| (*column as u32, *value)));
        self.ends.push(self.entries.len());
    }

    /// The product of row `at` with `off`.
    fn times(&self, at: usize, off: &[f64]) -> f64 {
        let from = at.checked_sub(1).and_then(|before| self.ends.get(before)).copied().unwrap_or(0);
        let row = self.ends.get(at).and_then(|end| self.entries.get(from..*end)).unwrap_or_default();
        row.iter().filter_map(|(column, value)| Some(value * off.get(*column as usize)?)).sum()
    }
}

/// Seasons from which on their differences belong to chance.
pub(super) const SEASONS: u64 = 5;

impl<'a> CropLaw<'a> {
    pub(super) fn new(batches: &[&'a Batch], groupings: &'a [Grouping], baseline: &'a Baseline) -> Self {
        let expected = Expectations::of(baseline, groupings);
        let known = batches.iter().filter_map(|batch| Some((*batch, expected.logit(batch)?, expected.row(batch)?)));
        let (mut kept, mut logits, mut rows) = (Vec::new(), Vec::new(), Rows::default());
        for (batch, logit, row) in known {
            kept.push(batch);
            logits.push(logit);
            rows.push(&row);
        }
        let made = clustered(kept.iter().copied().enumerate(), groupings);
        let root = square_root(&baseline.covariance);
        Self { batches: kept, logits, rows, clusters: made.clusters, weeks: made.weeks, root, baseline }
    }

    /// One set of counts; `by` is the shift of each batch's logit, all of them known but for a share that they have in common.
    pub(super) fn draw(&self, seed: u64, replicate: u64, by: &[f64], unsure: f64, into: &mut Vec<u64>) {
        let mut rng = stream(seed, replicate);
        let by_times = if unsure > 0.0 { (1.0 + unsure * deviate(&mut rng)).max(0.0) } else { 1.0 };
        let spreads = self.baseline.spreads;
        let off = self.coefficients(&mut rng);
        let season = self.baseline.season_spread.filter(|_| self.baseline.n_seasons >= SEASONS).unwrap_or(0.0);
        let season = season * deviate(&mut rng);
        into.clear();
        into.resize(self.batches.len(), 0);
        for week in &self.weeks {
            let of_week = season + spreads.week * deviate(&mut rng);
            for cluster in week.iter().filter_map(|at| self.clusters.get(*at)) {
                let shift = of_week + spreads.week_in_place * deviate(&mut rng);
                for at in cluster {
                    let Some((batch, logit)) = self.batches.get(*at).zip(self.logits.get(*at)) else { continue };
                    let baseline = self.rows.times(*at, &off);
                    let rate = expit(logit + shift + baseline + by_times * by.get(*at).copied().unwrap_or(0.0));
                    let drawn = beta_binomial_from_end(&mut rng, batch.started, rate, spreads.batch);
                    into.iter_mut().skip(*at).take(1).for_each(|alive| *alive = drawn);
                }
            }
        }
    }

    /// How far the true coefficients may lie from the estimate.
    fn coefficients(&self, rng: &mut ChaCha8Rng) -> Vec<f64> {
        let mut off = vec![0.0; self.baseline.coefficients.len()];
        for column in &self.root {
            let z = deviate(rng);
            off.iter_mut().zip(column).for_each(|(sum, part)| *sum += z * part);
        }
        off
    }
}

/// Columns of the square root of a covariance; coefficients without a variance have none.
fn square_root(covariance: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let free: Vec<usize> = covariance
        .iter()
        .enumerate()
        .filter(|(at, row)| row.get(*at).is_some_and(|v| *v > 0.0))
        .map(|(at, _)| at)
        .collect();
    let entry = |i: usize, j: usize| covariance.get(i).and_then(|row| row.get(j)).copied().unwrap_or(0.0);
    let part: Vec<Vec<f64>> = free.iter().map(|i| free.iter().map(|j| entry(*i, *j)).collect()).collect();
    let inverse = Cholesky::new(&part).map(|root| root.inverse());
    let Some(root) = inverse.and_then(|inverse| Cholesky::new(&inverse)) else { return Vec::new() };
    // What the root of the inverse makes of a unit vector is a column of a root.
    (0..free.len())
        .map(|j| {
            let unit: Vec<f64> = (0..free.len()).map(|i| if i == j { 1.0 } else { 0.0 }).collect();
            let mut column = vec![0.0; covariance.len()];
            for (at, value) in free.iter().zip(root.backward(unit)) {
                column.iter_mut().skip(*at).take(1).for_each(|entry| *entry = value);
            }
            column
        })
        .collect()
}
