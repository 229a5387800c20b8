//! The log-likelihood of a fitted law as a function: of the coefficients, and of the spreads that the data can tell.

use super::beta_likelihood::Likelihood;
use super::engine::Engine;
use crate::math::search::{LIFT, Local, Maximum, Objective};

/// A spread that is far from 0.
const FAR: f64 = 0.8;

/// Either engine's.
#[derive(Debug, Clone)]
enum Inner {
    Beta(Box<Likelihood>),
    Random(Box<Engine>),
}

/// A log-likelihood with its top. Points hold the coefficients, then the spreads (SDs of random effects, or `sqrt(rho / (1 - rho))`) that the
/// data can tell, those at 0 included; the likelihood is even in each spread. Values at a point do not depend on what was asked before.
#[derive(Debug, Clone)]
pub(crate) struct Hill {
    inner: Inner,
    /// All parameters at the top; those that no point holds stay there.
    all: Vec<f64>,
    /// Where the entries of a point stand among all parameters.
    places: Vec<usize>,
    coefficients: usize,
    height: f64,
}

impl Hill {
    pub(super) fn of_beta(likelihood: Likelihood, top: &Maximum, spreads: &[usize]) -> Self {
        let coefficients = likelihood.table.p;
        Self::new(Inner::Beta(Box::new(likelihood)), coefficients, top, spreads)
    }

    pub(super) fn of_random(engine: Engine, top: &Maximum, spreads: &[usize]) -> Self {
        let coefficients = engine.p();
        Self::new(Inner::Random(Box::new(engine)), coefficients, top, spreads)
    }

    fn new(inner: Inner, coefficients: usize, top: &Maximum, spreads: &[usize]) -> Self {
        let mut places: Vec<usize> = (0..coefficients).chain(spreads.iter().copied()).collect();
        places.sort_unstable();
        let height = top.local.value;
        Self { inner, all: top.at.clone(), places, coefficients, height }
    }

    /// The point of the top.
    pub(crate) fn top(&self) -> Vec<f64> {
        let mut top = self.picked(&self.all);
        top.iter_mut().skip(self.coefficients).for_each(|spread| *spread = spread.abs());
        top
    }

    /// The log-likelihood there.
    pub(crate) fn height(&self) -> f64 {
        self.height
    }

    /// How many coefficients a point begins with.
    pub(crate) fn coefficients(&self) -> usize {
        self.coefficients
    }

    /// How many of the spreads are SDs of random effects, over which rates are averaged.
    pub(crate) fn deviations(&self) -> usize {
        match self.inner {
            Inner::Beta(_) => 0,
            Inner::Random(_) => self.places.len() - self.coefficients,
        }
    }

    /// How many of the spreads say nothing of mean rates.
    pub(crate) fn others(&self) -> usize {
        self.places.len() - self.coefficients - self.deviations()
    }

    pub(crate) fn value(&self, point: &[f64]) -> f64 {
        let at = self.full(point);
        match self.inner.clone() {
            Inner::Beta(mut likelihood) => likelihood.value(&at),
            Inner::Random(mut engine) => engine.value(&at),
        }
    }

    /// Value and derivatives; none where the likelihood rises without end.
    pub(crate) fn local(&self, point: &[f64]) -> Option<Local> {
        let at = self.full(point);
        let (mut local, lost) = match self.inner.clone() {
            Inner::Beta(mut likelihood) => (likelihood.local(&at), likelihood.is_lost(&at)),
            Inner::Random(mut engine) => (engine.local(&at), engine.is_lost(&at)),
        };
        let (penalty, table) = match &self.inner {
            Inner::Beta(likelihood) => (&likelihood.penalty, &likelihood.table),
            Inner::Random(engine) => (&engine.penalty, &engine.layout.table),
        };
        // Where counts say little the penalty bends as much as the likelihood, whose own derivatives leave it out.
        penalty.iter().for_each(|penalty| penalty.add_bends(table, &at, &mut local.hessian));
        let hessian = self.picked(&local.hessian).iter().map(|row| self.picked(row)).collect();
        let picked = Local { value: local.value, gradient: self.picked(&local.gradient), hessian };
        Some(picked).filter(|local| local.value.is_finite() && !lost)
    }

    /// The largest share of a step that may be taken.
    pub(crate) fn share(&self, point: &[f64], step: &[f64]) -> f64 {
        let mut whole = vec![0.0; self.all.len()];
        self.put(&mut whole, step);
        match &self.inner {
            Inner::Beta(likelihood) => likelihood.share(&self.full(point), &whole),
            Inner::Random(engine) => engine.share(&self.full(point), &whole),
        }
    }

    /// A start from which a search can leave spreads of 0, where the likelihood is level.
    pub(crate) fn lifted(&self, point: &[f64]) -> Vec<f64> {
        let mut start = point.to_vec();
        start.iter_mut().skip(self.coefficients).for_each(|spread| *spread = spread.abs().max(LIFT));
        start
    }

    /// The same point with spreads far from 0, where one is near 0 at it.
    pub(crate) fn spread_out(&self, point: &[f64]) -> Option<Vec<f64>> {
        let mut start = point.to_vec();
        let near = start.iter().skip(self.coefficients).any(|spread| spread.abs() < 0.1 * LIFT);
        start.iter_mut().skip(self.coefficients).for_each(|spread| *spread = spread.abs().max(FAR));
        near.then_some(start)
    }

    /// The same as exact as it must be around a point; none where it is so already.
    pub(crate) fn refined(&self, point: &[f64]) -> Option<Self> {
        let Inner::Random(engine) = &self.inner else { return None };
        let mut finer = engine.for_limits();
        finer.refine(&self.full(point));
        (finer.nodes != engine.nodes).then(|| Self { inner: Inner::Random(Box::new(finer)), ..self.clone() })
    }

    /// Changes of the value below this say nothing, since it is an integral over a few nodes.
    pub(crate) fn blur(&self) -> f64 {
        match &self.inner {
            Inner::Beta(_) => 0.0,
            Inner::Random(engine) => 2.0 * engine.tolerance,
        }
    }

    fn picked<T: Clone>(&self, all: &[T]) -> Vec<T> {
        self.places.iter().filter_map(|place| all.get(*place).cloned()).collect()
    }

    fn put(&self, all: &mut [f64], point: &[f64]) {
        for (place, x) in self.places.iter().zip(point) {
            if let Some(entry) = all.get_mut(*place) {
                *entry = *x;
            }
        }
    }

    fn full(&self, point: &[f64]) -> Vec<f64> {
        let mut all = self.all.clone();
        self.put(&mut all, point);
        all
    }
}
