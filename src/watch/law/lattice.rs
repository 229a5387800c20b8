//! Laws on whole steps: probabilities of a run of neighbouring whole numbers, sums of independent ones, mixtures.

use crate::control::checkpoint_at;

/// Probabilities below this are cut off at both ends.
const NEGLIGIBLE: f64 = 1e-13;

/// The law of a whole number: `p[i]` is the probability of `low + i`.
///
/// ```
/// use rootling::watch::Law;
/// let coin = Law::new(0, vec![0.5, 0.5]);
/// assert_eq!(coin.sum_with(&coin), Law::new(0, vec![0.25, 0.5, 0.25]));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Law {
    low: i64,
    p: Vec<f64>,
}

impl Law {
    /// The law with these probabilities from `low` on.
    #[must_use]
    pub fn new(low: i64, p: Vec<f64>) -> Self {
        Self { low, p }
    }

    /// The law of what is always this number.
    #[must_use]
    pub fn at(value: i64) -> Self {
        Self { low: value, p: vec![1.0] }
    }

    /// The law of numbers with these probabilities, in any order and with repeats.
    #[must_use]
    pub fn of(atoms: impl IntoIterator<Item = (i64, f64)> + Clone) -> Self {
        let values = || atoms.clone().into_iter().filter(|(_, p)| *p > 0.0).map(|(value, _)| value);
        let Some((low, high)) = values().min().zip(values().max()) else { return Self::at(0) };
        let mut p = vec![0.0; (high - low) as usize + 1];
        for (value, weight) in atoms {
            if let Some(entry) = p.get_mut((value - low) as usize) {
                *entry += weight;
            }
        }
        Self { low, p }
    }

    /// The smallest number.
    #[must_use]
    pub fn low(&self) -> i64 {
        self.low
    }

    /// The largest number.
    #[must_use]
    pub fn high(&self) -> i64 {
        self.low + self.p.len() as i64 - 1
    }

    /// Probabilities from the smallest number on.
    #[must_use]
    pub fn probabilities(&self) -> &[f64] {
        &self.p
    }

    /// The probability of a number.
    #[must_use]
    pub fn p(&self, value: i64) -> f64 {
        usize::try_from(value - self.low).ok().and_then(|at| self.p.get(at)).copied().unwrap_or(0.0)
    }

    /// Numbers with their probabilities.
    pub fn atoms(&self) -> impl Iterator<Item = (i64, f64)> + '_ {
        (self.low..).zip(self.p.iter().copied())
    }

    /// Mean and variance.
    #[must_use]
    pub fn moments(&self) -> (f64, f64) {
        let total: f64 = self.p.iter().sum();
        let mean = self.atoms().map(|(value, p)| value as f64 * p).sum::<f64>() / total;
        let variance = self.atoms().map(|(value, p)| (value as f64 - mean).powi(2) * p).sum::<f64>() / total;
        (mean, variance)
    }

    /// The law of the sum with an independent number.
    #[must_use]
    pub fn sum_with(&self, other: &Self) -> Self {
        let (long, short) = if self.p.len() >= other.p.len() { (self, other) } else { (other, self) };
        let mut p = vec![0.0; long.p.len() + short.p.len() - 1];
        for (at, weight) in short.p.iter().enumerate().filter(|(_, weight)| **weight > 0.0) {
            checkpoint_at(at as u64);
            if let Some(into) = p.get_mut(at..at + long.p.len()) {
                into.iter_mut().zip(&long.p).for_each(|(sum, one)| *sum += weight * one);
            }
        }
        Self { low: self.low + other.low, p }.trimmed()
    }

    /// The same without ends that never come.
    #[must_use]
    fn trimmed(mut self) -> Self {
        let matters = |p: &f64| p.abs() > NEGLIGIBLE;
        let Some(first) = self.p.iter().position(matters) else { return self };
        let last = self.p.iter().rposition(matters).unwrap_or(first);
        self.p.truncate(last + 1);
        self.p.drain(..first);
        self.low += first as i64;
        self
    }

    /// The mixture of laws; weights need not add up to 1 and may be slightly negative, as those of an interpolation are.
    #[must_use]
    pub fn mixture(laws: &[Self], weights: &[f64]) -> Self {
        let used = || laws.iter().zip(weights).filter(|(_, weight)| **weight != 0.0);
        let low = used().map(|(law, _)| law.low).min().unwrap_or(0);
        let high = used().map(|(law, _)| law.high()).max().unwrap_or(0);
        let mut p = vec![0.0; (high - low) as usize + 1];
        for (law, weight) in used() {
            let from = (law.low - low) as usize;
            if let Some(into) = p.get_mut(from..from + law.p.len()) {
                into.iter_mut().zip(&law.p).for_each(|(sum, one)| *sum += weight * one);
            }
        }
        // Where nothing is likely an interpolation may dip below 0.
        p.iter_mut().for_each(|p| *p = p.max(0.0));
        let total: f64 = p.iter().sum();
        p.iter_mut().for_each(|p| *p /= total);
        Self { low, p }.trimmed()
    }

    /// The law of what becomes of the number.
    #[must_use]
    pub fn mapped(&self, f: impl Fn(i64) -> i64) -> Self {
        let values: Vec<i64> = (self.low..=self.high()).map(f).collect();
        let Some((low, high)) = values.iter().min().zip(values.iter().max()) else { return self.clone() };
        let mut p = vec![0.0; (high - low) as usize + 1];
        for (value, weight) in values.iter().zip(&self.p) {
            if let Some(entry) = p.get_mut((value - low) as usize) {
                *entry += weight;
            }
        }
        Self { low: *low, p }
    }
}
