//! Strength and darkness together: log odds quadratic in both, with their product.
//!
//! `x = ln(1 + d / d0)` and darkness count from 0 at the lowest to 1 at the highest tested. Conditions such as "the take is highest at
//! this strength" are linear in the coefficients, so a fit under one is again a plain fit, with other columns.

use crate::control::Control;
use crate::curves::find::within;
use crate::curves::fit::Limits;
use crate::error::Result;
use crate::math::dense::{dot, solve_rows};
use crate::math::search::{Point, Region, Surface, Top, maximise_within};
use crate::math::special::expit;

/// One combination of strength and darkness: places from 0 to 1, effective counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    pub(super) x: f64,
    pub(super) w: f64,
    pub(super) rooted: f64,
    pub(super) stuck: f64,
}

/// Terms of the log odds beside the constant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Term {
    X,
    Xx,
    W,
    Ww,
    Xw,
}

impl Term {
    pub(super) fn at(self, x: f64, w: f64) -> f64 {
        match self {
            Self::X => x,
            Self::Xx => x * x,
            Self::W => w,
            Self::Ww => w * w,
            Self::Xw => x * w,
        }
    }
}

/// A fit by columns: coefficients, log-likelihood, inverse information row after row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fit {
    pub(super) coefficients: Vec<f64>,
    pub(super) loglik: f64,
    pub(super) converged: bool,
    inverse: Vec<f64>,
}

impl Fit {
    /// Log odds on a row of columns, and its standard error.
    pub(super) fn log_odds(&self, row: &[f64]) -> (f64, f64) {
        let size = row.len();
        let spread: f64 = self.inverse.chunks_exact(size.max(1)).zip(row).map(|(line, a)| a * dot(line, row)).sum();
        (dot(&self.coefficients, row), spread.max(0.0).sqrt())
    }
}

struct Logit<'a> {
    rows: &'a [Vec<f64>],
    cells: &'a [Cell],
}

impl Surface for Logit<'_> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        into.clear();
        for (row, cell) in self.rows.iter().zip(self.cells) {
            add_cell(cell, dot(row, at), row, into);
        }
    }
}

/// Largest size of a coefficient; cells at 0 or 100 % push towards it.
const MOST: f64 = 300.0;

/// Fits columns; those in `falling` have coefficients of 0 or below.
pub(super) fn fit(
    cells: &[Cell],
    columns: impl Fn(f64, f64) -> Vec<f64>,
    falling: &[usize],
    control: &Control,
) -> Result<Fit> {
    let rows: Vec<Vec<f64>> = cells.iter().map(|cell| columns(cell.x, cell.w)).collect();
    let size = rows.first().map_or(0, Vec::len);
    let mut region = Region { low: vec![-MOST; size], high: vec![MOST; size], free: (0..size).collect() };
    for j in falling {
        if let Some(end) = region.high.get_mut(*j) {
            *end = 0.0;
        }
    }
    let Top { at, local, converged, .. } =
        maximise_within(&mut Logit { rows: &rows, cells }, &vec![0.0; size], &region, 1e-16, control)?;
    let information: Vec<f64> = local.hessian.iter().map(|x| -x).collect();
    let mut inverse = vec![0.0; size * size];
    for (j, line) in inverse.chunks_exact_mut(size.max(1)).enumerate() {
        let mut unit: Vec<f64> = (0..size).map(|k| f64::from(u8::from(k == j))).collect();
        if solve_rows(&mut information.clone(), &mut unit) {
            line.copy_from_slice(&unit);
        }
    }
    Ok(Fit { coefficients: at, loglik: local.value, converged, inverse })
}

/// Constant and terms.
pub(super) fn row(terms: &[Term], x: f64, w: f64) -> Vec<f64> {
    std::iter::once(1.0).chain(terms.iter().map(|term| term.at(x, w))).collect()
}

/// The fitted surface with what is asked of it.
pub(super) struct Fitted<'a> {
    pub(super) cells: &'a [Cell],
    pub(super) terms: Vec<Term>,
    pub(super) fit: Fit,
}

impl<'a> Fitted<'a> {
    pub(super) fn new(cells: &'a [Cell], terms: Vec<Term>, control: &Control) -> Result<Self> {
        let fit = fit(cells, |x, w| row(&terms, x, w), &[], control)?;
        Ok(Self { cells, terms, fit })
    }

    /// The coefficient of a term, 0 where it is not in the model.
    pub(super) fn of(&self, term: Term) -> f64 {
        let at = self.terms.iter().position(|one| *one == term);
        at.and_then(|at| self.fit.coefficients.get(at + 1)).copied().unwrap_or(0.0)
    }

    fn has(&self, term: Term) -> bool {
        self.terms.contains(&term)
    }

    /// Take with limits at a place.
    pub(super) fn take(&self, x: f64, w: f64, critical: f64) -> [f64; 3] {
        let (eta, se) = self.fit.log_odds(&row(&self.terms, x, w));
        let reach = critical * se;
        [expit(eta), expit(eta - reach), expit(eta + reach)]
    }

    /// Twice the log-likelihood lost without some terms.
    pub(super) fn lost_without(&self, gone: &[Term], control: &Control) -> Result<f64> {
        let left: Vec<Term> = self.terms.iter().copied().filter(|term| !gone.contains(term)).collect();
        let without = fit(self.cells, |x, w| row(&left, x, w), &[], control)?;
        Ok((2.0 * (self.fit.loglik - without.loglik)).max(0.0))
    }

    /// The place of the best strength at a darkness, which may lie beyond the tested range; none where the curve does not open downward.
    pub(super) fn best_at(&self, w: f64) -> Option<f64> {
        let bend = self.of(Term::Xx);
        (bend < -1e-9).then(|| -(self.of(Term::X) + self.of(Term::Xw) * w) / (2.0 * bend))
    }

    /// Limits of the best strength's place at a darkness, between 0 and 1.
    pub(super) fn best_limits(&self, w: f64, critical: f64, control: &Control) -> Result<Limits> {
        let Some(estimate) = self.best_at(w) else { return Ok((None, None)) };
        // Where the curve may be straight along the strengths, no strength is ruled out.
        if self.lost_without(&[Term::Xx], control)? <= critical * critical {
            return Ok((None, None));
        }
        let fall = |place: f64| {
            let columns = |x: f64, v: f64| {
                let mut columns = vec![1.0, x * x - 2.0 * place * x];
                columns.extend(self.has(Term::Xw).then_some(x * (v - w)));
                columns.extend(self.has(Term::W).then_some(v));
                columns.extend(self.has(Term::Ww).then_some(v * v));
                columns
            };
            Ok((2.0 * (self.fit.loglik - fit(self.cells, columns, &[1], control)?.loglik)).max(0.0))
        };
        within(|place, _| fall(place), estimate, (0.0, 1.0), critical * critical)
    }

    /// Where the take is highest over both, with the take of neither beyond the tested range; none where the surface has no top.
    pub(super) fn top(&self) -> Option<(f64, f64)> {
        let (b, c, d) = (self.of(Term::Xx), self.of(Term::Ww), self.of(Term::Xw));
        let turn = 4.0 * b * c - d * d;
        if b >= -1e-9 || c >= -1e-9 || turn <= 1e-9 {
            return None;
        }
        let (e, f) = (self.of(Term::X), self.of(Term::W));
        Some(((d * f - 2.0 * c * e) / turn, (d * e - 2.0 * b * f) / turn))
    }

    /// Twice the log-likelihood lost when the top lies at a place.
    pub(super) fn fall_of_top(&self, (x0, w0): (f64, f64), control: &Control) -> Result<f64> {
        let columns = |x: f64, w: f64| vec![1.0, x * x - 2.0 * x0 * x, w * w - 2.0 * w0 * w, x * w - w0 * x - x0 * w];
        let held = fit(self.cells, columns, &[1, 2], control)?;
        let fall = |loglik: f64| (2.0 * (self.fit.loglik - loglik)).max(0.0);
        match held.coefficients.as_slice() {
            // A saddle is no top: the best surface that has one there is a ridge.
            [level, b, c, d] if 4.0 * b * c < d * d => {
                let (along, across) = ((-b).max(1e-4).sqrt(), (-c).max(1e-4).sqrt());
                let start = [level - b * x0 * x0 - c * w0 * w0 - d * x0 * w0, along, -across.copysign(*d)];
                let region = Region { low: vec![-MOST; 3], high: vec![MOST; 3], free: vec![0, 1, 2] };
                let mut ridge = Ridge { cells: self.cells, at: (x0, w0) };
                Ok(fall(maximise_within(&mut ridge, &start, &region, 1e-12, control)?.local.value))
            }
            _ => Ok(fall(held.loglik)),
        }
    }
}

/// Log odds `a - (b (x - x0) + c (w - w0))^2`: as high along a line through a place as there.
struct Ridge<'a> {
    cells: &'a [Cell],
    at: (f64, f64),
}

impl Surface for Ridge<'_> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        into.clear();
        let [level, b, c] = at else { return };
        for cell in self.cells {
            let (x, w) = (cell.x - self.at.0, cell.w - self.at.1);
            let off = b * x + c * w;
            add_cell(cell, level - off * off, &[1.0, -2.0 * off * x, -2.0 * off * w], into);
        }
    }
}

/// Adds one combination at its log odds, with their slopes by the coordinates.
fn add_cell(cell: &Cell, eta: f64, slopes: &[f64], into: &mut Point) {
    let p = expit(eta);
    // ln(1 + e^eta) without overflow.
    let sum = eta.max(0.0) + (-eta.abs()).exp().ln_1p();
    into.value += cell.rooted * eta - cell.stuck * sum;
    let (pull, weight) = (cell.rooted - cell.stuck * p, cell.stuck * p * (1.0 - p));
    for (g, a) in into.gradient.iter_mut().zip(slopes) {
        *g += pull * a;
    }
    for (line, a) in into.rows_mut().zip(slopes) {
        for (entry, b) in line.iter_mut().zip(slopes) {
            *entry -= weight * a * b;
        }
    }
}
