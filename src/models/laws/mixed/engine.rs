//! One objective over coefficients and standard deviations, by quadrature or by Laplace's approximation.

use super::groups::Layout;
use super::laplace::Laplace;
use super::nodes::NODES;
use super::penalty::Penalty;
use super::quadrature::Integral;
use super::rows::Table;
use crate::math::search::{Local, Objective};

/// The log-likelihood has settled when more nodes move it by less.
pub(super) const SETTLED: f64 = 1e-8;
/// The same on the way to limits: it moves what they are compared with by less than a millionth.
const SETTLED_LIMITS: f64 = 5e-7;

/// An SD above this has left all that counts can show: groups root wholly or not at all.
const ENDLESS: f64 = 12.0;
/// Nodes at most where every node of a group has a set of its own for each tray in it.
const MOST_NESTED: usize = 45;
/// The same on the way to limits of an SD, which are told to three figures.
const SETTLED_DEVIATIONS: f64 = 1e-5;
/// Few trays may have more: so many pairs of nodes over all trays, and on the way to limits of an SD.
const PAIRS: usize = 1 << 18;
const PAIRS_FOR_DEVIATIONS: usize = 1 << 15;
/// What a rise must exceed where more nodes would still change the log-likelihood: so many times that change.
const BLURRED: f64 = 4.0;

#[derive(Debug, Clone)]
enum Kind {
    Laplace(Laplace),
    Integral(Integral),
}

/// The likelihood that is maximised. Parameters: coefficients, then one SD per grouping in the layout's order. It is even in each
/// SD, so an SD of 0 is an ordinary stationary point.
#[derive(Debug, Clone)]
pub(super) struct Engine {
    kind: Kind,
    pub(super) layout: Layout,
    pub(super) penalty: Option<Penalty>,
    constant: f64,
    /// Nodes in use: outer, inner.
    pub(super) nodes: (usize, usize),
    /// By how much more nodes may change the value where it is refined.
    pub(super) tolerance: f64,
    /// By how much they did change it when they were last counted.
    left: f64,
    /// Pairs of nodes at most, over all trays.
    pairs: usize,
}

impl Engine {
    pub(super) fn laplace(table: &Table, layout: Layout, penalised: bool) -> Self {
        let kind = Kind::Laplace(Laplace::new(&layout));
        Self::new(kind, table, layout, penalised)
    }

    pub(super) fn integral(table: &Table, layout: Layout, penalised: bool) -> Self {
        let kind = Kind::Integral(Integral::new(&layout, layout.levels.len() == 2));
        Self::new(kind, table, layout, penalised)
    }

    fn new(kind: Kind, table: &Table, layout: Layout, penalised: bool) -> Self {
        let penalty = penalised.then(|| Penalty::new(&layout.table));
        Self {
            kind,
            constant: table.constant(),
            layout,
            penalty,
            nodes: (1, 1),
            tolerance: SETTLED,
            left: 0.0,
            pairs: PAIRS,
        }
    }

    pub(super) fn p(&self) -> usize {
        self.layout.table.p
    }

    /// The same as exact as limits need it.
    pub(super) fn for_limits(&self) -> Self {
        Self { tolerance: SETTLED_LIMITS, ..self.clone() }
    }

    /// The same as exact as limits of an SD need it, to begin with no more nodes than `at` needs roughly: a search refines them near its end.
    pub(super) fn for_deviations(&self, at: &[f64], roughly: f64) -> Self {
        let (tolerance, pairs) = (SETTLED_DEVIATIONS, PAIRS_FOR_DEVIATIONS);
        let mut engine = Self { tolerance, pairs, nodes: (1, 1), ..self.clone() };
        engine.settle_nodes(at, roughly);
        engine
    }

    pub(super) fn groupings(&self) -> usize {
        self.layout.levels.len()
    }

    /// Raises the node counts until the value at `at` changes by less than `tolerance`; true when it settles. `from` is the place in
    /// the list of counts to begin at. Laplace's approximation has nothing to settle.
    pub(super) fn settle_nodes(&mut self, at: &[f64], tolerance: f64) -> bool {
        let nested = self.groupings() == 2;
        let Kind::Integral(integral) = &mut self.kind else { return true };
        let place = |n: usize| NODES.iter().position(|known| *known >= n).unwrap_or(0);
        let pairs = self.pairs / self.layout.table.stuck.len().max(1);
        let next = |n: usize, other: usize| {
            let more = NODES.get(place(n) + 1).copied();
            more.filter(|n| !nested || *n <= MOST_NESTED || n * other <= pairs)
        };
        let (mut outer, mut inner) = (self.nodes.0.max(7), if nested { self.nodes.1.max(7) } else { 5 });
        integral.set_nodes(outer, inner);
        let (mut value, mut left) = (integral.value(at), 0.0_f64);
        let settled = loop {
            let mut moved = false;
            let Some(more) = next(outer, inner) else { break false };
            left = 0.0;
            integral.set_nodes(more, inner);
            let reached = integral.value(at);
            left = left.max((reached - value).abs());
            if (reached - value).abs() > tolerance {
                (outer, value, moved) = (more, reached, true);
            }
            if nested {
                let Some(more) = next(inner, outer) else { break false };
                integral.set_nodes(outer, more);
                let reached = integral.value(at);
                left = left.max((reached - value).abs());
                if (reached - value).abs() > tolerance {
                    (inner, value, moved) = (more, reached, true);
                }
            }
            if !moved {
                break true;
            }
        };
        integral.set_nodes(outer, inner);
        (self.nodes, self.left) = ((outer, inner), if settled { 0.0 } else { left.max(tolerance) });
        settled
    }

    pub(super) fn is_laplace(&self) -> bool {
        matches!(self.kind, Kind::Laplace(_))
    }

    /// The Hessian without shortcuts; `steps` are those of the differences where they are needed.
    pub(super) fn exact_hessian(&mut self, at: &[f64], steps: &[f64]) -> Vec<Vec<f64>> {
        match &mut self.kind {
            Kind::Laplace(laplace) => laplace.exact_hessian(at, steps),
            Kind::Integral(integral) => integral.local(at).hessian,
        }
    }

    /// Most likely effects of the levels of grouping `g` on the link scale.
    pub(super) fn effects(&mut self, at: &[f64], g: usize) -> Vec<f64> {
        let (p, size) = (self.p(), self.layout.size(g));
        let deviation = at.get(p + g).copied().unwrap_or(0.0);
        let mut joint = Laplace::new(&self.layout);
        let _ = joint.value(at);
        joint.effects(g, size, deviation)
    }

    fn penalty_value(&self, at: &[f64]) -> f64 {
        self.penalty.as_ref().map_or(0.0, |penalty| penalty.value(&self.layout.table, at))
    }
}

impl Objective for Engine {
    fn value(&mut self, at: &[f64]) -> f64 {
        let value = match &mut self.kind {
            Kind::Laplace(laplace) => laplace.value(at),
            Kind::Integral(integral) => integral.value(at),
        };
        value + self.constant + self.penalty_value(at)
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let mut local = match &mut self.kind {
            Kind::Laplace(laplace) => laplace.local(at),
            Kind::Integral(integral) => integral.local(at),
        };
        local.value += self.constant;
        if let Some(penalty) = &self.penalty {
            local.value += penalty.add(&self.layout.table, at, &mut local.gradient);
        }
        local
    }

    fn refine(&mut self, at: &[f64]) {
        let tolerance = self.tolerance;
        self.settle_nodes(at, tolerance);
    }

    fn blur(&self) -> f64 {
        BLURRED * self.left
    }

    fn is_lost(&self, at: &[f64]) -> bool {
        at.iter().skip(self.p()).any(|s| s.abs() > ENDLESS)
    }

    fn share(&self, _at: &[f64], step: &[f64]) -> f64 {
        let longest = step.iter().skip(self.p()).fold(0.0_f64, |a, b| a.max(b.abs()));
        self.layout.table.share(step, 6.0).min(if longest > 1.0 { 1.0 / longest } else { 1.0 })
    }
}

#[cfg(test)]
mod tests {
    use super::super::rows::Rows;
    use super::*;
    use crate::math::regression::Link;
    use approx::abs_diff_eq;

    /// Three bays of three trays, two groupings, a covariate; both engines' derivatives against differences of their values.
    #[test]
    fn derivatives_are_those_of_the_value() {
        let z: Vec<f64> = (0..9).map(|i| f64::from(i % 4) - 1.3).collect();
        let x = [vec![1.0; 9], z];
        let (rooted, stuck) = ([3.0, 7.0, 2.0, 9.0, 12.0, 8.0, 1.0, 0.0, 4.0], [12.0; 9]);
        let (bay, tray): (Vec<usize>, Vec<usize>) = (0..9).map(|i| (i / 3, i)).unzip();
        let cross: Vec<usize> = (0..9).map(|i| i % 3).collect();
        for link in [Link::Logit, Link::Probit, Link::ComplementaryLogLog, Link::LogLog] {
            let rows = Rows { x: &x, rooted: &rooted, stuck: &stuck, offset: &[], copies: &[], link };
            let table = rows.table().unwrap();
            let layouts: [&[&[usize]]; 4] = [&[&bay], &[&tray], &[&bay, &tray], &[&bay, &cross]];
            for (which, groupings) in layouts.iter().enumerate() {
                let layout = Layout::new(&table, groupings);
                for deviations in [[0.7, 0.5], [0.0, 0.5], [0.7, 0.0], [0.0, 0.0]] {
                    let at: Vec<f64> = [-0.4, 0.3].into_iter().chain(deviations).take(2 + groupings.len()).collect();
                    if deviations == [0.7, 0.5] {
                        check(Engine::laplace(&table, layout.clone(), false), &at, false);
                    }
                    if which < 3 {
                        let mut engine = Engine::integral(&table, layout.clone(), false);
                        assert!(engine.settle_nodes(&at, 1e-12));
                        check(engine, &at, true);
                    }
                }
            }
        }
    }

    fn check(mut engine: Engine, at: &[f64], whole_hessian: bool) {
        let local = engine.local(at);
        let exact = engine.exact_hessian(at, &vec![1e-4; at.len()]);
        for j in 0..at.len() {
            let mut moved = |by: f64| {
                let mut next = at.to_vec();
                next[j] += by;
                engine.local(&next)
            };
            let h = 1e-4;
            let (up, down) = (moved(h), moved(-h));
            let slope = (up.value - down.value) / (2.0 * h);
            assert!(
                abs_diff_eq!(slope, local.gradient[j], epsilon = 1e-6 * (1.0 + slope.abs())),
                "{j} {slope} {}",
                local.gradient[j]
            );
            for (k, (up, down)) in up.gradient.iter().zip(&down.gradient).enumerate() {
                let second = (up - down) / (2.0 * h);
                assert!(
                    abs_diff_eq!(second, exact[j][k], epsilon = 1e-5 * (1.0 + second.abs())),
                    "{j} {k} {second} {}",
                    exact[j][k]
                );
                if whole_hessian {
                    assert!(
                        abs_diff_eq!(second, local.hessian[j][k], epsilon = 1e-5 * (1.0 + second.abs())),
                        "{j} {k}"
                    );
                }
            }
        }
    }
}
