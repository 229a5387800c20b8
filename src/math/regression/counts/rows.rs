//! The likelihood where every row is worked by itself: sums over rows, so many at a time, in one order whatever the threads.

use std::borrow::Cow;

use rayon::prelude::*;

use super::law::Counted;
use super::parts::{Bend, LARGE, Part};
use crate::math::dense::{Cholesky, dot};
use crate::math::search::{Local, Maximum, Objective};

/// Rows that are worked through in one go.
const TOGETHER: usize = 2048;

/// A predictor this far out may be one that runs away; it is one where its variance says that nothing holds it.
const FAR: f64 = 20.0;
const LOOSE: f64 = 1e6;

/// Rows of a design that hold a weight and a sum each: cuttings and what was counted on them, or cuttings and those that have any.
#[derive(Debug, Clone, Default)]
pub(super) struct Rows {
    /// Columns.
    pub(super) width: usize,
    /// Row after row.
    x: Vec<f64>,
    offset: Vec<f64>,
    weight: Vec<f64>,
    total: Vec<f64>,
}

impl Rows {
    pub(super) fn new(width: usize, rows: usize) -> Self {
        let room = || Vec::with_capacity(rows);
        Self { width, x: Vec::with_capacity(width * rows), offset: room(), weight: room(), total: room() }
    }

    pub(super) fn push(&mut self, x: &[f64], (offset, weight, total): (f64, f64, f64)) {
        self.x.extend_from_slice(x);
        self.offset.push(offset);
        self.weight.push(weight);
        self.total.push(total);
    }

    pub(super) fn len(&self) -> usize {
        self.weight.len()
    }

    /// The first of every so many rows.
    pub(super) fn each(&self, step: usize) -> Cow<'_, Self> {
        if step == 1 {
            return Cow::Borrowed(self);
        }
        let mut some = Self::new(self.width, self.len() / step + 1);
        let held = self.weight.iter().zip(&self.total).zip(&self.offset).enumerate().step_by(step);
        for (row, ((weight, total), offset)) in held {
            let x = self.x.get(row * self.width..(row + 1) * self.width).unwrap_or_default();
            some.push(x, (*offset, *weight, *total));
        }
        Cow::Owned(some)
    }

    /// Smallest and largest predictor, offsets apart.
    fn reach(&self, at: &[f64]) -> (f64, f64) {
        let along = |x: &[f64]| x.iter().zip(at).map(|(x, b)| x * b).sum::<f64>();
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        self.x.chunks_exact(self.width.max(1)).map(along).fold(ends, |(low, high), e| (low.min(e), high.max(e)))
    }

    /// True where a group that is all alike drew its odds, or its mean, to an end; coefficients of these rows stand `from` there on.
    pub(super) fn runs_away(&self, top: &Maximum, from: usize) -> bool {
        let own = top.at.get(from..from + self.width).unwrap_or_default();
        let (low, high) = self.reach(own);
        if low > -FAR && high < FAR {
            return false;
        }
        let lines = top.local.hessian.iter().skip(from).take(self.width);
        let block: Vec<Vec<f64>> =
            lines.map(|row| row.iter().skip(from).take(self.width).map(|h| -h).collect()).collect();
        let Some(root) = Cholesky::new(&block) else { return true };
        let loose = |x: &[f64]| {
            let z = root.forward(x);
            dot(&z, &z) > LOOSE
        };
        self.x.chunks_exact(self.width.max(1)).any(loose)
    }

    /// Coefficients by least squares on one number of each row; none where columns cannot be told apart.
    pub(super) fn least_squares(&self, of: impl Fn(f64, f64, f64) -> f64 + Sync) -> Option<Vec<f64>> {
        let sums = self.summed(
            false,
            |weight, total, offset, _| {
                let value = of(weight, total, offset);
                Bend { eta: weight * value, eta_eta: -weight, ..Bend::default() }
            },
            &[],
        );
        let sums = sums.local(self.width);
        let negative: Vec<Vec<f64>> = sums.hessian.iter().map(|row| row.iter().map(|h| -h).collect()).collect();
        Cholesky::new(&negative).map(|root| root.solve(&sums.gradient))
    }

    /// Sums of what each row gives, by its weight, its total, its offset and its predictor without it.
    fn summed(&self, wide: bool, row: impl Fn(f64, f64, f64, f64) -> Bend + Sync, at: &[f64]) -> Sums {
        let width = self.width;
        let one = |part: usize| {
            let mut sums = Sums::new(width, wide);
            let from = part * TOGETHER;
            let held = self.weight.iter().zip(&self.total).zip(&self.offset).skip(from).take(TOGETHER);
            let lines = self.x.chunks_exact(width.max(1)).skip(from);
            if width == 0 {
                held.for_each(|((weight, total), offset)| sums.add(&[], &row(*weight, *total, *offset, 0.0)));
                return sums;
            }
            for (((weight, total), offset), x) in held.zip(lines) {
                let along = x.iter().zip(at).map(|(x, b)| x * b).sum();
                sums.add(x, &row(*weight, *total, *offset, along));
            }
            sums
        };
        let parts = self.weight.len().div_ceil(TOGETHER);
        let found: Vec<Sums> =
            if parts > 1 { (0..parts).into_par_iter().map(one).collect() } else { (0..parts).map(one).collect() };
        found.iter().fold(Sums::new(width, wide), Sums::and)
    }
}

/// Value, slopes and bends over rows; the last coordinate is the logarithm of the spread.
struct Sums {
    value: f64,
    /// What is still to be taken to its logarithm.
    product: f64,
    eta: Vec<f64>,
    /// Lower triangle, row after row.
    eta_eta: Vec<f64>,
    eta_wide: Vec<f64>,
    wide: f64,
    wide_wide: f64,
    is_wide: bool,
}

impl Sums {
    fn new(width: usize, is_wide: bool) -> Self {
        let eta_wide = vec![0.0; if is_wide { width } else { 0 }];
        let (eta, eta_eta) = (vec![0.0; width], vec![0.0; width * (width + 1) / 2]);
        Self { value: 0.0, product: 1.0, eta, eta_eta, eta_wide, wide: 0.0, wide_wide: 0.0, is_wide }
    }

    fn add(&mut self, x: &[f64], found: &Bend) {
        self.value += found.value;
        self.product *= found.product;
        if !(1.0 / LARGE..LARGE).contains(&self.product) {
            self.value += self.product.ln();
            self.product = 1.0;
        }
        self.wide += found.wide;
        self.wide_wide += found.wide_wide;
        self.eta.iter_mut().zip(x).for_each(|(sum, x)| *sum += x * found.eta);
        self.eta_wide.iter_mut().zip(x).for_each(|(sum, x)| *sum += x * found.eta_wide);
        let mut slots = self.eta_eta.iter_mut();
        for (at, first) in x.iter().enumerate() {
            let by = first * found.eta_eta;
            x.iter().take(at + 1).zip(slots.by_ref()).for_each(|(second, slot)| *slot += by * second);
        }
    }

    fn and(mut self, other: &Self) -> Self {
        let add = |sums: &mut [f64], more: &[f64]| sums.iter_mut().zip(more).for_each(|(a, b)| *a += b);
        add(&mut self.eta, &other.eta);
        add(&mut self.eta_eta, &other.eta_eta);
        add(&mut self.eta_wide, &other.eta_wide);
        self.value += other.value + other.product.ln();
        self.wide += other.wide;
        self.wide_wide += other.wide_wide;
        self
    }

    fn local(self, width: usize) -> Local {
        let size = width + usize::from(self.is_wide);
        let mut hessian = vec![vec![0.0; size]; size];
        let mut put = |row: usize, column: usize, value: f64| {
            for (i, j) in [(row, column), (column, row)] {
                hessian.get_mut(i).and_then(|line| line.get_mut(j)).into_iter().for_each(|slot| *slot = value);
            }
        };
        let mut left = self.eta_eta.iter();
        for row in 0..width {
            (0..=row).zip(left.by_ref()).for_each(|(column, value)| put(row, column, *value));
        }
        let mut gradient = self.eta;
        if self.is_wide {
            self.eta_wide.iter().enumerate().for_each(|(column, value)| put(width, column, *value));
            put(width, width, self.wide_wide);
            gradient.push(self.wide);
        }
        Local { value: self.value, gradient, hessian }
    }
}

/// Counts by a law of their own, truncated or not: coefficients, then the logarithm of the spread where there is one.
pub(super) struct CountRows<'a> {
    rows: Cow<'a, Rows>,
    /// How often each count was met.
    tally: Vec<(u64, f64)>,
    truncated: bool,
    wide: bool,
}

impl<'a> CountRows<'a> {
    /// Every so many of some rows. What counts alone bring is that of all in their share: the sums are those of a start.
    pub(super) fn of(rows: &'a Rows, tally: &[(u64, f64)], (truncated, wide): (bool, bool), each: usize) -> Self {
        let some = rows.each(each);
        let share = some.weight.iter().sum::<f64>() / rows.weight.iter().sum::<f64>();
        let tally = tally.iter().map(|(count, times)| (*count, times * share)).collect();
        Self { rows: some, tally, truncated, wide }
    }
}

impl Objective for CountRows<'_> {
    fn value(&mut self, at: &[f64]) -> f64 {
        self.local(at).value
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let ln_spread = at.get(self.rows.width).copied().filter(|_| self.wide);
        let part = Part::new(self.truncated, ln_spread);
        let mut sums =
            self.rows.summed(self.wide, |weight, total, offset, along| part.of(offset + along, weight, total), at);
        // What counts alone bring, whatever their mean.
        for (count, times) in Counted::all(&self.tally, ln_spread).iter().zip(self.tally.iter().map(|one| one.1)) {
            let (value, first, second) = count.alone();
            sums.value += times * value;
            sums.wide += times * first;
            sums.wide_wide += times * second;
        }
        sums.local(self.rows.width)
    }
}

/// Whether there are any, by a logit: of the weight of each row its total has some.
pub(super) struct AnyRows<'a>(pub(super) Cow<'a, Rows>);

impl Objective for AnyRows<'_> {
    fn value(&mut self, at: &[f64]) -> f64 {
        self.local(at).value
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let row = |weight: f64, total: f64, _: f64, zeta: f64| {
            let t = (-zeta.abs()).exp();
            let near = 1.0 / (1.0 + t);
            let any = if zeta > 0.0 { near } else { t * near };
            // Less ln(1 + e^zeta) for each.
            let (more, product) = if weight == 1.0 { (0.0, near) } else { (weight * t.ln_1p(), 1.0) };
            Bend {
                value: total * zeta - weight * zeta.max(0.0) - more,
                product,
                eta: total - weight * any,
                eta_eta: -weight * t * near * near,
                ..Bend::default()
            }
        };
        self.0.summed(false, row, at).local(self.0.width)
    }
}
