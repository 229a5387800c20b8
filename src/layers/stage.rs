//! One weighted linear fit of the cell rates: on the design and some of the places.

use std::collections::BTreeMap;

use super::trays::{Cells, refines};
use crate::math::dense::{Qr, add_scaled, dot};
use crate::math::search::RANK;

/// A fit. The place with most levels is swept out by centring, so many levels stay cheap; the others enter as columns.
pub(super) struct Stage<'a> {
    cells: &'a Cells,
    roots: Vec<f64>,
    /// Level of the swept place by cell (one level without a place), and cuttings by level.
    swept: Vec<u32>,
    totals: Vec<f64>,
    qr: Qr,
}

impl<'a> Stage<'a> {
    /// On the design and the places numbered.
    pub(super) fn new(cells: &'a Cells, places: &[usize]) -> Self {
        let codes: Vec<&Vec<u32>> = places.iter().filter_map(|at| cells.places.get(*at)).collect();
        // What another one refines is spanned by it.
        let mut finest: Vec<&Vec<u32>> = Vec::new();
        for (at, one) in codes.iter().enumerate() {
            let spanned = codes
                .iter()
                .enumerate()
                .any(|(other, finer)| other != at && refines(finer, one) && !(refines(one, finer) && other > at));
            if !spanned {
                finest.push(one);
            }
        }
        finest.sort_by_key(|codes| std::cmp::Reverse(levels(codes)));
        let mut finest = finest.into_iter();
        let swept = finest.next().cloned().unwrap_or_else(|| vec![0; cells.weight.len()]);
        let mut totals = vec![0.0; levels(&swept)];
        add_by(&mut totals, &swept, cells.weight.iter().copied());
        let roots: Vec<f64> = cells.weight.iter().map(|w| w.sqrt()).collect();
        let mut stage = Self { cells, roots, swept, totals, qr: Qr::new(&[], RANK) };
        let mut columns: Vec<Vec<f64>> = cells.design.iter().map(|x| stage.centred(x)).collect();
        for codes in finest {
            let indicator = |level: usize| -> Vec<f64> {
                codes.iter().map(|code| f64::from(u8::from(*code as usize == level))).collect()
            };
            columns.extend((0..levels(codes)).map(|level| stage.centred(&indicator(level))));
        }
        stage.qr = Qr::new(&columns, RANK);
        stage
    }

    /// A column less its mean within each level swept out, times the roots of the weights; 0 where nothing is left.
    fn centred(&self, x: &[f64]) -> Vec<f64> {
        let mut means = vec![0.0; self.totals.len()];
        add_by(&mut means, &self.swept, x.iter().zip(&self.cells.weight).map(|(x, w)| x * w));
        means.iter_mut().zip(&self.totals).for_each(|(mean, total)| *mean /= total);
        let each = || x.iter().zip(&self.roots).zip(&self.swept);
        let off =
            |((x, root), level): ((&f64, &f64), &u32)| root * (x - means.get(*level as usize).copied().unwrap_or(0.0));
        let left: Vec<f64> = each().map(off).collect();
        let whole: f64 = each().map(|((x, root), _)| (x * root).powi(2)).sum();
        if dot(&left, &left) <= RANK * RANK * whole { vec![0.0; left.len()] } else { left }
    }

    /// Rank of the fit.
    pub(super) fn rank(&self) -> f64 {
        (self.totals.len() + self.qr.rank()) as f64
    }

    /// Residuals of the cell rates times the roots of the weights.
    fn residuals(&self) -> Vec<f64> {
        let mut left = self.centred(&self.cells.rate);
        let off = self.qr.project(&left);
        for (q, c) in self.qr.basis().iter().zip(off) {
            add_scaled(&mut left, -c, q);
        }
        left
    }

    /// Sum of squares left between trays, `sum m (rate - fit)^2`.
    pub(super) fn left(&self) -> f64 {
        let off = self.residuals();
        dot(&off, &off) + self.cells.inside
    }

    /// Fitted rates by cell.
    pub(super) fn fitted(&self) -> Vec<f64> {
        let off = self.residuals();
        self.cells.rate.iter().zip(off).zip(&self.roots).map(|((rate, off), root)| rate - off / root).collect()
    }

    /// What a variance of 1 between trays adds to what is left, on average: `sum m (1 - h)`.
    pub(super) fn trace_of_trays(&self) -> f64 {
        let hat = self.qr.hat(self.roots.len());
        let cells = self.cells.weight.iter().zip(&self.cells.squares).zip(hat).zip(&self.swept);
        cells
            .map(|(((w, squares), h), level)| {
                let h = h + w / self.totals.get(*level as usize).copied().unwrap_or(f64::INFINITY);
                w - h * squares / w
            })
            .sum()
    }

    /// What a variance of 1 between the levels of a place adds.
    pub(super) fn trace_of_place(&self, codes: &[u32]) -> f64 {
        let mut whole = vec![0.0; levels(codes)];
        add_by(&mut whole, codes, self.cells.weight.iter().copied());
        let mut trace: f64 = whole.iter().sum();
        let mut together: BTreeMap<(u32, u32), f64> = BTreeMap::new();
        for ((level, swept), w) in codes.iter().zip(&self.swept).zip(&self.cells.weight) {
            *together.entry((*level, *swept)).or_insert(0.0) += w;
        }
        for ((_, swept), w) in together {
            trace -= w * w / self.totals.get(swept as usize).copied().unwrap_or(f64::INFINITY);
        }
        for q in self.qr.basis() {
            let mut sums = vec![0.0; whole.len()];
            add_by(&mut sums, codes, q.iter().zip(&self.roots).map(|(q, root)| q * root));
            trace -= dot(&sums, &sums);
        }
        trace
    }
}

/// Number of levels coded 0, 1, ...
pub(super) fn levels(codes: &[u32]) -> usize {
    codes.iter().max().map_or(1, |most| *most as usize + 1)
}

pub(super) fn add_by(sums: &mut [f64], codes: &[u32], values: impl Iterator<Item = f64>) {
    for (code, value) in codes.iter().zip(values) {
        if let Some(sum) = sums.get_mut(*code as usize) {
            *sum += value;
        }
    }
}
