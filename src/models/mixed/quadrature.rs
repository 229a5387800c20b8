//! The likelihood of one random intercept, or of two nested ones, by adaptive Gauss-Hermite quadrature.

use super::groups::Layout;
use super::rows::{Table, add_outer, mirror};
use crate::math::irls::Link;
use crate::math::linalg::add_scaled;
use crate::math::optimize::Local;
use crate::math::quadrature::gauss_hermite;

/// Node counts tried in turn.
pub(super) const NODES: [usize; 10] = [5, 7, 11, 15, 21, 31, 45, 65, 95, 135];

/// Nodes with the log of their weight divided by the normal density (without its constant).
#[derive(Debug, Clone)]
struct Nodes(Vec<(f64, f64)>);

impl Nodes {
    fn new(n: usize) -> Self {
        let rule = gauss_hermite(n);
        Self(rule.nodes.iter().zip(&rule.weights).map(|(z, w)| (*z, w.ln() + 0.5 * z * z)).collect())
    }
}

/// `log integral prod_r f(y_r | eta_r + s v) phi(v) dv` summed over groups; with an inner intercept `f` is itself such an
/// integral over the tray effect.
///
/// Parameters are the coefficients, the outer SD and, if there is one, the inner SD. The nodes of each group sit around the mode
/// of its integrand, scaled by the curvature there. First and second derivatives are posterior moments of the derivatives of the
/// integrand (Louis 1982, JRSS B 44:226-233), exact for the integral the nodes approximate.
#[derive(Debug, Clone)]
pub(super) struct Integral {
    table: Table,
    groups: Vec<Group>,
    nested: bool,
    outer: Nodes,
    inner: Nodes,
    inner_modes: Vec<f64>,
}

#[derive(Debug, Clone)]
struct Group {
    from: usize,
    to: usize,
    copies: f64,
    mode: f64,
}

/// A row's log-density at one value of its linear predictor, with derivatives by it (`e`) and by the inner SD (`t`).
#[derive(Debug, Clone, Copy, Default)]
struct Element {
    value: f64,
    e: f64,
    ee: f64,
    t: f64,
    tt: f64,
    et: f64,
}

/// Gradient and Hessian (upper triangle) that a run adds to.
struct Sums {
    gradient: Vec<f64>,
    hessian: Vec<Vec<f64>>,
}

/// One node of a group: its place, its share of the integral and the rows' elements.
type Node = (f64, f64, Vec<Element>);

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
                groups.push(Group { from: i, to: i + 1, copies, mode: 0.0 });
                last = Some(level);
            }
        }
        let inner_modes = vec![0.0; layout.table.rows()];
        let nodes = Nodes::new(5);
        Self { table: layout.table.clone(), groups, nested, outer: nodes.clone(), inner: nodes, inner_modes }
    }

    pub(super) fn set_nodes(&mut self, outer: usize, inner: usize) {
        (self.outer, self.inner) = (Nodes::new(outer), Nodes::new(inner));
    }

    pub(super) fn value(&mut self, at: &[f64]) -> f64 {
        self.run(at, &mut None)
    }

    pub(super) fn local(&mut self, at: &[f64]) -> Local {
        let size = self.table.p + 1 + usize::from(self.nested);
        let mut sums = Some(Sums { gradient: vec![0.0; size], hessian: vec![vec![0.0; size]; size] });
        let value = self.run(at, &mut sums);
        let Sums { gradient, mut hessian } = sums.unwrap_or(Sums { gradient: Vec::new(), hessian: Vec::new() });
        mirror(&mut hessian);
        Local { value, gradient, hessian }
    }

    fn run(&mut self, at: &[f64], sums: &mut Option<Sums>) -> f64 {
        let eta = self.table.eta(at);
        let deviation = at.get(self.table.p).copied().unwrap_or(0.0);
        let inner = if self.nested { at.get(self.table.p + 1).copied() } else { None };
        let mut total = 0.0;
        let mut groups = std::mem::take(&mut self.groups);
        for group in &mut groups {
            let range = group.from..group.to;
            let mut rows = GroupRows {
                link: self.table.link,
                eta: eta.get(range.clone()).unwrap_or_default(),
                rooted: self.table.rooted.get(range.clone()).unwrap_or_default(),
                stuck: self.table.stuck.get(range.clone()).unwrap_or_default(),
                modes: self.inner_modes.get_mut(range).unwrap_or_default(),
                deviation,
                inner,
                nodes: &self.inner,
            };
            let (value, nodes) = rows.integrate(&self.outer, &mut group.mode);
            total += group.copies * value;
            if let Some(sums) = sums {
                if group.to - group.from == 1 {
                    sums.add_single(self.table.row(group.from), &nodes, group.copies, self.nested);
                } else {
                    sums.add_many(&self.table, group, &nodes, self.nested);
                }
            }
        }
        self.groups = groups;
        total
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
}

impl GroupRows<'_> {
    fn elements(&mut self, v: f64) -> Vec<Element> {
        let (link, inner, nodes, shift) = (self.link, self.inner, self.nodes, self.deviation * v);
        let counts = self.rooted.iter().zip(self.stuck);
        let rows = self.eta.iter().zip(counts).zip(self.modes.iter_mut());
        rows.map(|((eta, (y, m)), mode)| match inner {
            None => {
                let [value, e, ee, _] = link.derivatives(eta + shift, *y, *m);
                Element { value, e, ee, ..Element::default() }
            }
            Some(inner) => tray(link, eta + shift, (*y, *m), inner, nodes, mode),
        })
        .collect()
    }

    /// Slope and curvature (made positive) of the log integrand.
    fn slope(&mut self, v: f64) -> (f64, f64) {
        let s = self.deviation;
        let (e, ee) = if self.inner.is_none() {
            let counts = self.rooted.iter().zip(self.stuck);
            let rows = self.eta.iter().zip(counts);
            rows.fold((0.0, 0.0), |(e, ee), (eta, (y, m))| {
                let [d1, d2] = self.link.slopes(eta + s * v, *y, *m);
                (e + d1, ee + d2)
            })
        } else {
            self.elements(v).iter().fold((0.0, 0.0), |(e, ee), one| (e + one.e, ee + one.ee))
        };
        (s * e - v, 1.0 - s * s * ee)
    }

    /// Log of the integral, and its nodes with their shares.
    fn integrate(&mut self, rule: &Nodes, mode: &mut f64) -> (f64, Vec<Node>) {
        let (top, curvature) = find_mode(*mode, |v| self.slope(v));
        *mode = top;
        let scale = 1.0 / curvature.sqrt();
        let mut nodes: Vec<Node> = Vec::with_capacity(rule.0.len());
        for (z, ln_weight) in &rule.0 {
            let v = top + scale * z;
            let elements = self.elements(v);
            let value: f64 = elements.iter().map(|one| one.value).sum();
            nodes.push((v, value - 0.5 * v * v + ln_weight, elements));
        }
        let ln_sum = shares(nodes.iter_mut().map(|node| &mut node.1));
        (ln_sum + scale.ln(), nodes)
    }
}

/// Turns logs into shares that add up to 1 and returns the log of their sum.
fn shares<'a>(logs: impl Iterator<Item = &'a mut f64>) -> f64 {
    let logs: Vec<&mut f64> = logs.collect();
    let largest = logs.iter().fold(f64::NEG_INFINITY, |a, b| a.max(**b));
    let sum: f64 = logs.iter().map(|log| (**log - largest).exp()).sum();
    let ln_sum = largest + sum.ln();
    for log in logs {
        *log = (*log - ln_sum).exp();
    }
    ln_sum
}

/// Where a decreasing slope is 0, by Newton steps kept inside the bracket found so far; and the curvature there.
fn find_mode(start: f64, mut slope: impl FnMut(f64) -> (f64, f64)) -> (f64, f64) {
    let (mut v, mut low, mut high) = (if start.is_finite() { start } else { 0.0 }, f64::NEG_INFINITY, f64::INFINITY);
    let mut curvature = 1.0;
    for _ in 0..100 {
        let (s, c) = slope(v);
        curvature = c.max(1e-10);
        if s > 0.0 {
            low = v
        } else {
            high = v
        }
        let step = s / curvature;
        if step.abs() < 1e-8 * (1.0 + v.abs()) || !step.is_finite() {
            break;
        }
        let next = v + step;
        v = if next > low && next < high { next } else { 0.5 * (low + high) };
    }
    (v, curvature)
}

/// A tray's log-density with its own effect integrated out.
fn tray(link: Link, eta: f64, (y, m): (f64, f64), s: f64, rule: &Nodes, mode: &mut f64) -> Element {
    let (top, curvature) = find_mode(*mode, |u| {
        let [d1, d2] = link.slopes(eta + s * u, y, m);
        (s * d1 - u, 1.0 - s * s * d2)
    });
    *mode = top;
    let scale = 1.0 / curvature.sqrt();
    let mut nodes: Vec<(f64, f64, f64, f64)> = Vec::with_capacity(rule.0.len());
    for (z, ln_weight) in &rule.0 {
        let u = top + scale * z;
        let [value, d1, d2, _] = link.derivatives(eta + s * u, y, m);
        nodes.push((value - 0.5 * u * u + ln_weight, u, d1, d2));
    }
    let value = shares(nodes.iter_mut().map(|node| &mut node.0)) + scale.ln();
    let (mut e, mut t) = (0.0, 0.0);
    for (share, u, d1, _) in &nodes {
        e += share * d1;
        t += share * u * d1;
    }
    let mut element = Element { value, e, t, ..Element::default() };
    for (share, u, d1, d2) in &nodes {
        element.ee += share * (d2 + (d1 - e).powi(2));
        element.et += share * (u * d2 + (d1 - e) * (u * d1 - t));
        element.tt += share * (u * u * d2 + (u * d1 - t).powi(2));
    }
    element
}

impl Sums {
    /// A group of one row: all its scores are multiples of the row, so only numbers are averaged.
    fn add_single(&mut self, row: &[f64], nodes: &[Node], copies: f64, nested: bool) {
        let p = row.len();
        let (mut mean, mut second) = ([0.0; 3], [0.0; 6]);
        for (v, share, elements) in nodes {
            let Some(one) = elements.first() else { continue };
            for (mean, x) in mean.iter_mut().zip([one.e, v * one.e, one.t]) {
                *mean += share * x;
            }
        }
        let [e, s, t] = mean;
        for (v, share, elements) in nodes {
            let Some(one) = elements.first() else { continue };
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

    fn add_many(&mut self, table: &Table, group: &Group, nodes: &[Node], nested: bool) {
        let (p, count) = (table.p, group.to - group.from);
        let size = p + 1 + usize::from(nested);
        let mut per_row = vec![[0.0; 4]; count];
        let mut tail = [0.0; 3];
        let mut scores: Vec<Vec<f64>> = Vec::with_capacity(nodes.len());
        for (v, share, elements) in nodes {
            let (mut score, mut e, mut t) = (vec![0.0; size], 0.0, 0.0);
            for (offset, (one, sums)) in elements.iter().zip(&mut per_row).enumerate() {
                add_scaled(&mut score, one.e, table.row(group.from + offset));
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
        for ((_, share, _), score) in nodes.iter().zip(&scores) {
            add_scaled(&mut mean, *share, score);
        }
        add_scaled(&mut self.gradient, group.copies, &mean);
        for ((_, share, _), score) in nodes.iter().zip(&mut scores) {
            add_scaled(score, -1.0, &mean);
            add_outer(&mut self.hessian, group.copies * share, score);
        }
        for (offset, [_, ee, es, et]) in per_row.iter().enumerate() {
            let row = table.row(group.from + offset);
            add_outer(&mut self.hessian, group.copies * ee, row);
            self.add_cross(p, row, [group.copies * es, group.copies * et], nested);
        }
        self.add_tail(p, [0.0, 0.0], tail.map(|x| x * group.copies), nested);
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
