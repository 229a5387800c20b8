//! The likelihood of any number of random intercepts, nested or crossed, by Laplace's approximation.

use super::groups::Layout;
use super::rows::{Table, add_outer, mirror};
use crate::math::dense::{add_scaled, dot};
use crate::math::search::Local;
use crate::math::sparse::{Pattern, Sparse};

/// `sum l(eta) - u'u / 2 - ln |H| / 2` at the mode of `u`, with `eta = X b + sum_k s_k u_k` and
/// `H = S Z' W Z S + I`, `W = -l''`.
///
/// Parameters are the coefficients and one SD per grouping. `H` is sparse: the grouping with most levels is eliminated first, so
/// nested groupings fill nothing in and the cost is linear in the rows. The gradient is exact: it follows the mode and the
/// determinant. The Hessian's rows for the SDs are differences of gradients; its block for the coefficients leaves the change of
/// the determinant out while searching, and is a difference of gradients too in [`Laplace::exact_hessian`].
///
/// # References
/// Breslow and Clayton (1993), JASA 88:9-25; Erisman and Tinney (1975), Communications of the ACM 18:177-179.
#[derive(Debug, Clone)]
pub(super) struct Laplace {
    table: Table,
    pattern: Pattern,
    /// Per grouping, the place in `u` of each row's level.
    index: Vec<Vec<usize>>,
    /// Per pair of groupings (first before second), the place in the matrix of each row.
    places: Vec<(usize, usize, Vec<usize>)>,
    /// Where each grouping's levels start in `u`.
    starts: Vec<usize>,
    u: Vec<f64>,
}

/// The mode and what belongs to it.
struct Mode {
    d: Vec<[f64; 4]>,
    ld: Sparse,
    value: f64,
}

impl Laplace {
    pub(super) fn new(layout: &Layout) -> Self {
        let count = layout.levels.len();
        let mut by_size: Vec<usize> = (0..count).collect();
        by_size.sort_by_key(|g| std::cmp::Reverse(layout.size(*g)));
        let (mut starts, mut size) = (vec![0; count], 0);
        for g in by_size {
            if let Some(start) = starts.get_mut(g) {
                *start = size;
            }
            size += layout.size(g);
        }
        let shifted = |(levels, start): (&Vec<usize>, &usize)| levels.iter().map(|level| level + start).collect();
        let index: Vec<Vec<usize>> = layout.levels.iter().zip(&starts).map(shifted).collect();
        let pairs: Vec<(usize, usize)> = (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b))).collect();
        let none = Vec::new();
        let of = |g: usize| index.get(g).unwrap_or(&none);
        let entries = pairs.iter().flat_map(|(a, b)| of(*a).iter().copied().zip(of(*b).iter().copied()));
        let pattern = Pattern::new(size, entries);
        let places = pairs.iter().map(|(a, b)| {
            let place = |(i, j): (&usize, &usize)| pattern.place(*i, *j).unwrap_or(0);
            (*a, *b, of(*a).iter().zip(of(*b)).map(place).collect())
        });
        let places = places.collect();
        Self { table: layout.table.clone(), pattern, index, places, starts, u: vec![0.0; size] }
    }

    fn deviations<'a>(&self, at: &'a [f64]) -> &'a [f64] {
        at.get(self.table.p..).unwrap_or_default()
    }

    /// Effects of grouping `g`, on the link scale, at the last point evaluated.
    pub(super) fn effects(&self, g: usize, size: usize, deviation: f64) -> Vec<f64> {
        let start = self.starts.get(g).copied().unwrap_or(0);
        self.u.iter().skip(start).take(size).map(|u| u * deviation).collect()
    }

    /// `Z S u` per row.
    fn spread(&self, deviations: &[f64], u: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.table.rows()];
        for (index, s) in self.index.iter().zip(deviations) {
            for (out, i) in out.iter_mut().zip(index) {
                *out += s * u.get(*i).copied().unwrap_or(0.0);
            }
        }
        out
    }

    /// Adds `s Z_k' row values` to `out`.
    fn gather(index: &[usize], s: f64, values: impl Iterator<Item = f64>, out: &mut [f64]) {
        for (i, value) in index.iter().zip(values) {
            if let Some(entry) = out.get_mut(*i) {
                *entry += s * value;
            }
        }
    }

    /// `S Z' values`.
    fn collect(&self, deviations: &[f64], values: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.pattern.size()];
        for (index, s) in self.index.iter().zip(deviations) {
            Self::gather(index, *s, values.iter().copied(), &mut out);
        }
        out
    }

    fn matrix(&self, deviations: &[f64], d: &[[f64; 4]]) -> Sparse {
        let mut h = self.pattern.identity();
        for (index, s) in self.index.iter().zip(deviations) {
            Self::gather(index, s * s, d.iter().map(|d| -d[2]), &mut h.diagonal);
        }
        for (a, b, places) in &self.places {
            let s = deviations.get(*a).copied().unwrap_or(0.0) * deviations.get(*b).copied().unwrap_or(0.0);
            Self::gather(places, s, d.iter().map(|d| -d[2]), &mut h.below);
        }
        h
    }

    fn derivatives(&self, eta: &[f64]) -> Vec<[f64; 4]> {
        let counts = self.table.rooted.iter().zip(&self.table.stuck);
        eta.iter().zip(counts).map(|(eta, (y, m))| self.table.link.derivatives(*eta, *y, *m)).collect()
    }

    /// The mode of `u` by Newton steps from the last one found.
    fn mode(&mut self, at: &[f64]) -> Option<Mode> {
        let fixed = self.table.eta(at);
        let deviations = self.deviations(at).to_vec();
        let joint = |u: &[f64], this: &Self| {
            let mut eta = this.spread(&deviations, u);
            add_scaled(&mut eta, 1.0, &fixed);
            let d = this.derivatives(&eta);
            let value = d.iter().map(|d| d[0]).sum::<f64>() - 0.5 * dot(u, u);
            (d, value)
        };
        let mut u = std::mem::take(&mut self.u);
        let (mut d, mut value) = joint(&u, self);
        for _ in 0..100 {
            let mut ld = self.matrix(&deviations, &d);
            if !self.pattern.decompose(&mut ld) {
                break;
            }
            let mut score = self.collect(&deviations, &d.iter().map(|d| d[1]).collect::<Vec<_>>());
            add_scaled(&mut score, -1.0, &u);
            let step = self.pattern.solve(&ld, &score);
            let decrement = dot(&step, &score);
            if decrement < 1e-10 {
                // The step from here leaves an error of the order of the decrement.
                add_scaled(&mut u, 1.0, &step);
                (d, value) = joint(&u, self);
                ld = self.matrix(&deviations, &d);
                if !self.pattern.decompose(&mut ld) {
                    break;
                }
                self.u = u;
                let value = value - 0.5 * Pattern::ln_determinant(&ld);
                return Some(Mode { d, ld, value });
            }
            let mut length = 1.0;
            loop {
                let next: Vec<f64> = u.iter().zip(&step).map(|(u, s)| u + length * s).collect();
                let reached = joint(&next, self);
                if reached.1 >= value - 1e-12 * (1.0 + value.abs()) {
                    u = next;
                    (d, value) = reached;
                    break;
                }
                length *= 0.5;
                if length < 1e-12 {
                    self.u = vec![0.0; u.len()];
                    return None;
                }
            }
        }
        self.u = vec![0.0; self.pattern.size()];
        None
    }

    pub(super) fn value(&mut self, at: &[f64]) -> f64 {
        self.mode(at).map_or(f64::NAN, |mode| mode.value)
    }

    /// `d_r = (Z S H^-1 S Z')_rr` and, per grouping, its part `sum_j s_j H^-1[k, j]` that belongs to the grouping.
    fn leverages(&self, deviations: &[f64], ld: &Sparse) -> (Vec<f64>, Vec<Vec<f64>>) {
        let inverse = self.pattern.inverse(ld);
        let mut parts: Vec<Vec<f64>> = self
            .index
            .iter()
            .zip(deviations)
            .map(|(index, s)| index.iter().map(|i| s * inverse.diagonal.get(*i).copied().unwrap_or(0.0)).collect())
            .collect();
        for (a, b, places) in &self.places {
            for (to, from) in [(*a, *b), (*b, *a)] {
                let s = deviations.get(from).copied().unwrap_or(0.0);
                for (entry, place) in parts.get_mut(to).into_iter().flatten().zip(places) {
                    *entry += s * inverse.below.get(*place).copied().unwrap_or(0.0);
                }
            }
        }
        let mut whole = vec![0.0; self.table.rows()];
        for (part, s) in parts.iter().zip(deviations) {
            add_scaled(&mut whole, *s, part);
        }
        (whole, parts)
    }

    /// Value and exact gradient.
    pub(super) fn slope(&mut self, at: &[f64]) -> (f64, Vec<f64>) {
        self.mode(at).map_or_else(|| (f64::NAN, vec![0.0; at.len()]), |mode| (mode.value, self.gradient(at, &mode)))
    }

    fn gradient(&self, at: &[f64], mode: &Mode) -> Vec<f64> {
        let deviations = self.deviations(at);
        let (leverages, parts) = self.leverages(deviations, &mode.ld);
        // What a change of eta does through the determinant, directly and through the mode.
        let c: Vec<f64> = leverages.iter().zip(&mode.d).map(|(h, d)| 0.5 * h * d[3]).collect();
        let v = self.pattern.solve(&mode.ld, &self.collect(deviations, &c));
        let back = self.spread(deviations, &v);
        let mut gradient = vec![0.0; self.table.p];
        for (i, ((d, c), back)) in mode.d.iter().zip(&c).zip(&back).enumerate() {
            add_scaled(&mut gradient, d[1] + c + d[2] * back, self.table.row(i));
        }
        for (index, part) in self.index.iter().zip(&parts) {
            let mut sum = 0.0;
            let rows = index.iter().zip(part).zip(mode.d.iter().zip(c.iter().zip(&back)));
            for ((i, part), (d, (c, back))) in rows {
                let (u, v) = (self.u.get(*i).copied().unwrap_or(0.0), v.get(*i).copied().unwrap_or(0.0));
                sum += (d[1] + c + d[2] * back) * u + d[1] * v + d[2] * part;
            }
            gradient.push(sum);
        }
        gradient
    }

    pub(super) fn local(&mut self, at: &[f64]) -> Local {
        let (p, size) = (self.table.p, at.len());
        let Some(mode) = self.mode(at) else {
            return Local { value: f64::NAN, gradient: vec![0.0; size], hessian: vec![vec![0.0; size]; size] };
        };
        let gradient = self.gradient(at, &mode);
        let mut hessian = self.coefficient_block(at, &mode);
        for row in &mut hessian {
            row.resize(size, 0.0);
        }
        hessian.resize(size, vec![0.0; size]);
        for k in p..size {
            let line = self.difference(at, k, 1e-5);
            set_line(&mut hessian, k, &line);
        }
        Local { value: mode.value, gradient, hessian }
    }

    /// `-(X' W X - X' W Z S H^-1 S Z' W X)`.
    fn coefficient_block(&self, at: &[f64], mode: &Mode) -> Vec<Vec<f64>> {
        let (p, deviations) = (self.table.p, self.deviations(at));
        let mut hessian = vec![vec![0.0; p]; p];
        for (i, d) in mode.d.iter().enumerate() {
            add_outer(&mut hessian, d[2], self.table.row(i));
        }
        mirror(&mut hessian);
        let column = |j: usize| -> Vec<f64> {
            let weighted = mode.d.iter().enumerate().map(|(i, d)| d[2] * self.table.row(i).get(j).unwrap_or(&0.0));
            self.collect(deviations, &weighted.collect::<Vec<_>>())
        };
        let right: Vec<Vec<f64>> = (0..p).map(column).collect();
        for (line, column) in hessian.iter_mut().zip(&right) {
            let solved = self.pattern.solve(&mode.ld, column);
            for (entry, other) in line.iter_mut().zip(&right) {
                *entry += dot(&solved, other);
            }
        }
        hessian
    }

    /// Derivative of the gradient by coordinate `k`, by central difference.
    fn difference(&mut self, at: &[f64], k: usize, h: f64) -> Vec<f64> {
        let mut moved = |by: f64| {
            let mut next = at.to_vec();
            if let Some(entry) = next.get_mut(k) {
                *entry += by;
            }
            self.slope(&next).1
        };
        let (up, down) = (moved(h), moved(-h));
        up.iter().zip(&down).map(|(a, b)| (a - b) / (2.0 * h)).collect()
    }

    /// The Hessian by differences of the exact gradient, `steps` apart.
    pub(super) fn exact_hessian(&mut self, at: &[f64], steps: &[f64]) -> Vec<Vec<f64>> {
        let lines: Vec<Vec<f64>> = steps.iter().enumerate().map(|(k, h)| self.difference(at, k, *h)).collect();
        let across = |i: usize, j: usize| lines.get(j).and_then(|line| line.get(i)).copied().unwrap_or(0.0);
        let symmetric =
            |i: usize, line: &[f64]| line.iter().enumerate().map(|(j, x)| 0.5 * (x + across(i, j))).collect();
        lines.iter().enumerate().map(|(i, line)| symmetric(i, line)).collect()
    }
}

fn set_line(hessian: &mut [Vec<f64>], k: usize, line: &[f64]) {
    for (row, x) in hessian.iter_mut().zip(line) {
        if let Some(entry) = row.get_mut(k) {
            *entry = *x;
        }
    }
    if let Some(row) = hessian.get_mut(k) {
        row.copy_from_slice(line);
    }
}
