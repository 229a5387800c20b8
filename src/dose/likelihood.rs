//! The binomial likelihood of one curve on effective counts.

use super::axis::{Data, Level, On, Place};
use super::curve::{RateAt, Spot, rate};
use super::shape::Shape;
use crate::math::irls::Link;
use crate::math::optimize::{Local, Objective};

/// A shape with its link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Form {
    pub(super) shape: Shape,
    pub(super) link: Link,
    /// The axis of shapes in `ln(1 + d / d0)`.
    pub(super) on: On,
}

impl Form {
    pub(super) fn at(self, theta: &[f64], place: Place) -> RateAt {
        self.at_spot(theta, Spot { t: place.on(self.on), z: place.z })
    }

    pub(super) fn at_spot(self, theta: &[f64], spot: Spot) -> RateAt {
        rate(self.shape, self.link, theta, spot)
    }
}

/// Rates this near 0 or 1 count as that near: a curve may reach both.
const EDGE: f64 = 1e-13;

/// The log-likelihood of a form, without binomial coefficients, with expected second derivatives.
#[derive(Debug, Clone, Copy)]
pub(super) struct Likelihood<'a> {
    pub(super) data: &'a Data,
    pub(super) form: Form,
}

impl Likelihood<'_> {
    pub(super) fn loglik(&self, theta: &[f64]) -> f64 {
        let part = |count: f64, p: f64| if count > 0.0 { count * p.ln() } else { 0.0 };
        let one = |level: &Level| {
            let p = self.form.at(theta, level.place).mean.clamp(EDGE, 1.0 - EDGE);
            part(level.rooted, p) + part(level.stuck - level.rooted, 1.0 - p)
        };
        self.data.levels.iter().map(one).sum()
    }
}

/// Adds the score and information of one count at a rate with its slopes by the coordinates in `map`.
pub(super) fn add_count(level: &Level, (mean, slopes): (f64, &[f64]), map: &[usize], local: &mut Local) {
    let (rooted, stuck) = (level.rooted, level.stuck);
    let p = mean.clamp(EDGE, 1.0 - EDGE);
    let spread = p * (1.0 - p);
    let (score, weight) = ((rooted - stuck * p) / spread, stuck / spread);
    let part = |count: f64, p: f64| if count > 0.0 { count * p.ln() } else { 0.0 };
    local.value += part(rooted, p) + part(stuck - rooted, 1.0 - p);
    for (slope, j) in slopes.iter().zip(map) {
        if let Some(entry) = local.gradient.get_mut(*j) {
            *entry += score * slope;
        }
        if let Some(row) = local.hessian.get_mut(*j) {
            for (other, k) in slopes.iter().zip(map) {
                if let Some(entry) = row.get_mut(*k) {
                    *entry -= weight * slope * other;
                }
            }
        }
    }
}

/// A zero to add to.
pub(super) fn nothing(size: usize) -> Local {
    Local { value: 0.0, gradient: vec![0.0; size], hessian: vec![vec![0.0; size]; size] }
}

/// Coordinates in their own places.
pub(super) const OWN: [usize; 4] = [0, 1, 2, 3];

impl Objective for Likelihood<'_> {
    fn value(&mut self, at: &[f64]) -> f64 {
        self.loglik(at)
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let mut local = nothing(at.len());
        let map = OWN.get(..at.len()).unwrap_or(&OWN);
        for level in &self.data.levels {
            let RateAt { mean, slopes } = self.form.at(at, level.place);
            add_count(level, (mean, &slopes), map, &mut local);
        }
        local
    }
}
