//! Exact unconditional tests and limits of a difference, by inversion of two one-sided score tests.
//!
//! For a difference delta the tables are ordered by their score statistic under that difference, and
//! `P(delta) = sup over p2 of P(T >= T observed)` with `p1 = p2 + delta`. The lower limit is the smallest delta at which P is
//! above half of 1 - level, the upper limit its mirror (Chan & Zhang 1999).

use super::score::Pair;
use crate::control::Control;
use crate::error::{CountError, Result};
use crate::math::search::maximum;

/// Most cuttings in both groups together: a few seconds of work.
pub(super) const MOST_EXACT: u64 = 20_000;
/// Grid step in binomial standard deviations of the larger group.
const STEP: f64 = 0.3;
/// The highest point of the grid is at most this share below the maximum beside it, with room to spare.
const SHORTFALL: f64 = 0.9;
/// Ties of the score statistic: relative difference of its square.
const TIED: f64 = 1e-9;
/// Steps outwards from a limit in search of a difference that is kept although its neighbours are not.
const LOOK_OUT: u32 = 60;
/// Probabilities below this share of the largest do not enter a sum.
const NEGLIGIBLE: f64 = 1e-22;

/// Two groups with all that the search needs again and again.
pub(super) struct Exact<'a> {
    pair: Pair,
    first: Group,
    second: Group,
    control: &'a Control,
}

/// One group: ratios of neighbouring binomial coefficients.
struct Group {
    ratios: Vec<f64>,
}

impl<'a> Exact<'a> {
    /// # Errors
    /// [`CountError::TooLargeForExact`].
    pub(super) fn new(pair: Pair, control: &'a Control) -> Result<Self> {
        let total = pair.n1 + pair.n2;
        if total > MOST_EXACT as f64 {
            return Err(CountError::TooLargeForExact { total: total as u64, most: MOST_EXACT }.into());
        }
        Ok(Self { pair, first: Group::new(pair.n1), second: Group::new(pair.n2), control })
    }

    /// Largest P of a score at least as high as observed when the difference is `delta`.
    pub(super) fn p(&self, delta: f64) -> Result<f64> {
        let region = Region::new(self, delta);
        let grid = region.grid(self)?;
        Ok(region.largest(self, &grid).min(1.0))
    }

    /// Smallest difference at which the P value is above `tail`.
    pub(super) fn lower_limit(&self, tail: f64) -> Result<f64> {
        let value = self.pair.x1 / self.pair.n1 - self.pair.x2 / self.pair.n2;
        if value <= -1.0 {
            return Ok(-1.0);
        }
        let mut limit = self.crossing(-1.0, value, tail)?;
        let step = 0.125 / self.pair.n1.max(self.pair.n2);
        let mut kept = None;
        for place in 1..=LOOK_OUT {
            let delta = limit - step * f64::from(place);
            if delta > -1.0 && self.exceeds(delta, tail)? {
                kept = Some(delta);
            }
        }
        if let Some(delta) = kept {
            limit = self.crossing((delta - step).max(-1.0), delta, tail)?;
        }
        Ok(limit)
    }

    /// Where P first exceeds `tail`, by halving between a difference that is rejected and one that is kept.
    fn crossing(&self, rejected: f64, kept: f64, tail: f64) -> Result<f64> {
        let (mut rejected, mut kept) = (rejected, kept);
        while kept - rejected > 1e-12 {
            let middle = f64::midpoint(rejected, kept);
            if self.exceeds(middle, tail)? {
                kept = middle;
            } else {
                rejected = middle;
            }
        }
        Ok(kept)
    }

    fn exceeds(&self, delta: f64, tail: f64) -> Result<bool> {
        let region = Region::new(self, delta);
        let grid = region.grid(self)?;
        let most = grid.iter().map(|at| at.1).fold(0.0, f64::max);
        if most > tail {
            return Ok(true);
        }
        Ok(most > SHORTFALL * tail && region.largest(self, &grid) > tail)
    }
}

/// The tables with a score at least as high as observed: for each count of the second group the least of the first.
struct Region {
    delta: f64,
    least: Vec<usize>,
}

impl Region {
    fn new(exact: &Exact<'_>, delta: f64) -> Self {
        let pair = exact.pair;
        let observed = pair.difference_share(delta, 1.0);
        let limit = observed - TIED * observed.abs().min(1.0 - observed.abs()) - 1e-15;
        let (n1, n2) = (pair.n1 as usize, pair.n2 as usize);
        // The score rises with the first count and falls with the second, so the boundary only climbs.
        let mut x1 = 0;
        let least = (0..=n2)
            .map(|x2| {
                let high_enough =
                    |x1: usize| Pair { x1: x1 as f64, x2: x2 as f64, ..pair }.difference_share(delta, 1.0) >= limit;
                while x1 <= n1 && !high_enough(x1) {
                    x1 += 1;
                }
                x1
            })
            .collect();
        Self { delta, least }
    }

    /// The range of the second rate.
    fn range(&self) -> (f64, f64) {
        ((-self.delta).max(0.0), (1.0 - self.delta).min(1.0))
    }

    fn rate(&self, angle: f64) -> f64 {
        let (low, high) = self.range();
        low + (high - low) * (0.5 * angle).sin().powi(2)
    }

    /// Probabilities at second rates spread evenly in an angle whose steps stay within a share of a standard deviation.
    fn grid(&self, exact: &Exact<'_>) -> Result<Vec<(f64, f64)>> {
        let cells = (std::f64::consts::PI * exact.pair.n1.max(exact.pair.n2).sqrt() / STEP).ceil().max(12.0);
        let mut scratch = Scratch::default();
        (0..=cells as usize)
            .map(|i| {
                exact.control.step()?;
                let angle = std::f64::consts::PI * i as f64 / cells;
                Ok((angle, self.probability(exact, angle, &mut scratch)))
            })
            .collect()
    }

    /// The largest probability: every peak of the grid that may hold it is refined.
    fn largest(&self, exact: &Exact<'_>, grid: &[(f64, f64)]) -> f64 {
        let most = grid.iter().map(|at| at.1).fold(0.0, f64::max);
        let mut scratch = Scratch::default();
        let mut best = most;
        for three in grid.windows(3) {
            let [before, at, after] = three else { continue };
            if at.1 >= before.1 && at.1 >= after.1 && at.1 >= SHORTFALL * most {
                let f = |angle: f64| self.probability(exact, angle, &mut scratch);
                best = best.max(maximum(f, before.0, at.0, after.0, 1e-7).1);
            }
        }
        // A peak next to an end of the range shows at the end of the grid.
        for ends in [grid.first().zip(grid.get(1)), grid.last().zip(grid.iter().rev().nth(1))] {
            let Some((end, next)) = ends else { continue };
            if end.1 >= next.1 && end.1 >= SHORTFALL * most {
                let f = |angle: f64| self.probability(exact, angle, &mut scratch);
                let middle = f64::midpoint(end.0, next.0);
                best = best.max(maximum(f, end.0.min(next.0), middle, end.0.max(next.0), 1e-7).1);
            }
        }
        best
    }

    fn probability(&self, exact: &Exact<'_>, angle: f64, scratch: &mut Scratch) -> f64 {
        let second = self.rate(angle);
        let first = (second + self.delta).clamp(0.0, 1.0);
        exact.first.probabilities(first, &mut scratch.first);
        exact.second.probabilities(second, &mut scratch.second);
        let mut sum = 0.0;
        for value in scratch.first.iter_mut().rev() {
            sum += *value;
            *value = sum;
        }
        let tail = |least: &usize| scratch.first.get(*least).copied().unwrap_or(0.0);
        self.least.iter().zip(&scratch.second).map(|(least, probability)| tail(least) * probability).sum()
    }
}

/// Room for the probabilities of both groups.
#[derive(Default)]
struct Scratch {
    first: Vec<f64>,
    second: Vec<f64>,
}

impl Group {
    fn new(n: f64) -> Self {
        Self { ratios: (0..n as usize).map(|k| (n - k as f64) / (k as f64 + 1.0)).collect() }
    }

    /// Binomial probabilities of 0 to n, outwards from the most likely count.
    fn probabilities(&self, p: f64, into: &mut Vec<f64>) {
        let n = self.ratios.len();
        into.clear();
        into.resize(n + 1, 0.0);
        let odds = p / (1.0 - p);
        let mode = if p >= 1.0 { n } else { (((n + 1) as f64 * p) as usize).min(n) };
        let (below, above) = into.split_at_mut(mode);
        let mut sum = 1.0;
        let mut term = 1.0;
        let mut up = above.iter_mut();
        if let Some(top) = up.next() {
            *top = 1.0;
        }
        for (value, ratio) in up.zip(self.ratios.iter().skip(mode)) {
            term *= ratio * odds;
            if term < NEGLIGIBLE {
                break;
            }
            *value = term;
            sum += term;
        }
        term = 1.0;
        let back = 1.0 / odds;
        for (value, ratio) in below.iter_mut().rev().zip(self.ratios.iter().take(mode).rev()) {
            term *= back / ratio;
            if term < NEGLIGIBLE {
                break;
            }
            *value = term;
            sum += term;
        }
        let scale = 1.0 / sum;
        into.iter_mut().for_each(|value| *value *= scale);
    }
}
