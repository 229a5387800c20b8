//! The fit: patterns of the design with how often each count was met, and the largest likelihood.

use super::law::{CountLaw, Counted, NO_SPREAD, Setting, Zeros};
use crate::control::Control;
use crate::error::Result;
use crate::math::dense::{Cholesky, Qr, dot};
use crate::math::search::{Local, Objective, maximise};

/// A pattern of the design.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CountPattern {
    /// Its row in the count part, `ln mu = row . coefficients`.
    pub count: Vec<f64>,
    /// Its row in the zero part, a logit; empty where there is none.
    pub zero: Vec<f64>,
}

/// How often a count was met in a pattern.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CountCell {
    /// The pattern.
    pub pattern: usize,
    /// The count.
    pub count: u64,
    /// How often.
    pub times: f64,
}

/// What is to be fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct CountRegression {
    /// The law of counts.
    pub law: CountLaw,
    /// What becomes of zeros.
    pub zeros: Zeros,
    /// Patterns of the design.
    pub patterns: Vec<CountPattern>,
    /// Counts met.
    pub cells: Vec<CountCell>,
}

/// A fit by the largest likelihood.
#[derive(Debug, Clone, PartialEq)]
pub struct CountFit {
    /// Coefficients of the count part.
    pub count: Vec<f64>,
    /// Coefficients of the zero part.
    pub zero: Vec<f64>,
    /// The spread of a negative binomial (variance `mu + spread mu^2`); 0 where a Poisson law is the likelier.
    pub spread: f64,
    /// Standard errors: count part, zero part, then of the logarithm of the spread where that is not 0. None where the information is
    /// singular.
    pub se: Vec<Option<f64>>,
    /// The largest logarithm of the likelihood.
    pub loglik: f64,
    /// Newton steps.
    pub iterations: u64,
    /// Expected share of zeros of each pattern.
    pub none: Vec<f64>,
    /// Expected count of each pattern, zeros among them.
    pub mean: Vec<f64>,
}

/// The likelihood as a function of all coefficients and, where there is one, the logarithm of the spread.
struct Likelihood<'a> {
    given: &'a CountRegression,
    /// Spread held away from the likelihood: a Poisson law.
    law: CountLaw,
    distinct: Vec<u64>,
    /// For each cell the place of its count among the distinct.
    places: Vec<usize>,
}

impl<'a> Likelihood<'a> {
    fn new(given: &'a CountRegression, law: CountLaw) -> Self {
        let mut distinct: Vec<u64> = given.cells.iter().map(|cell| cell.count).collect();
        distinct.sort_unstable();
        distinct.dedup();
        let places = given.cells.iter().map(|cell| distinct.binary_search(&cell.count).unwrap_or_default()).collect();
        Self { given, law, distinct, places }
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
            Setting::new(self.given.zeros, dot(&pattern.count, count), dot(&pattern.zero, zero), ln_spread)
        };
        self.given.patterns.iter().map(one).collect()
    }

    fn counted(&self, at: &[f64]) -> Vec<Counted> {
        let ln_spread = self.parts(at).2;
        self.distinct.iter().map(|count| Counted::new(*count, ln_spread)).collect()
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

impl CountRegression {
    /// Fits it by Newton steps. A negative binomial whose likelihood rises towards no spread ends as a Poisson law.
    ///
    /// # Errors
    /// A numeric error where no maximum is reached, as with a pattern without zeros in a zero part of its own; an interruption.
    ///
    /// # References
    /// Mullahy J (1986), J. Econom. 33:341-365 (two parts); Lambert D (1992), Technometrics 34:1-14 (zeros added).
    ///
    /// ```
    /// use rootling::control::Control;
    /// use rootling::math::regression::counts::{CountCell, CountLaw, CountPattern, CountRegression, Zeros};
    /// let cell = |count, times| CountCell { pattern: 0, count, times };
    /// let given = CountRegression {
    ///     law: CountLaw::Poisson, zeros: Zeros::Apart,
    ///     patterns: vec![CountPattern { count: vec![1.0], zero: vec![1.0] }],
    ///     cells: vec![cell(0, 5.0), cell(1, 4.0), cell(2, 3.0), cell(3, 3.0)],
    /// };
    /// let fit = given.fit(&Control::new())?;
    /// approx::assert_relative_eq!(fit.none[0], 5.0 / 15.0, max_relative = 1e-9);
    /// approx::assert_relative_eq!(fit.mean[0], 19.0 / 15.0, max_relative = 1e-9); // a two-part fit keeps the mean
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn fit(&self, control: &Control) -> Result<CountFit> {
        let (count, zero) = self.start();
        let plain: Vec<f64> = [count, zero].concat();
        let all = |size: usize| (0..size).collect::<Vec<usize>>();
        let mut poisson = Likelihood::new(self, CountLaw::Poisson);
        let without = maximise(&mut poisson, &plain, &all(plain.len()), control)?;
        if self.law == CountLaw::Poisson {
            return Ok(self.found(&poisson, &without.at, without.iterations));
        }
        let mut wide = Likelihood::new(self, CountLaw::NegativeBinomial);
        // The slope of the likelihood by the spread where that is 0: no spread is found where it falls.
        let start: Vec<f64> = without.at.iter().copied().chain([0.3_f64.ln()]).collect();
        let near: Vec<f64> = without.at.iter().copied().chain([1e-4_f64.ln()]).collect();
        let rises = wide.value(&near) > without.local.value;
        let found = maximise(&mut wide, &start, &all(start.len()), control);
        match found {
            Ok(top) if top.local.value >= without.local.value && top.at.last().is_some_and(|a| *a > NO_SPREAD) => {
                Ok(self.found(&wide, &top.at, top.iterations))
            }
            Err(stopped) if rises || matches!(stopped, crate::Error::Interrupted) => Err(stopped),
            _ => Ok(self.found(&poisson, &without.at, without.iterations)),
        }
    }

    /// Coefficients to start from: least squares on logarithms of means, and on logits of zeros.
    fn start(&self) -> (Vec<f64>, Vec<f64>) {
        let mut sums = vec![(0.0, 0.0, 0.0); self.patterns.len()];
        for cell in &self.cells {
            let Some((total, some, none)) = sums.get_mut(cell.pattern) else { continue };
            *total += cell.times * cell.count as f64;
            *(if cell.count > 0 { some } else { none }) += cell.times;
        }
        let weight = |(_, some, none): &(f64, f64, f64)| (some + none).sqrt();
        let of_all = self.zeros == Zeros::Plain;
        let mean = |(total, some, none): &(f64, f64, f64)| {
            ((total + 0.5) / (some + if of_all { *none } else { 0.0 } + 0.5)).max(0.05).ln()
        };
        // A tenth of the zeros is left to the law where zeros are added.
        let odds = |(_, some, none): &(f64, f64, f64)| match self.zeros {
            Zeros::Added => ((0.9 * none + 0.5) / (some + 0.1 * none + 0.5)).ln(),
            _ => ((some + 0.5) / (none + 0.5)).ln(),
        };
        let solved = |row: &dyn Fn(&CountPattern) -> &Vec<f64>, of: &dyn Fn(&(f64, f64, f64)) -> f64| -> Vec<f64> {
            let size = self.patterns.first().map_or(0, |one| row(one).len());
            let column = |at: usize| -> Vec<f64> {
                let value = |(one, sum): (&CountPattern, &(f64, f64, f64))| {
                    row(one).get(at).copied().unwrap_or(0.0) * weight(sum)
                };
                self.patterns.iter().zip(&sums).map(value).collect()
            };
            let qr = Qr::new(&(0..size).map(column).collect::<Vec<_>>(), 1e-9);
            let along: Vec<f64> = sums.iter().map(|sum| weight(sum) * of(sum)).collect();
            let kept = qr.solve_upper(&qr.project(&along));
            let mut all = vec![0.0; size];
            for (at, value) in qr.kept.iter().zip(kept) {
                all.get_mut(*at).into_iter().for_each(|slot| *slot = value);
            }
            all
        };
        (solved(&|one| &one.count, &mean), solved(&|one| &one.zero, &odds))
    }

    fn found(&self, likelihood: &Likelihood<'_>, at: &[f64], iterations: u64) -> CountFit {
        let mut again = Likelihood::new(self, likelihood.law);
        let local = again.local(at);
        let negative: Vec<Vec<f64>> = local.hessian.iter().map(|row| row.iter().map(|h| -h).collect()).collect();
        let se = match Cholesky::new(&negative) {
            Some(root) => root.inverse().iter().enumerate().map(|(i, row)| row.get(i).map(|v| v.sqrt())).collect(),
            None => vec![None; at.len()],
        };
        let (count, zero, ln_spread) = likelihood.parts(at);
        let settings = likelihood.settings(at);
        CountFit {
            count: count.to_vec(),
            zero: zero.to_vec(),
            spread: ln_spread.map_or(0.0, f64::exp),
            se,
            loglik: local.value,
            iterations,
            none: settings.iter().map(Setting::none).collect(),
            mean: settings.iter().map(Setting::mean).collect(),
        }
    }
}
