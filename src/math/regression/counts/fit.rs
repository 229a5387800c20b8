//! The fit: patterns of the design with how often each count was met, and the largest likelihood.

use super::added::Likelihood;
use super::law::{CountLaw, NO_SPREAD, Zeros};
use super::parts::Expected;
use super::rows::{AnyRows, CountRows, Rows};
use crate::control::Control;
use crate::error::Result;
use crate::math::dense::{Cholesky, dot};
use crate::math::search::{Maximum, Objective, maximise};

/// A pattern of the design.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CountPattern {
    /// Its row in the count part, `ln mu = row . coefficients`.
    pub count: Vec<f64>,
    /// Its row in the zero part, a logit; empty where there is none.
    pub zero: Vec<f64>,
    /// What is known of `ln mu`: the logarithm of how much was looked at.
    pub offset: f64,
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

/// A law without spread, then with one where the likelihood rises to it: the second argument makes the function with it or without.
fn with_spread<F: Objective>(
    law: CountLaw,
    start: &[f64],
    made: impl Fn(CountLaw) -> F,
    control: &Control,
) -> Result<Climbed> {
    let without = climb(&mut made(CountLaw::Poisson), start, control)?;
    if law == CountLaw::Poisson {
        return Ok(Climbed::of(without, start.len()));
    }
    let mut wide = made(CountLaw::NegativeBinomial);
    let near: Vec<f64> = without.at.iter().copied().chain([1e-4_f64.ln()]).collect();
    let start: Vec<f64> = without.at.iter().copied().chain([0.3_f64.ln()]).collect();
    match climb(&mut wide, &start, control) {
        Ok(top) if top.local.value >= without.local.value && top.at.last().is_some_and(|a| *a > NO_SPREAD) => {
            Ok(Climbed::of(top, without.at.len()))
        }
        // The slope of the likelihood by the spread where that is 0: no spread is found where it falls.
        Err(stopped) if matches!(stopped, crate::Error::Interrupted) || wide.value(&near) > without.local.value => {
            Err(stopped)
        }
        _ => Ok(Climbed::of(without, start.len() - 1)),
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
        let held = self.held();
        match self.zeros {
            Zeros::Added => self.together(&held, control),
            Zeros::Apart => {
                let any = self.any_part(&held, control)?;
                Ok(self.found(&self.count_part(&held, control)?, Some(&any)))
            }
            Zeros::Plain | Zeros::Truncated => Ok(self.found(&self.count_part(&held, control)?, None)),
        }
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

    /// Counts in rising order, each with how often it was met.
    pub(super) fn tally(&self) -> Vec<(u64, f64)> {
        let mut tally: Vec<(u64, f64)> = Vec::new();
        let mut place = std::collections::HashMap::new();
        for cell in &self.cells {
            let at = *place.entry(cell.count).or_insert_with(|| {
                tally.push((cell.count, 0.0));
                tally.len() - 1
            });
            tally.get_mut(at).into_iter().for_each(|one| one.1 += cell.times);
        }
        tally.sort_unstable_by_key(|one| one.0);
        tally
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

    fn count_part(&self, held: &[Held], control: &Control) -> Result<Climbed> {
        let truncated = self.zeros != Zeros::Plain;
        let rows = self.count_rows(held, !truncated);
        let start = count_start(&rows);
        let tally: Vec<(u64, f64)> = self.tally().into_iter().filter(|one| !truncated || one.0 > 0).collect();
        let made = |law| CountRows {
            rows: rows.clone(),
            tally: tally.clone(),
            truncated,
            wide: law == CountLaw::NegativeBinomial,
        };
        with_spread(self.law, &start, made, control)
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
        let top = climb(&mut AnyRows(rows), &start.unwrap_or_else(|| vec![0.0; width]), control)?;
        Ok(Climbed::of(top, width))
    }

    /// Both parts at once, where zeros are added.
    fn together(&self, held: &[Held], control: &Control) -> Result<CountFit> {
        let zero = self.zero_rows(held);
        // A tenth of the zeros is left to the law.
        let odds = |all: f64, any: f64, _| {
            let none = all - any;
            ((0.9 * none + 0.5) / (any + 0.1 * none + 0.5)).ln()
        };
        let second = zero.least_squares(odds).unwrap_or_else(|| vec![0.0; zero.width]);
        let start = [count_start(&self.count_rows(held, false)), second].concat();
        let climbed = with_spread(self.law, &start, |law| Likelihood::new(self, law), control)?;
        Ok(self.found(&climbed, None))
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
        let expected: Vec<Expected> = self.patterns.iter().map(expected).collect();
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
