//! The likelihood of one curve: binomial on effective counts, or with what stands beside the shape.

use super::beside::{Beside, Rate};
use super::data::{Data, Level};
use crate::curves::shape::{EDGE, Form, RateAt};
use crate::math::search::{Point, Surface};

/// The log-likelihood of a form, without binomial coefficients, with expected second derivatives.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Likelihood<'a> {
    pub(crate) data: &'a Data,
    pub(crate) form: Form,
    beside: Option<&'a Beside>,
}

impl<'a> Likelihood<'a> {
    /// With everything that is estimated beside the shape.
    pub(crate) fn of(data: &'a Data, form: Form) -> Self {
        Self { data, form, beside: data.beside.as_deref() }
    }

    /// Of the effective counts of strengths alone.
    pub(super) fn on_counts(data: &'a Data, form: Form) -> Self {
        Self { data, form, beside: None }
    }

    /// Places of spreads among the coordinates.
    pub(crate) fn spreads(&self, size: usize) -> Vec<usize> {
        self.beside.and_then(|beside| beside.spread_at(size - beside.size().min(size))).into_iter().collect()
    }

    /// How near a top is approached: on counts, or under a law of the trays.
    pub(crate) fn enough(&self, counts: f64, law: f64) -> f64 {
        if self.beside.is_some_and(Beside::has_law) { law } else { counts }
    }

    pub(crate) fn loglik(&self, theta: &[f64]) -> f64 {
        if self.beside.is_some() {
            let mut point = Point::new(theta.len());
            self.with_beside(theta, &mut point);
            return point.value;
        }
        let part = |count: f64, p: f64| if count > 0.0 { count * p.ln() } else { 0.0 };
        let one = |level: &Level| {
            let p = self.form.at(theta, level.place).mean.clamp(EDGE, 1.0 - EDGE);
            let (rooted, stuck) = level.counts();
            part(rooted, p) + part(stuck - rooted, 1.0 - p)
        };
        self.data.levels.iter().map(one).sum()
    }

    fn with_beside(&self, at: &[f64], into: &mut Point) {
        into.clear();
        let Some(beside) = self.beside else { return };
        let own = self.data.own(at);
        let rate = |level: usize| {
            let here = self.data.levels.get(level).map(|level| self.form.at(own, level.place)).unwrap_or_default();
            let [a, b, c, d] = here.slopes;
            Rate { mean: here.mean, slopes: [a, b, c, d, 0.0], map: [0, 1, 2, 3, 4], used: own.len() }
        };
        beside.add(rate, (at, own.len()), into);
        for level in &self.data.levels {
            let here = self.form.at(own, level.place);
            add_pseudo(level, (here.mean, here.slopes.get(..own.len()).unwrap_or_default()), &[0, 1, 2, 3], into);
        }
    }
}

/// Adds what [`Data::softened`] added to a strength, where trays or blocks have likelihoods of their own.
pub(super) fn add_pseudo(level: &Level, rate: (f64, &[f64]), map: &[usize], point: &mut Point) {
    if level.pseudo > 0.0 {
        add_count(&Level { rooted: 0.0, stuck: 0.0, ..*level }, rate, map, point);
    }
}

/// Adds the score and information of one count at a rate with its slopes by the coordinates in `map`.
pub(super) fn add_count(level: &Level, (mean, slopes): (f64, &[f64]), map: &[usize], point: &mut Point) {
    let size = point.gradient.len();
    let (value, score, weight) = pull(level, mean);
    point.value += value;
    for (slope, j) in slopes.iter().zip(map) {
        if let Some(entry) = point.gradient.get_mut(*j) {
            *entry += score * slope;
        }
        for (other, k) in slopes.iter().zip(map) {
            if let Some(entry) = point.hessian.get_mut(j * size + k) {
                *entry -= weight * slope * other;
            }
        }
    }
}

/// Log-likelihood of one count at a rate, its slope by the rate and the expected information.
fn pull(level: &Level, mean: f64) -> (f64, f64, f64) {
    let (rooted, stuck) = level.counts();
    let p = mean.clamp(EDGE, 1.0 - EDGE);
    let spread = p * (1.0 - p);
    let part = |count: f64, p: f64| if count > 0.0 { count * p.ln() } else { 0.0 };
    (part(rooted, p) + part(stuck - rooted, 1.0 - p), (rooted - stuck * p) / spread, stuck / spread)
}

impl Surface for Likelihood<'_> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        if self.beside.is_some() {
            return self.with_beside(at, into);
        }
        let mut value = 0.0;
        let (mut gradient, mut lower) = ([0.0; 4], [[0.0; 4]; 4]);
        for level in &self.data.levels {
            let RateAt { mean, slopes } = self.form.at(at, level.place);
            let (here, score, weight) = pull(level, mean);
            value += here;
            for ((g, row), slope) in gradient.iter_mut().zip(&mut lower).zip(&slopes) {
                *g += score * slope;
                let scaled = weight * slope;
                for (entry, other) in row.iter_mut().zip(&slopes) {
                    *entry -= scaled * other;
                }
            }
        }
        into.value = value;
        for (entry, g) in into.gradient.iter_mut().zip(&gradient) {
            *entry = *g;
        }
        for (row, from) in into.rows_mut().zip(&lower) {
            for (entry, x) in row.iter_mut().zip(from) {
                *entry = *x;
            }
        }
    }
}
