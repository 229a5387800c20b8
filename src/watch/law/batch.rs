//! One batch: the law of how many of it are alive, and its score for a change.

use super::lattice::Law;
use crate::control::{checkpoint, checkpoint_at};
use crate::math::distributions::beta_binomial;
use crate::math::special::expit;

/// A batch as a chart sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Started.
    pub started: u64,
    /// Alive.
    pub alive: u64,
    /// Logit of the expected rate.
    pub logit: f64,
}

/// Counts less likely than this share of the likeliest one never come.
const NEGLIGIBLE: f64 = 1e-16;

/// The law of the number alive of `started` at `rate` with correlation `rho`: outwards from the likeliest count by the ratio of neighbours.
#[must_use]
pub fn alive_law(started: u64, rate: f64, rho: f64) -> Law {
    checkpoint();
    let n = started as f64;
    let g = rho / (1.0 - rho);
    let up = |k: f64| (n - k) / (k + 1.0) * (g * k + rate) / (g * (n - k - 1.0) + 1.0 - rate);
    let mode = (n * rate).floor().clamp(0.0, n);
    let peak = beta_binomial::ln_pmf(mode, n, rate, rho).exp();
    let mut below = Vec::new();
    let (mut k, mut p) = (mode, peak);
    while k > 0.0 && p > NEGLIGIBLE * peak {
        checkpoint_at(below.len() as u64);
        p /= up(k - 1.0);
        k -= 1.0;
        below.push(p);
    }
    let low = mode as i64 - below.len() as i64;
    below.reverse();
    below.push(peak);
    let (mut k, mut p) = (mode, peak);
    while k < n && p > NEGLIGIBLE * peak {
        checkpoint_at(below.len() as u64);
        p *= up(k);
        k += 1.0;
        below.push(p);
    }
    Law::new(low, below)
}

/// How much likelier each count is after a change of the logit by `change`: logarithms, from 0 alive to all.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Score {
    steps: Vec<i64>,
}

impl Score {
    /// The score of a batch in whole steps.
    #[must_use]
    pub(super) fn new(batch: &Expected, change: f64, rho: f64, step: f64) -> Self {
        let (before, after) = (expit(batch.logit), expit(batch.logit + change));
        let g = rho / (1.0 - rho);
        let n = batch.started;
        // ln of the products over the alive and over the dead, one factor more at a time.
        let ratio = |i: u64, before: f64, after: f64| ((g * i as f64 + after) / (g * i as f64 + before)).ln();
        let mut dead = (0..n).map(|i| ratio(i, 1.0 - before, 1.0 - after)).sum::<f64>();
        let mut alive = 0.0;
        let mut steps = Vec::with_capacity(n as usize + 1);
        for k in 0..=n {
            checkpoint_at(k);
            steps.push(((alive + dead) / step).round() as i64);
            if k < n {
                alive += ratio(k, before, after);
                dead -= ratio(n - k - 1, 1.0 - before, 1.0 - after);
            }
        }
        Self { steps }
    }

    /// The score of a count.
    #[must_use]
    pub(super) fn of(&self, alive: u64) -> i64 {
        self.steps.get(alive as usize).or(self.steps.last()).copied().unwrap_or(0)
    }
}

/// What a batch tells of the logit: the inverse of its variance, by counts that are alike within it.
#[must_use]
pub(crate) fn information(batch: &Expected, rho: f64) -> f64 {
    let (rate, n) = (expit(batch.logit), batch.started as f64);
    n * rate * (1.0 - rate) / (1.0 + (n - 1.0) * rho)
}
