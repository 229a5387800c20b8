//! Two groups with any number rooted: the hypergeometric terms for each total, as logarithms.

use crate::math::special::ln_choose;

/// A sum of falling terms stops when what is left no longer changes it.
const NEGLIGIBLE: f64 = 1e-18;

/// Sizes of both groups, with the logarithms of all binomial coefficients they need.
#[derive(Debug)]
pub(super) struct Margins {
    pub(super) first: usize,
    pub(super) second: usize,
    of_first: Vec<f64>,
    of_second: Vec<f64>,
    of_both: Vec<f64>,
}

/// Which way a tail runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    Up,
    Down,
}

impl Margins {
    pub(super) fn new(first: usize, second: usize) -> Self {
        let row = |n: usize| (0..=n).map(|k| ln_choose(n as f64, k as f64)).collect();
        Self { first, second, of_first: row(first), of_second: row(second), of_both: row(first + second) }
    }

    pub(super) fn total(&self) -> usize {
        self.first + self.second
    }

    /// Least and most rooted in the first group when `rooted` did in all.
    pub(super) fn support(&self, rooted: usize) -> (usize, usize) {
        (rooted.saturating_sub(self.second), rooted.min(self.first))
    }

    /// ln of the number of ways to have `x` rooted in the first group and `rooted` in all.
    pub(super) fn ln_ways(&self, x: usize, rooted: usize) -> f64 {
        let part = |list: &[f64], at: Option<usize>| at.and_then(|at| list.get(at)).copied();
        match (part(&self.of_first, Some(x)), part(&self.of_second, rooted.checked_sub(x))) {
            (Some(one), Some(two)) => one + two,
            _ => f64::NEG_INFINITY,
        }
    }

    /// ln of the number of ways to have `rooted` in all.
    pub(super) fn ln_all(&self, rooted: usize) -> f64 {
        self.of_both.get(rooted).copied().unwrap_or(f64::NEG_INFINITY)
    }

    /// Most likely number rooted in the first group given `rooted` in all.
    pub(super) fn mode(&self, rooted: usize) -> usize {
        let (low, high) = self.support(rooted);
        let most = (rooted as u128 + 1) * (self.first as u128 + 1) / (self.total() as u128 + 2);
        usize::try_from(most).unwrap_or(high).clamp(low, high)
    }

    /// The factor from the term at `x` to its neighbour; 0 beyond the end.
    pub(super) fn step(&self, x: usize, rooted: usize, way: Way) -> f64 {
        let (n1, n2, s, k) = (self.first as f64, self.second as f64, rooted as f64, x as f64);
        match way {
            Way::Up => (n1 - k) / (k + 1.0) * ((s - k) / (n2 - s + k + 1.0)),
            Way::Down => k / (n1 - k + 1.0) * ((n2 - s + k) / (s - k + 1.0)),
        }
    }

    /// Sum of the terms from `x` on, over the term at `x`; call it on the falling side only.
    fn falling(&self, x: usize, rooted: usize, way: Way) -> f64 {
        let (low, high) = self.support(rooted);
        let (mut at, mut term, mut sum) = (x, 1.0, 1.0);
        while (way == Way::Up && at < high) || (way == Way::Down && at > low) {
            term *= self.step(at, rooted, way);
            sum += term;
            if term <= NEGLIGIBLE * sum {
                break;
            }
            at = if way == Way::Up { at + 1 } else { at - 1 };
        }
        sum
    }

    /// ln of the number of ways from `x` on in one direction, for a given total rooted.
    pub(super) fn ln_tail(&self, x: usize, rooted: usize, way: Way) -> f64 {
        let (low, high) = self.support(rooted);
        let mode = self.mode(rooted);
        let beyond = if way == Way::Up { x >= mode } else { x <= mode };
        if beyond {
            return self.ln_ways(x, rooted) + self.falling(x, rooted, way).ln();
        }
        // The mode is inside: all ways less the other tail.
        let other = match way {
            Way::Up if x > low => self.ln_ways(x - 1, rooted) + self.falling(x - 1, rooted, Way::Down).ln(),
            Way::Down if x < high => self.ln_ways(x + 1, rooted) + self.falling(x + 1, rooted, Way::Up).ln(),
            _ => return self.ln_all(rooted),
        };
        let all = self.ln_all(rooted);
        all + (-(other - all).exp()).ln_1p()
    }
}
