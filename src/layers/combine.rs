//! The variance of a linear combination of counts, with its degrees of freedom.

use serde::{Deserialize, Serialize};

use super::components::{Component, Layers};
use super::joint::{JointJudged, joint};
use super::trays::Trays;
use crate::math::dense::dot;

/// A variance estimated from mean squares.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// The variance.
    pub variance: f64,
    /// Its degrees of freedom by Satterthwaite.
    pub df: f64,
}

impl Layers {
    /// The variance of a linear combination `sum c_i y_i` of counts.
    ///
    /// `within` is its variance if there were trays alone, `sum c_i^2 m_i v_i (1 + (m_i - 1) icc)` with the trays' correlation
    /// [`super::TrayPart::used`] and `v = p (1 - p)`. `sums` has one entry per layer, in the order of `components`: over its levels
    /// the sum of `(sum_i c_i m_i sqrt(v_i))^2`.
    ///
    /// The variance is linear in the mean squares, so it has Satterthwaite's degrees of freedom; in a balanced layout the classical
    /// ones: those of the bays for a difference between bays, of the trays for one within.
    #[must_use]
    pub fn variance(&self, within: f64, sums: &[f64]) -> Judged {
        let mut left = sums.to_vec();
        left.resize(self.components.len(), 0.0);
        let mut trays = within;
        let (mut variance, mut spread) = (0.0, 0.0);
        for (at, component) in self.components.iter().enumerate() {
            let own = component.parts.by.get(at).copied().unwrap_or(0.0);
            let sum = left.get(at).copied().unwrap_or(0.0);
            if component.df < 0.5 {
                continue;
            }
            let weight = sum / own;
            for (other, (place, by)) in left.iter_mut().zip(&component.parts.by).enumerate() {
                if other > at {
                    *place -= weight * by;
                }
            }
            trays -= weight * component.parts.base;
            let share = weight * component.parts.used;
            variance += share;
            spread += share * share / component.df;
        }
        // Rounding leaves a trace of trays in what lies between levels alone.
        if trays.abs() < 1e-9 * within {
            trays = 0.0;
        }
        variance += trays;
        spread += trays * trays / self.tray.df;
        Judged { variance: variance * self.share_within, df: variance * variance / spread }
    }

    /// The same from one coefficient and one rate per tray.
    #[must_use]
    pub fn of_combination(&self, trays: &Trays<'_>, coefficients: &[f64], rates: &[f64]) -> Judged {
        self.of_combination_but(trays, coefficients, rates, &[])
    }

    /// The same as if the levels of some columns did not differ.
    #[must_use]
    pub fn of_combination_but(&self, trays: &Trays<'_>, coefficients: &[f64], rates: &[f64], but: &[&str]) -> Judged {
        let within = self.within_of(trays, (coefficients, coefficients), rates);
        let square = |component: &Component| {
            let sums = level_sums(trays, component.place, coefficients, rates);
            if but.contains(&component.name.as_str()) { 0.0 } else { dot(&sums, &sums) }
        };
        let sums: Vec<f64> = self.components.iter().map(square).collect();
        self.variance(within, &sums)
    }

    /// Several combinations at once with the values `u`: one coefficient per tray for each of them, one rate per tray, as if the levels of
    /// the columns `but` did not differ. None where they are not independent of each other.
    #[must_use]
    pub fn joint_of(
        &self,
        trays: &Trays<'_>,
        (u, combinations): (&[f64], &[Vec<f64>]),
        rates: &[f64],
        but: &[&str],
    ) -> Option<JointJudged> {
        let within: Vec<Vec<f64>> = combinations
            .iter()
            .map(|a| combinations.iter().map(|b| self.within_of(trays, (a, b), rates)).collect())
            .collect();
        let products = |component: &Component| -> Vec<Vec<f64>> {
            if but.contains(&component.name.as_str()) {
                return vec![vec![0.0; u.len()]; u.len()];
            }
            let sums: Vec<Vec<f64>> =
                combinations.iter().map(|one| level_sums(trays, component.place, one, rates)).collect();
            sums.iter().map(|a| sums.iter().map(|b| dot(a, b)).collect()).collect()
        };
        let sums: Vec<Vec<Vec<f64>>> = self.components.iter().map(products).collect();
        joint(self, u, &within, &sums)
    }

    /// The covariance of two combinations if there were trays alone.
    fn within_of(&self, trays: &Trays<'_>, (a, b): (&[f64], &[f64]), rates: &[f64]) -> f64 {
        let icc = self.tray.used();
        let each = a.iter().zip(b).zip(rates).zip(trays.stuck);
        each.map(|(((a, b), p), m)| a * b * m * p * (1.0 - p) * (1.0 + (m - 1.0) * icc)).sum()
    }
}

/// Sums of `c m sqrt(v)` by level of a place.
fn level_sums(trays: &Trays<'_>, place: usize, coefficients: &[f64], rates: &[f64]) -> Vec<f64> {
    let Some(place) = trays.places.get(place) else { return Vec::new() };
    let mut sums = vec![0.0; place.codes.iter().max().map_or(0, |most| *most as usize + 1)];
    for (code, ((c, p), m)) in place.codes.iter().zip(coefficients.iter().zip(rates).zip(trays.stuck)) {
        if let Some(sum) = sums.get_mut(*code as usize) {
            *sum += c * m * (p * (1.0 - p)).max(0.0).sqrt();
        }
    }
    sums
}
