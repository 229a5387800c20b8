//! The count in one cell of a 2 x 2 table given all margins: the extended hypergeometric distribution.
//!
//! Probabilities are built by multiplying ratios of neighbouring terms outwards from the most likely count, so no
//! logarithm of a large factorial enters, tails are sums of their own terms, and a table of a million plants costs a few
//! standard deviations of steps.

use crate::error::Result;
use crate::math::search::{boundary, root_from};

/// Terms below this share of the sum no longer change it.
const NEGLIGIBLE: f64 = 1e-22;
/// Scale of a running product that would underflow.
const SHIFT: f64 = 1e-200;
/// After this many shifts the product is below 1e-600 and counts as 0.
const MOST_SHIFTS: u32 = 3;
/// Relative slack within which two probabilities count as equal.
const SLACK: f64 = 1e-7;

/// Most plants in an exact test given the margins: a second of work.
pub(crate) const MOST_CONDITIONAL: u64 = 1_000_000_000;

/// Number rooted in the first group, given both group sizes and the total rooted.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Conditional {
    first: f64,
    second: f64,
    rooted: f64,
    observed: f64,
}

/// Tail probabilities at the observed count.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tails {
    /// `P(K <= k)`.
    pub(crate) lower: f64,
    /// `P(K >= k)`.
    pub(crate) upper: f64,
    /// `P(K = k)`.
    pub(crate) point: f64,
}

/// A product that may be far below the smallest float: `value * SHIFT^shifts`.
#[derive(Debug, Clone, Copy)]
struct Scaled {
    value: f64,
    shifts: u32,
}

impl Scaled {
    const ONE: Self = Self { value: 1.0, shifts: 0 };

    fn times(self, factor: f64) -> Self {
        let value = self.value * factor;
        if value < SHIFT && value > 0.0 {
            Self { value: value / SHIFT, shifts: self.shifts + 1 }
        } else {
            Self { value, ..self }
        }
    }

    fn vanished(self) -> bool {
        self.value <= 0.0 || self.shifts >= MOST_SHIFTS
    }

    fn at_most(self, other: Self) -> bool {
        self.shifts > other.shifts || (self.shifts == other.shifts && self.value <= other.value * (1.0 + SLACK))
    }

    fn number(self) -> f64 {
        (0..self.shifts).fold(self.value, |product, _| product * SHIFT)
    }
}

impl Conditional {
    /// `observed` of `first` in one group, `rooted` in all, `second` in the other group; whole numbers that fit together.
    pub(crate) const fn new(observed: u64, first: u64, second: u64, rooted: u64) -> Self {
        Self { first: first as f64, second: second as f64, rooted: rooted as f64, observed: observed as f64 }
    }

    /// Smallest possible count.
    pub(crate) fn least(self) -> f64 {
        (self.rooted - self.second).max(0.0)
    }

    /// Largest possible count.
    pub(crate) fn most(self) -> f64 {
        self.rooted.min(self.first)
    }

    /// Whether the margins leave only one table.
    pub(crate) fn is_fixed(self) -> bool {
        self.least() >= self.most()
    }

    /// `P(k + 1) / P(k)`.
    fn ratio(self, k: f64, odds_ratio: f64) -> f64 {
        odds_ratio * (self.first - k) / (k + 1.0) * (self.rooted - k) / (self.second - self.rooted + k + 1.0)
    }

    /// The factor from `k` to its neighbour upwards or downwards; 0 beyond the ends.
    fn step(self, k: f64, up: bool, odds_ratio: f64) -> f64 {
        match up {
            true if k >= self.most() => 0.0,
            false if k <= self.least() => 0.0,
            true => self.ratio(k, odds_ratio),
            false => 1.0 / self.ratio(k - 1.0, odds_ratio),
        }
    }

    /// Most likely count: the first from which the falling ratio leads down.
    fn mode(self, odds_ratio: f64) -> f64 {
        boundary(self.least() - 1.0, self.most(), |k| self.ratio(k, odds_ratio) <= 1.0)
    }

    /// Sum of `P(j) / P(k)`, and of `(j - k) P(j) / P(k)`, over all j strictly beyond `k`.
    fn beyond(self, k: f64, up: bool, odds_ratio: f64) -> (f64, f64) {
        let toward = if up { 1.0 } else { -1.0 };
        let (mut at, mut term, mut sum, mut moment) = (k, 1.0, 0.0, 0.0);
        loop {
            term *= self.step(at, up, odds_ratio);
            if term <= NEGLIGIBLE * (1.0 + sum) {
                return (sum, moment);
            }
            at += toward;
            sum += term;
            moment += (at - k) * term;
        }
    }

    /// `P(k) / P(mode)`.
    fn share(self, k: f64, mode: f64, odds_ratio: f64) -> Scaled {
        let up = k > mode;
        let toward = if up { 1.0 } else { -1.0 };
        let (mut at, mut share) = (mode, Scaled::ONE);
        while (at - k).abs() > 0.5 && !share.vanished() {
            share = share.times(self.step(at, up, odds_ratio));
            at += toward;
        }
        share
    }

    /// Probability from `k` on, over that of the mode, at odds ratio 1; `total` is that of all counts.
    fn tail_share(self, k: f64, up: bool, mode: f64, total: f64) -> Scaled {
        if (up && k >= mode) || (!up && k <= mode) {
            let share = self.share(k, mode, 1.0);
            return Scaled { value: share.value * (1.0 + self.beyond(k, up, 1.0).0), ..share };
        }
        let next = if up { k - 1.0 } else { k + 1.0 };
        if next < self.least() || next > self.most() {
            return Scaled { value: total, shifts: 0 };
        }
        Scaled { value: total - self.tail_share(next, !up, mode, total).number(), shifts: 0 }
    }

    /// Blaker's two-sided P: the smaller tail at the observed count and the largest opposite tail that does not exceed it.
    pub(crate) fn blaker(self) -> f64 {
        let mode = self.mode(1.0);
        let total = self.total(mode, 1.0);
        let (lower, upper) =
            (self.tail_share(self.observed, false, mode, total), self.tail_share(self.observed, true, mode, total));
        let up = upper.at_most(lower);
        let own = if up { upper } else { lower };
        // From the observed count on the opposite tail is too heavy; beyond the end there is none.
        let end = if up { self.least() - 1.0 } else { self.most() + 1.0 };
        let outer = boundary(self.observed, end, |k| self.tail_share(k, !up, mode, total).at_most(own));
        let none = outer < self.least() || outer > self.most();
        let opposite = if none { 0.0 } else { self.tail_share(outer, !up, mode, total).number() };
        ((own.number() + opposite) / total).min(1.0)
    }

    /// Sum of all probabilities over that of the mode.
    fn total(self, mode: f64, odds_ratio: f64) -> f64 {
        1.0 + self.beyond(mode, true, odds_ratio).0 + self.beyond(mode, false, odds_ratio).0
    }

    /// Tails at the observed count for a given odds ratio; the smaller one is summed directly.
    pub(crate) fn tails(self, odds_ratio: f64) -> Tails {
        let mode = self.mode(odds_ratio);
        let point = (self.share(self.observed, mode, odds_ratio).number() / self.total(mode, odds_ratio)).min(1.0);
        let up = self.observed >= mode;
        let near = (point * (1.0 + self.beyond(self.observed, up, odds_ratio).0)).min(1.0);
        let far = (1.0 - near + point).min(1.0);
        if up { Tails { lower: far, upper: near, point } } else { Tails { lower: near, upper: far, point } }
    }

    /// Sum of the probabilities that do not exceed the observed one, at odds ratio 1.
    pub(crate) fn not_more_probable(self) -> f64 {
        let mode = self.mode(1.0);
        let limit = self.share(self.observed, mode, 1.0);
        if Scaled::ONE.at_most(limit) {
            return 1.0;
        }
        let sum = self.light_tail(mode, true, limit) + self.light_tail(mode, false, limit);
        (sum / self.total(mode, 1.0)).min(1.0)
    }

    /// Sum, relative to the mode, of the terms on one side that do not exceed `limit`.
    fn light_tail(self, mode: f64, up: bool, limit: Scaled) -> f64 {
        let toward = if up { 1.0 } else { -1.0 };
        let (mut at, mut share) = (mode, Scaled::ONE);
        while !share.at_most(limit) {
            share = share.times(self.step(at, up, 1.0));
            at += toward;
            if share.vanished() {
                return 0.0;
            }
        }
        share.number() * (1.0 + self.beyond(at, up, 1.0).0)
    }

    /// Mean count for a given odds ratio.
    fn mean(self, odds_ratio: f64) -> f64 {
        let mode = self.mode(odds_ratio);
        let (above, up) = self.beyond(mode, true, odds_ratio);
        let (below, down) = self.beyond(mode, false, odds_ratio);
        mode + (up + down) / (1.0 + above + below)
    }

    /// Log odds ratio of the counts with one half added to each cell, a start for searches.
    fn start(self) -> f64 {
        let (a, b) = (self.observed + 0.5, self.first - self.observed + 0.5);
        let (c, d) = (self.rooted - self.observed + 0.5, self.second - self.rooted + self.observed + 0.5);
        (a / b).ln() + (d / c).ln()
    }

    /// Conditional maximum likelihood estimate of the odds ratio: the mean count equals the observed one.
    ///
    /// # Errors
    /// A numeric error when the search does not settle.
    pub(crate) fn odds_ratio(self) -> Result<f64> {
        if self.observed <= self.least() {
            return Ok(0.0);
        }
        if self.observed >= self.most() {
            return Ok(f64::INFINITY);
        }
        Ok(root_from(|t| self.mean(t.exp()) - self.observed, self.start(), 0.5, 1e-12)?.exp())
    }

    /// Odds ratios at which each tail, with the observed count weighing `weight` (1 exact, 1/2 mid-P), equals `tail`.
    ///
    /// # Errors
    /// A numeric error when a search does not settle.
    pub(crate) fn odds_ratio_limits(self, tail: f64, weight: f64) -> Result<(f64, f64)> {
        let lighter = |side: f64, point: f64| side - (1.0 - weight) * point;
        let upper = |t: f64| {
            let tails = self.tails(t.exp());
            lighter(tails.upper, tails.point) - tail
        };
        let lower = |t: f64| {
            let tails = self.tails(t.exp());
            tail - lighter(tails.lower, tails.point)
        };
        let low = if self.observed <= self.least() { 0.0 } else { root_from(upper, self.start(), 0.5, 1e-12)?.exp() };
        let high = if self.observed >= self.most() {
            f64::INFINITY
        } else {
            root_from(lower, self.start(), 0.5, 1e-12)?.exp()
        };
        Ok((low, high))
    }
}
