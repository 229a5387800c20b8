//! The fit: patterns of the design with how often each count was met, and the largest likelihood.

use rayon::prelude::*;

use super::added::Likelihood;
use super::given::{CountPattern, CountRegression};
use super::law::{CountLaw, NO_SPREAD, Zeros};
use super::parts::Expected;
use super::rows::{AnyRows, CountRows, Rows};
use crate::control::Control;
use crate::error::{NumericError, Result};
use crate::math::dense::{Cholesky, dot};
use crate::math::search::{Maximum, Objective, maximise};

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
    /// Covariance in the same order; empty where the information is singular.
    pub covariance: Vec<Vec<f64>>,
    /// The largest logarithm of the likelihood.
    pub loglik: f64,
    /// Newton steps.
    pub iterations: u64,
    /// Expected share of zeros of each pattern.
    pub none: Vec<f64>,
    /// Expected count of each pattern, zeros among them.
    pub mean: Vec<f64>,
}

/// One part at its top.
#[derive(Clone)]
struct Climbed {
    at: Vec<f64>,
    /// Coefficients before the logarithm of the spread.
    width: usize,
    value: f64,
    covariance: Option<Vec<Vec<f64>>>,
    iterations: u64,
}

impl Climbed {
    fn of(top: Maximum, width: usize) -> Self {
        let negative: Vec<Vec<f64>> = top.local.hessian.iter().map(|row| row.iter().map(|h| -h).collect()).collect();
        let covariance = Cholesky::new(&negative).map(|root| root.inverse());
        Self { at: top.at, width, value: top.local.value, covariance, iterations: top.iterations }
    }

    fn ln_spread(&self) -> Option<f64> {
        self.at.get(self.width).copied()
    }
}

fn climb<F: Objective>(f: &mut F, start: &[f64], control: &Control) -> Result<Maximum> {
    let all: Vec<usize> = (0..start.len()).collect();
    maximise(f, start, &all, control)
}

/// Rows from which on a climb begins where a tenth of them have their top, and which of them those are.
const MANY: usize = 8192;
const EACH: usize = 10;

/// Climbs a function of very many rows from the top of some of them, which lies so near that two or three steps are left.
fn climb_many<F: Objective>(
    made: impl Fn(usize) -> F,
    rows: usize,
    start: &[f64],
    control: &Control,
) -> Result<Maximum> {
    let near = if rows < MANY { None } else { climb(&mut made(EACH), start, control).ok() };
    if let Some(near) = near
        && let Ok(top) = climb(&mut made(1), &near.at, control)
    {
        return Ok(top);
    }
    climb(&mut made(1), start, control)
}

/// What runs away has no top.
fn lost(top: &Maximum) -> crate::Error {
    let iterations = top.iterations as usize;
    NumericError::NotConverged { routine: "the search for the largest likelihood", iterations }.into()
}

/// A law without spread, and with one where it is asked for and the likelihood rises to it; `made` makes the function of every so many rows.
fn with_spread<F: Objective>(
    law: CountLaw,
    start: &[f64],
    (made, rows, away): (impl Fn(CountLaw, usize) -> F, usize, impl Fn(&Maximum) -> bool),
    control: &Control,
) -> Result<[Climbed; 2]> {
    let held = |top: Maximum| if away(&top) { Err(lost(&top)) } else { Ok(top) };
    let without = climb_many(|each| made(CountLaw::Poisson, each), rows, start, control).and_then(held)?;
    let width = start.len();
    let plain = Climbed::of(without.clone(), width);
    if law == CountLaw::Poisson {
        return Ok([plain.clone(), plain]);
    }
    let wide = |each: usize| made(CountLaw::NegativeBinomial, each);
    let start: Vec<f64> = without.at.iter().copied().chain([0.3_f64.ln()]).collect();
    let value = without.local.value;
    match climb_many(wide, rows, &start, control).and_then(held) {
        Ok(top) if top.local.value >= value && top.at.last().is_some_and(|a| *a > NO_SPREAD) => {
            Ok([plain, Climbed::of(top, width)])
        }
        Err(stopped @ crate::Error::Interrupted) => Err(stopped),
        // The slope of the likelihood by the spread where that is 0: no spread is found where it falls.
        Err(stopped) => {
            let near: Vec<f64> = without.at.iter().copied().chain([1e-4_f64.ln()]).collect();
            if wide(1).value(&near) > value { Err(stopped) } else { Ok([plain.clone(), plain]) }
        }
        Ok(_) => Ok([plain.clone(), plain]),
    }
}

/// What a pattern holds: cuttings with any, without, and the sum of counts.
#[derive(Clone, Copy, Default)]
struct Held {
    any: f64,
    none: f64,
    total: f64,
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
    ///     patterns: vec![CountPattern { count: vec![1.0], zero: vec![1.0], offset: 0.0 }],
    ///     cells: vec![cell(0, 5.0), cell(1, 4.0), cell(2, 3.0), cell(3, 3.0)],
    /// };
    /// let fit = given.fit(&Control::new())?;
    /// approx::assert_relative_eq!(fit.none[0], 5.0 / 15.0, max_relative = 1e-9);
    /// approx::assert_relative_eq!(fit.mean[0], 19.0 / 15.0, max_relative = 1e-9); // a two-part fit keeps the mean
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn fit(&self, control: &Control) -> Result<CountFit> {
        let (parts, any) = self.climbed(control)?;
        let [_, part] = parts;
        Ok(self.found(&part, any.as_ref()))
    }

    /// A Poisson law and the law asked for, the first of which is met on the way to the second.
    ///
    /// # Errors
    /// As [`CountRegression::fit`].
    ///
    /// ```
    /// use rootling::control::Control;
    /// use rootling::math::regression::counts::{CountCell, CountLaw, CountPattern, CountRegression, Zeros};
    /// let cells = [(0, 9.0), (1, 5.0), (2, 3.0), (7, 2.0)].map(|(count, times)| CountCell { pattern: 0, count, times });
    /// let patterns = vec![CountPattern { count: vec![1.0], ..CountPattern::default() }];
    /// let given =
    ///     CountRegression { law: CountLaw::NegativeBinomial, zeros: Zeros::Plain, patterns, cells: cells.to_vec() };
    /// let [poisson, wide] = given.fit_both(&Control::new())?;
    /// assert!(poisson.spread == 0.0 && wide.spread > 0.0 && wide.loglik > poisson.loglik);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn fit_both(&self, control: &Control) -> Result<[CountFit; 2]> {
        let (parts, any) = self.climbed(control)?;
        Ok(parts.map(|part| self.found(&part, any.as_ref())))
    }

    /// The count part without spread and with it, and the zero part where it is climbed by itself.
    fn climbed(&self, control: &Control) -> Result<([Climbed; 2], Option<Climbed>)> {
        let held = self.held();
        Ok(match self.zeros {
            Zeros::Added => (self.together(&held, control)?, None),
            Zeros::Apart => (self.count_part(&held, control)?, Some(self.any_part(&held, control)?)),
            Zeros::Plain | Zeros::Truncated => (self.count_part(&held, control)?, None),
        })
    }

    fn held(&self) -> Vec<Held> {
        let mut held = vec![Held::default(); self.patterns.len()];
        for cell in &self.cells {
            let Some(one) = held.get_mut(cell.pattern) else { continue };
            one.total += cell.times * cell.count as f64;
            *(if cell.count > 0 { &mut one.any } else { &mut one.none }) += cell.times;
        }
        held
    }

    fn count_rows(&self, held: &[Held], all: bool) -> Rows {
        let mut rows = Rows::new(self.patterns.first().map_or(0, |one| one.count.len()), self.patterns.len());
        for (pattern, held) in self.patterns.iter().zip(held) {
            let weight = if all { held.any + held.none } else { held.any };
            if weight > 0.0 {
                rows.push(&pattern.count, (pattern.offset, weight, held.total));
            }
        }
        rows
    }

    fn count_part(&self, held: &[Held], control: &Control) -> Result<[Climbed; 2]> {
        let truncated = self.zeros != Zeros::Plain;
        let rows = self.count_rows(held, !truncated);
        let start = count_start(&rows);
        let tally: Vec<(u64, f64)> = self.tally().into_iter().filter(|one| !truncated || one.0 > 0).collect();
        let made = |law, each| CountRows::of(&rows, &tally, (truncated, law == CountLaw::NegativeBinomial), each);
        with_spread(self.law, &start, (made, rows.len(), |top: &Maximum| rows.runs_away(top, 0)), control)
    }

    fn zero_rows(&self, held: &[Held]) -> Rows {
        let mut rows = Rows::new(self.patterns.first().map_or(0, |one| one.zero.len()), self.patterns.len());
        for (pattern, held) in self.patterns.iter().zip(held) {
            rows.push(&pattern.zero, (0.0, held.any + held.none, held.any));
        }
        rows
    }

    fn any_part(&self, held: &[Held], control: &Control) -> Result<Climbed> {
        let rows = self.zero_rows(held);
        let width = rows.width;
        let start = rows.least_squares(|all, any, _| ((any + 0.5) / (all - any + 0.5)).ln());
        let start = start.unwrap_or_else(|| vec![0.0; width]);
        let top = climb_many(|each| AnyRows(rows.each(each)), rows.len(), &start, control)?;
        if rows.runs_away(&top, 0) {
            return Err(lost(&top));
        }
        Ok(Climbed::of(top, width))
    }

    /// Both parts at once, where zeros are added.
    fn together(&self, held: &[Held], control: &Control) -> Result<[Climbed; 2]> {
        let zero = self.zero_rows(held);
        // A tenth of the zeros is left to the law.
        let odds = |all: f64, any: f64, _| {
            let none = all - any;
            ((0.9 * none + 0.5) / (any + 0.1 * none + 0.5)).ln()
        };
        let second = zero.least_squares(odds).unwrap_or_else(|| vec![0.0; zero.width]);
        let count = self.count_rows(held, false);
        let start = [count_start(&count), second].concat();
        let away = |top: &Maximum| count.runs_away(top, 0) || zero.runs_away(top, count.width);
        with_spread(self.law, &start, (|law, _| Likelihood::new(self, law), 0, away), control)
    }

    /// The fit from its parts; of one part alone the zero part, if any, stands within it.
    fn found(&self, part: &Climbed, any: Option<&Climbed>) -> CountFit {
        let width = self.patterns.first().map_or(0, |one| one.count.len());
        let (count, rest) = part.at.split_at(width.min(part.at.len()));
        let own = any.map_or_else(|| rest.get(..part.width - count.len()).unwrap_or_default(), |any| &any.at[..]);
        let spread = part.ln_spread().map_or(0.0, f64::exp);
        let covariance = match (&part.covariance, any.map(|any| &any.covariance)) {
            (Some(one), None) => one.clone(),
            (Some(one), Some(Some(other))) => beside(one, other, width),
            _ => Vec::new(),
        };
        let size = part.at.len() + any.map_or(0, |any| any.at.len());
        let se = match covariance.is_empty() {
            true => vec![None; size],
            false => covariance.iter().enumerate().map(|(i, row)| row.get(i).map(|v| v.sqrt())).collect(),
        };
        let expected = |one: &CountPattern| {
            Expected::at(self.zeros, one.offset + dot(&one.count, count), dot(&one.zero, own), spread)
        };
        let expected: Vec<Expected> = self.patterns.par_iter().with_min_len(MANY / 4).map(expected).collect();
        CountFit {
            count: count.to_vec(),
            zero: own.to_vec(),
            spread,
            se,
            covariance,
            loglik: part.value + any.map_or(0.0, |any| any.value),
            iterations: part.iterations + any.map_or(0, |any| any.iterations),
            none: expected.iter().map(|one| 1.0 - one.any).collect(),
            mean: expected.iter().map(|one| one.mean).collect(),
        }
    }
}

/// Coefficients to start from: least squares on logarithms of means.
fn count_start(rows: &Rows) -> Vec<f64> {
    let ln_mean = |weight: f64, total: f64, offset: f64| ((total + 0.5) / (weight + 0.5)).max(0.05).ln() - offset;
    rows.least_squares(ln_mean).unwrap_or_else(|| vec![0.0; rows.width])
}

/// Covariance of two parts that share nothing, the second set in after the first `width` coordinates of the first.
fn beside(one: &[Vec<f64>], other: &[Vec<f64>], width: usize) -> Vec<Vec<f64>> {
    let more = other.len();
    let line = |row: &Vec<f64>| {
        let (before, after) = row.split_at(width.min(row.len()));
        [before, &vec![0.0; more], after].concat()
    };
    let mut all: Vec<Vec<f64>> = one.iter().map(line).collect();
    let own = other.iter().map(|row| [&vec![0.0; width][..], row, &vec![0.0; one.len() - width]].concat());
    let after = all.split_off(width.min(all.len()));
    all.extend(own);
    all.extend(after);
    all
}
