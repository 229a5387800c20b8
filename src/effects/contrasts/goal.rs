//! A contrast as a function of the parameters.

use crate::choice::choice;
use crate::effects::averaging::{Averaged, Blend, Surface};
use crate::math::dense::{NormalMatrix, add_scaled};
use crate::math::design::entries_of;

/// The scale on which rates are set against each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Scale {
    /// Differences of rates: trees per 100.
    #[default]
    Points,
    /// Ratios of rates.
    Ratio,
    /// Ratios of odds.
    Odds,
}

choice!(
    Scale, "scale":
    Points = "points",
    Ratio = "ratio",
    Odds = "odds",
);

impl Scale {
    /// The rate on the scale on which contrasts add up, its slope and its bend by the rate.
    fn of(self, rate: f64) -> (f64, f64, f64) {
        let p = rate.clamp(1e-300, 1.0 - 1e-16);
        let rest = 1.0 - p;
        match self {
            Self::Points => (rate, 1.0, 0.0),
            Self::Ratio => (p.ln(), 1.0 / p, -1.0 / (p * p)),
            Self::Odds => ((p / rest).ln(), 1.0 / (p * rest), (p - rest) / (p * p * rest * rest)),
        }
    }

    /// From that scale to the one that is read: a difference as it is, a ratio from its logarithm.
    pub(super) fn shown(self, value: f64) -> f64 {
        if self == Self::Points { value } else { value.exp() }
    }
}

/// Weights on averaged rates.
#[derive(Debug, Clone)]
pub(crate) struct Goal<'a> {
    pub(super) surface: Surface,
    /// Weights and what they stand on.
    pub(super) parts: Vec<(f64, &'a Blend)>,
    pub(super) scale: Scale,
}

impl<'a> Goal<'a> {
    /// The same weights on the rates themselves.
    pub(super) fn in_points(&self) -> Goal<'a> {
        Goal { scale: Scale::Points, ..self.clone() }
    }

    /// The contrast and its slopes.
    pub(super) fn at(&self, parameters: &[f64]) -> Averaged {
        let mut out = Averaged { rate: 0.0, gradient: vec![0.0; parameters.len()] };
        for (weight, blend) in &self.parts {
            let rate = self.surface.rate(blend, parameters);
            let (value, slope, _) = self.scale.of(rate.rate);
            out.rate += weight * value;
            add_scaled(&mut out.gradient, weight * slope, &rate.gradient);
        }
        out
    }

    /// Adds `weight` times its second derivatives to a matrix.
    pub(super) fn add_bend(&self, parameters: &[f64], weight: f64, hessian: &mut NormalMatrix) {
        for (part, blend) in &self.parts {
            let rate = self.surface.rate(blend, parameters);
            let (_, slope, bend) = self.scale.of(rate.rate);
            self.surface.add_bend(blend, parameters, weight * part * slope, hessian);
            if bend != 0.0 {
                hessian.add_square(weight * part * bend, &entries_of(&rate.gradient));
            }
        }
    }

    /// The values between which the contrast can lie.
    pub(super) fn ends(&self) -> (f64, f64) {
        if self.scale != Scale::Points {
            return (-FARTHEST, FARTHEST);
        }
        let sum = |sign: f64| self.parts.iter().map(|(weight, _)| (sign * weight).max(0.0)).sum::<f64>();
        (-sum(-1.0), sum(1.0))
    }
}

/// A log ratio beyond which there is no bound: a million times.
const FARTHEST: f64 = 14.0;
