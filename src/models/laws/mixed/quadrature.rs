//! The likelihood of one random intercept, or of two nested ones, by adaptive Gauss-Hermite quadrature.

use rayon::prelude::*;

use super::groups::Layout;
use super::nodes::Nodes;
use super::rows::{Table, add_outer, mirror};
use crate::math::dense::add_scaled;
use crate::math::regression::Link;
use crate::math::search::Local;

/// `log integral prod_r f(y_r | eta_r + s v) phi(v) dv` summed over groups; with an inner intercept `f` is itself such an
/// integral over the tray effect.
///
/// Parameters are the coefficients, the outer SD and, if there is one, the inner SD. The nodes of each group sit around the mode
/// of its integrand, scaled by the curvature there. First and second derivatives are posterior moments of the derivatives of the
/// integrand (Louis 1982, JRSS B 44:226-233), exact for the integral the nodes approximate. Groups are shared out to threads in parts
/// that depend on their number alone and are added in their order.
#[derive(Debug, Clone)]
pub(super) struct Integral {
    table: Table,
    groups: Vec<Group>,
    nested: bool,
    outer: Nodes,
    inner: Nodes,
}

#[derive(Debug, Clone)]
struct Group {
    from: usize,
    to: usize,
    copies: f64,
    mode: f64,
    /// Modes of the trays inside.
    inner: Vec<f64>,
}

/// A row's log-density at one value of its linear predictor, with derivatives by it (`e`) and by the spread of its law (`t`): here the inner
/// SD.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Element {
    pub(super) value: f64,
    pub(super) e: f64,
    pub(super) ee: f64,
    pub(super) t: f64,
    pub(super) tt: f64,
    pub(super) et: f64,
}

/// Gradient and Hessian (upper triangle) that a run adds to.
struct Sums {
    gradient: Vec<f64>,
    hessian: Vec<Vec<f64>>,
}

/// Nodes of a group with their shares of the integral, and the rows' elements node by node.
#[derive(Default)]
struct Found {
    nodes: Vec<(f64, f64)>,
    elements: Vec<Element>,
    /// Nodes of one tray: share, place, first and second derivative.
    tray: Vec<[f64; 4]>,
}

/// Parts into which groups are shared out, and the work (rows times nodes) below which threads do not pay.
const PARTS: usize = 32;
const SMALL: usize = 4000;

impl Integral {
    /// For rows laid out by group; the first grouping is the outer one and a second, inner one has one row per level.
    pub(super) fn new(layout: &Layout, nested: bool) -> Self {
        let mut groups: Vec<Group> = Vec::new();
        let mut last = None;
        for (i, level) in layout.levels.first().into_iter().flatten().enumerate() {
            if last == Some(level) {
                if let Some(group) = groups.last_mut() {
                    group.to = i + 1;
                }
            } else {
                let copies = layout.table.copies.get(i).copied().unwrap_or(1.0);
                groups.push(Group { from: i, to: i + 1, copies, mode: 0.0, inner: Vec::new() });
                last = Some(level);
            }
        }
        for group in &mut groups {
            group.inner = vec![0.0; group.to - group.from];
        }
        let nodes = Nodes::new(5);
        Self { table: layout.table.clone(), groups, nested, outer: nodes.clone(), inner: nodes }
    }

    pub(super) fn set_nodes(&mut self, outer: usize, inner: usize) {
        (self.outer, self.inner) = (Nodes::new(outer), Nodes::new(inner));
    }

    pub(super) fn value(&mut self, at: &[f64]) -> f64 {
        self.run(at, false).0
    }

    pub(super) fn local(&mut self, at: &[f64]) -> Local {
        let (value, sums) = self.run(at, true);
        let Sums { gradient, mut hessian } = sums.unwrap_or(Sums { gradient: Vec::new(), hessian: Vec::new() });
        mirror(&mut hessian);
        Local { value, gradient, hessian }
    }

    fn run(&mut self, at: &[f64], derivatives: bool) -> (f64, Option<Sums>) {
        let eta = self.table.eta(at);
        let per_row = if self.nested { self.inner.count() } else { 1 };
        let work = self.table.rows() * self.outer.count() * per_row;
        let mut groups = std::mem::take(&mut self.groups);
        let size = groups.len().div_ceil(PARTS).max(1);
        let part = |groups: &mut [Group]| self.part(groups, at, &eta, derivatives);
        let parts: Vec<(f64, Option<Sums>)> = if work < SMALL {
            groups.chunks_mut(size).map(part).collect()
        } else {
            groups.par_chunks_mut(size).map(part).collect()
        };
        self.groups = groups;
        let mut parts = parts.into_iter();
        let (mut total, mut sums) = parts.next().unwrap_or((0.0, None));
        for (value, more) in parts {
            total += value;
            if let (Some(sums), Some(more)) = (&mut sums, more) {
                sums.add(&more);
            }
        }
        (total, sums)
    }

    fn part(&self, groups: &mut [Group], at: &[f64], eta: &[f64], derivatives: bool) -> (f64, Option<Sums>) {
        let size = self.table.p + 1 + usize::from(self.nested);
        let mut sums = derivatives.then(|| Sums { gradient: vec![0.0; size], hessian: vec![vec![0.0; size]; size] });
        let deviation = at.get(self.table.p).copied().unwrap_or(0.0);
        let inner = if self.nested { at.get(self.table.p + 1).copied() } else { None };
        let (mut total, mut found) = (0.0, Found::default());
        for group in groups {
            let range = group.from..group.to;
            let mut rows = GroupRows {
                link: self.table.link,
                eta: eta.get(range.clone()).unwrap_or_default(),
                rooted: self.table.rooted.get(range.clone()).unwrap_or_default(),
                stuck: self.table.stuck.get(range.clone()).unwrap_or_default(),
                modes: &mut group.inner,
                deviation,
                inner,
                nodes: &self.inner,
                derivatives,
            };
            total += group.copies * rows.integrate(&self.outer, &mut group.mode, &mut found);
            if let Some(sums) = &mut sums {
                if range.len() == 1 {
                    sums.add_single(self.table.row(range.start), &found, group.copies, self.nested);
                } else {
                    sums.add_many(&self.table, (range, group.copies), &found, self.nested);
                }
            }
        }
        (total, sums)
    }
}

/// The rows of one group at given parameters.
struct GroupRows<'a> {
    link: Link,
    eta: &'a [f64],
    rooted: &'a [f64],
    stuck: &'a [f64],
    modes: &'a mut [f64],
    deviation: f64,
    inner: Option<f64>,
    nodes: &'a Nodes,
    derivatives: bool,
}

impl GroupRows<'_> {
    /// Adds the rows' elements at one place of the outer effect and returns the sum of their values.
    fn elements(&mut self, v: f64, found: &mut Found) -> f64 {
        let (link, shift, mut value) = (self.link, self.deviation * v, 0.0);
        let counts = self.rooted.iter().zip(self.stuck);
        for ((eta, (y, m)), mode) in self.eta.iter().zip(counts).zip(self.modes.iter_mut()) {
            let one = match self.inner {
                None => {
                    let [value, e, ee] = link.density(eta + shift, *y, *m);
                    Element { value, e, ee, ..Element::default() }
                }
                Some(inner) => {
                    let tray = Tray { link, eta: eta + shift, y: *y, m: *m, s: inner };
                    tray.element(self.nodes, mode, &mut found.tray, self.derivatives)
                }
            };
            value += one.value;
            found.elements.push(one);
        }
        value
    }

    /// Slope and curvature (made positive) of the log integrand; with trays inside, of Laplace's approximation to it.
    fn slope(&mut self, v: f64) -> (f64, f64) {
        let (s, link) = (self.deviation, self.link);
        let counts = self.rooted.iter().zip(self.stuck);
        let rows = self.eta.iter().zip(counts).zip(self.modes.iter_mut());
        let (e, ee) = rows.fold((0.0, 0.0), |(e, ee), ((eta, (y, m)), mode)| {
            let eta = eta + s * v;
            let (d1, d2) = match self.inner {
                None => {
                    let [d1, d2] = link.slopes(eta, *y, *m);
                    (d1, d2)
                }
                Some(inner) => {
                    let tray = Tray { link, eta, y: *y, m: *m, s: inner };
                    *mode = tray.mode(*mode).0;
                    let [d1, d2] = link.slopes(eta + inner * *mode, *y, *m);
                    (d1, d2 / (1.0 - inner * inner * d2).max(1e-10))
                }
            };
            (e + d1, ee + d2)
        });
        (s * e - v, 1.0 - s * s * ee)
    }

    /// The same where the SD is 0: the integrand does not change with the effect, and the derivatives ask for its mean and variance
    /// only, which two nodes have as well.
    fn without_effect(&mut self, mode: &mut f64, found: &mut Found) -> f64 {
        *mode = 0.0;
        found.nodes.clear();
        found.elements.clear();
        let value = self.elements(0.0, found);
        found.elements.extend_from_within(..);
        found.nodes.extend([(-1.0, 0.5), (1.0, 0.5)]);
        value
    }

    /// Log of the integral, and its nodes with their shares.
    fn integrate(&mut self, rule: &Nodes, mode: &mut f64, found: &mut Found) -> f64 {
        if self.deviation.abs() <= 0.0 {
            return self.without_effect(mode, found);
        }
        let (top, curvature) = find_mode(*mode, |v| self.slope(v));
        *mode = top;
        let scale = 1.0 / curvature.sqrt();
        found.nodes.clear();
        found.elements.clear();
        rule.visit(|z, ln_weight| {
            let v = top + scale * z;
            let value = self.elements(v, found) - 0.5 * v * v + ln_weight;
            found.nodes.push((v, value));
            value
        });
        shares(&mut found.nodes, |node| &mut node.1) + scale.ln()
    }
}

/// Turns logs into shares that add up to 1 and returns the log of their sum.
fn shares<T>(nodes: &mut [T], log: impl Fn(&mut T) -> &mut f64) -> f64 {
    let largest = nodes.iter_mut().fold(f64::NEG_INFINITY, |a, node| a.max(*log(node)));
    let mut sum = 0.0;
    for node in nodes.iter_mut() {
        let entry = log(node);
        *entry = (*entry - largest).exp();
        sum += *entry;
    }
    for node in nodes.iter_mut() {
        *log(node) /= sum;
    }
    largest + sum.ln()
}

/// Nodes need not sit exactly on the mode: a step of less than this share of the width is the last.
const NEAR_MODE: f64 = 0.03;

/// Where a decreasing slope is 0, by Newton steps kept inside the bracket found so far; and the curvature there.
fn find_mode(start: f64, mut slope: impl FnMut(f64) -> (f64, f64)) -> (f64, f64) {
    let (mut v, mut low, mut high) = (if start.is_finite() { start } else { 0.0 }, f64::NEG_INFINITY, f64::INFINITY);
    let mut curvature = 1.0;
    for _ in 0..100 {
        let (s, c) = slope(v);
        curvature = c.max(1e-10);
        if s > 0.0 {
            low = v;
        } else {
            high = v;
        }
        let step = s / curvature;
        if !step.is_finite() {
            break;
        }
        let next = v + step;
        if step.abs() * curvature.sqrt() < NEAR_MODE {
            return (next, curvature);
        }
        v = if next > low && next < high { next } else { 0.5 * (low + high) };
    }
    (v, curvature)
}

/// A tray with an effect of its own: counts, linear predictor without the effect, its SD.
pub(super) struct Tray {
    pub(super) link: Link,
    pub(super) eta: f64,
    pub(super) y: f64,
    pub(super) m: f64,
    pub(super) s: f64,
}

impl Tray {
    /// The mode of the effect's integrand and the curvature there.
    pub(super) fn mode(&self, start: f64) -> (f64, f64) {
        find_mode(start, |u| {
            let [d1, d2] = self.link.slopes(self.eta + self.s * u, self.y, self.m);
            (self.s * d1 - u, 1.0 - self.s * self.s * d2)
        })
    }

    /// The log-density with the effect integrated out, and its derivatives where they are wanted.
    pub(super) fn element(
        &self,
        rule: &Nodes,
        mode: &mut f64,
        nodes: &mut Vec<[f64; 4]>,
        derivatives: bool,
    ) -> Element {
        if self.s.abs() <= 0.0 {
            // Nothing to integrate; by the SD, only the variance of the effect matters.
            *mode = 0.0;
            let [value, d1, d2] = self.link.density(self.eta, self.y, self.m);
            return Element { value, e: d1, ee: d2, tt: d2 + d1 * d1, ..Element::default() };
        }
        let (top, curvature) = self.mode(*mode);
        *mode = top;
        let scale = 1.0 / curvature.sqrt();
        nodes.clear();
        rule.visit(|z, ln_weight| {
            let u = top + scale * z;
            let [value, d1, d2] = self.link.density(self.eta + self.s * u, self.y, self.m);
            let value = value - 0.5 * u * u + ln_weight;
            nodes.push([value, u, d1, d2]);
            value
        });
        let value = shares(nodes, |node| &mut node[0]) + scale.ln();
        let mut one = Element { value, ..Element::default() };
        if !derivatives {
            return one;
        }
        for [share, u, d1, _] in nodes.iter() {
            one.e += share * d1;
            one.t += share * u * d1;
        }
        for [share, u, d1, d2] in nodes.iter() {
            let (de, dt) = (d1 - one.e, u * d1 - one.t);
            one.ee += share * (d2 + de * de);
            one.et += share * (u * d2 + de * dt);
            one.tt += share * (u * u * d2 + dt * dt);
        }
        one
    }
}

impl Sums {
    fn add(&mut self, other: &Self) {
        add_scaled(&mut self.gradient, 1.0, &other.gradient);
        for (line, more) in self.hessian.iter_mut().zip(&other.hessian) {
            add_scaled(line, 1.0, more);
        }
    }

    /// A group of one row: all its scores are multiples of the row, so only numbers are averaged.
    fn add_single(&mut self, row: &[f64], found: &Found, copies: f64, nested: bool) {
        let p = row.len();
        let (mut mean, mut second) = ([0.0; 3], [0.0; 6]);
        let nodes = || found.nodes.iter().zip(&found.elements);
        for ((v, share), one) in nodes() {
            for (mean, x) in mean.iter_mut().zip([one.e, v * one.e, one.t]) {
                *mean += share * x;
            }
        }
        let [e, s, t] = mean;
        for ((v, share), one) in nodes() {
            let (de, ds, dt) = (one.e - e, v * one.e - s, one.t - t);
            let terms = [
                one.ee + de * de,
                v * one.ee + de * ds,
                v * v * one.ee + ds * ds,
                one.et + de * dt,
                v * one.et + ds * dt,
                one.tt + dt * dt,
            ];
            for (second, x) in second.iter_mut().zip(terms) {
                *second += share * x;
            }
        }
        let [ee, es, ss, et, st, tt] = second.map(|x| x * copies);
        add_scaled(&mut self.gradient, copies * e, row);
        add_outer(&mut self.hessian, ee, row);
        self.add_tail(p, [copies * s, copies * t], [ss, st, tt], nested);
        self.add_cross(p, row, [es, et], nested);
    }

    fn add_many(&mut self, table: &Table, group: (std::ops::Range<usize>, f64), found: &Found, nested: bool) {
        let ((range, copies), p) = (group, table.p);
        let (count, size) = (range.len(), p + 1 + usize::from(nested));
        let mut per_row = vec![[0.0; 4]; count];
        let mut tail = [0.0; 3];
        let mut scores: Vec<Vec<f64>> = Vec::with_capacity(found.nodes.len());
        for ((v, share), elements) in found.nodes.iter().zip(found.elements.chunks_exact(count)) {
            let (mut score, mut e, mut t) = (vec![0.0; size], 0.0, 0.0);
            for ((i, one), sums) in range.clone().zip(elements).zip(&mut per_row) {
                add_scaled(&mut score, one.e, table.row(i));
                (e, t) = (e + one.e, t + one.t);
                for (sum, x) in sums.iter_mut().zip([one.e, one.ee, v * one.ee, one.et]) {
                    *sum += share * x;
                }
                for (sum, x) in tail.iter_mut().zip([v * v * one.ee, v * one.et, one.tt]) {
                    *sum += share * x;
                }
            }
            for (entry, x) in score.iter_mut().skip(p).zip([v * e, t]) {
                *entry = x;
            }
            scores.push(score);
        }
        let mut mean = vec![0.0; size];
        for ((_, share), score) in found.nodes.iter().zip(&scores) {
            add_scaled(&mut mean, *share, score);
        }
        add_scaled(&mut self.gradient, copies, &mean);
        for ((_, share), score) in found.nodes.iter().zip(&mut scores) {
            add_scaled(score, -1.0, &mean);
            add_outer(&mut self.hessian, copies * share, score);
        }
        for (i, [_, ee, es, et]) in range.zip(&per_row) {
            let row = table.row(i);
            add_outer(&mut self.hessian, copies * ee, row);
            self.add_cross(p, row, [copies * es, copies * et], nested);
        }
        self.add_tail(p, [0.0, 0.0], tail.map(|x| x * copies), nested);
    }

    fn add_cross(&mut self, p: usize, row: &[f64], weights: [f64; 2], nested: bool) {
        for (line, x) in self.hessian.iter_mut().zip(row) {
            let tail = line.iter_mut().skip(p).take(1 + usize::from(nested));
            for (entry, weight) in tail.zip(weights) {
                *entry += weight * x;
            }
        }
    }

    fn add_tail(&mut self, p: usize, gradient: [f64; 2], [ss, st, tt]: [f64; 3], nested: bool) {
        let kept = 1 + usize::from(nested);
        for (entry, x) in self.gradient.iter_mut().skip(p).take(kept).zip(gradient) {
            *entry += x;
        }
        for (line, second) in self.hessian.iter_mut().skip(p).take(kept).zip([[ss, st], [0.0, tt]]) {
            for (entry, x) in line.iter_mut().skip(p).take(kept).zip(second) {
                *entry += x;
            }
        }
    }
}
