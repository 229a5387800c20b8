//! The likelihood where zeros are added: count part and zero part meet in each zero, so both are climbed together.

use super::given::{CountCell, CountPattern, CountRegression};
use super::law::{CountLaw, Counted, Setting};
use crate::math::dense::dot;
use crate::math::search::{Local, Objective};

/// The likelihood as a function of all coefficients and, where there is one, the logarithm of the spread.
pub(super) struct Likelihood<'a> {
    given: &'a CountRegression,
    /// Spread held away from the likelihood: a Poisson law.
    law: CountLaw,
    /// Counts in rising order, with how often each was met.
    tally: Vec<(u64, f64)>,
    /// For each cell the place of its count among them.
    places: Vec<usize>,
}

impl<'a> Likelihood<'a> {
    pub(super) fn new(given: &'a CountRegression, law: CountLaw) -> Self {
        let tally = given.tally();
        let place = |cell: &CountCell| tally.binary_search_by_key(&cell.count, |one| one.0).unwrap_or_default();
        let places = given.cells.iter().map(place).collect();
        Self { given, law, tally, places }
    }

    fn sizes(&self) -> (usize, usize) {
        let first = self.given.patterns.first();
        (first.map_or(0, |one| one.count.len()), first.map_or(0, |one| one.zero.len()))
    }

    fn parts<'b>(&self, at: &'b [f64]) -> (&'b [f64], &'b [f64], Option<f64>) {
        let (count, zero) = self.sizes();
        let (first, rest) = at.split_at(count.min(at.len()));
        let (second, last) = rest.split_at(zero.min(rest.len()));
        (first, second, last.first().copied().filter(|_| self.law == CountLaw::NegativeBinomial))
    }

    fn settings(&self, at: &[f64]) -> Vec<Setting> {
        let (count, zero, ln_spread) = self.parts(at);
        let one = |pattern: &CountPattern| {
            let eta = pattern.offset + dot(&pattern.count, count);
            Setting::new(self.given.zeros, eta, dot(&pattern.zero, zero), ln_spread)
        };
        self.given.patterns.iter().map(one).collect()
    }

    fn counted(&self, at: &[f64]) -> Vec<Counted> {
        Counted::all(&self.tally, self.parts(at).2)
    }

    /// Where a pattern's three derivatives lie among all coordinates, each with its row.
    fn rows<'b>(&'b self, pattern: &'b CountPattern, last: &'b [f64]) -> [(usize, &'b [f64]); 3] {
        let (count, zero) = self.sizes();
        [(0, &pattern.count), (count, &pattern.zero), (count + zero, last)]
    }
}

impl Objective for Likelihood<'_> {
    fn value(&mut self, at: &[f64]) -> f64 {
        let (settings, counted) = (self.settings(at), self.counted(at));
        let one = |(cell, place): (&CountCell, &usize)| -> f64 {
            let (Some(setting), Some(counted)) = (settings.get(cell.pattern), counted.get(*place)) else { return 0.0 };
            cell.times * setting.ln_probability(counted).value
        };
        self.given.cells.iter().zip(&self.places).map(one).sum()
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let (settings, counted) = (self.settings(at), self.counted(at));
        let mut sums = vec![([0.0; 3], [[0.0; 3]; 3]); settings.len()];
        let mut value = 0.0;
        for (cell, place) in self.given.cells.iter().zip(&self.places) {
            let (Some(setting), Some(counted)) = (settings.get(cell.pattern), counted.get(*place)) else { continue };
            let found = setting.ln_probability(counted).scaled(cell.times);
            value += found.value;
            let Some((gradient, hessian)) = sums.get_mut(cell.pattern) else { continue };
            gradient.iter_mut().zip(&found.gradient).for_each(|(a, b)| *a += b);
            for (row, own) in hessian.iter_mut().zip(&found.hessian) {
                row.iter_mut().zip(own).for_each(|(a, b)| *a += b);
            }
        }
        let mut gradient = vec![0.0; at.len()];
        let mut hessian = vec![vec![0.0; at.len()]; at.len()];
        let last = vec![1.0; usize::from(self.law == CountLaw::NegativeBinomial)];
        for (pattern, (first, second)) in self.given.patterns.iter().zip(&sums) {
            let rows = self.rows(pattern, &last);
            for ((start, row), (g, h)) in rows.iter().zip(first.iter().zip(second)) {
                for (i, x) in row.iter().enumerate() {
                    gradient.get_mut(start + i).into_iter().for_each(|sum| *sum += x * g);
                    let Some(line) = hessian.get_mut(start + i) else { continue };
                    for ((other, columns), h) in rows.iter().zip(h) {
                        let own = line.iter_mut().skip(*other).zip(columns.iter());
                        own.for_each(|(sum, z)| *sum += x * z * h);
                    }
                }
            }
        }
        Local { value, gradient, hessian }
    }
}
