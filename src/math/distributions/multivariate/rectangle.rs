//! Probability that a normal or t vector lies in a rectangle.

use super::conditional::{Bounds, Conditional};
use super::points::{Points, Precision, Probability, SHIFTS, mean_and_error, settle};
use super::scale_table::ScaleTable;
use crate::control::Control;
use crate::error::{NumericError, Result};
use crate::math::distributions::normal_table::NormalTable;
use crate::math::distributions::{normal, student_t};
use rayon::prelude::*;

/// First round: 128 points per shift.
const FIRST_ROUND: usize = 4;

/// What is asked: P(lower < X <= upper) for X with mean 0.
#[derive(Debug, Clone, Copy)]
pub struct Rectangle<'a> {
    /// Lower bounds, minus infinity allowed.
    pub lower: &'a [f64],
    /// Upper bounds, infinity allowed.
    pub upper: &'a [f64],
    /// Covariance matrix in rows (for finite `df` the scale matrix); may be singular.
    pub covariance: &'a [Vec<f64>],
    /// Degrees of freedom; infinity for the normal distribution.
    pub df: f64,
}

/// P(lower < X <= upper) for a multivariate normal or t vector, with an error bound.
///
/// Sequential conditioning over randomly shifted quasi-random points, doubled until the error asked for is reached. Not for
/// probabilities of which the *complement* is small: use [`Largest`](super::Largest), which keeps the digits of small tails.
///
/// # Errors
/// [`NumericError::Lengths`] for bounds that do not fit the matrix, [`NumericError::NotCovariance`] for a matrix that is none,
/// [`NumericError::DegreesOfFreedom`], and [`Interrupted`](crate::Error::Interrupted) when stopped.
///
/// # References
/// Genz 1992; Genz & Bretz 2002, J. Comput. Graph. Statist. 11:950-971; Genz & Kwong 2000 for singular matrices.
///
/// ```
/// use rootling::control::Control;
/// use rootling::math::distributions::multivariate::{Precision, Rectangle, rectangle};
/// // Orthant probability 1/4 + asin(r) / (2 pi) at r = 1/2: 1/3 (Sheppard 1899).
/// let covariance = [vec![1.0, 0.5], vec![0.5, 1.0]];
/// let asked = Rectangle { lower: &[0.0; 2], upper: &[f64::INFINITY; 2], covariance: &covariance, df: f64::INFINITY };
/// let got = rectangle(&asked, &Precision::default(), &Control::new())?;
/// approx::assert_abs_diff_eq!(got.value, 1.0 / 3.0, epsilon = got.error);
/// assert!(got.error < 1e-3);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn rectangle(asked: &Rectangle<'_>, precision: &Precision, control: &Control) -> Result<Probability> {
    let standard = Standard::new(asked)?;
    let (lower, upper) = (standard.lower.as_slice(), standard.upper.as_slice());
    if lower.iter().zip(upper).any(|(a, b)| a >= b) {
        return Ok(Probability::exact(0.0));
    }
    let factor = Conditional::new(&standard.correlation, lower, upper)?;
    if !factor.possible(lower, upper) {
        return Ok(Probability::exact(0.0));
    }
    if factor.rank() <= 1 {
        let (a, b) = factor.only_limits(lower, upper);
        return Ok(Probability::exact(interval(a, b, asked.df)));
    }
    let scales = ScaleTable::new(asked.df);
    let points = Points::new(factor.dimension() + usize::from(scales.is_random()), precision.seed, 0);
    let table = NormalTable::get();
    let one_shift = |round: usize, shift: usize| {
        control.step()?;
        let mut y = Vec::with_capacity(factor.rank());
        Ok(points.mean(shift, round, |x| {
            let (scales, x) = scales.split(x);
            factor.evaluate(table, &Bounds { lower, upper, scales }, x, &mut y)
        }))
    };
    let enough = |value: f64, error: f64| error <= precision.absolute.max(precision.relative * value.min(1.0 - value));
    let found = settle(FIRST_ROUND, precision.most_points, enough, |round| {
        (0..SHIFTS).into_par_iter().map(|shift| one_shift(round, shift)).collect()
    })?;
    let (value, error) = mean_and_error(&found.means);
    Ok(Probability { value, error, points: found.points, reached: found.reached })
}

/// P(a < T <= b), small values by the nearer tail.
fn interval(a: f64, b: f64, df: f64) -> f64 {
    if a >= b {
        return 0.0;
    }
    let sf = |x: f64| if df == f64::INFINITY { normal::sf(x) } else { student_t::sf(x, df) };
    if a > 0.0 { sf(a) - sf(b) } else { sf(-b) - sf(-a) }
}

/// Correlation and bounds in standard deviations, checked.
struct Standard {
    correlation: Vec<Vec<f64>>,
    lower: Vec<f64>,
    upper: Vec<f64>,
}

impl Standard {
    fn new(asked: &Rectangle<'_>) -> Result<Self> {
        let size = asked.covariance.len();
        for (what, given) in [("lower bounds", asked.lower.len()), ("upper bounds", asked.upper.len())] {
            if given != size {
                return Err(NumericError::Lengths { what, expected: size, given }.into());
            }
        }
        check_dof(asked.df)?;
        let (correlation, deviations) = correlation_of(asked.covariance)?;
        let scaled = |bounds: &[f64]| {
            bounds.iter().zip(&deviations).map(|(b, s)| if *s > 0.0 { b / s } else { *b }).collect::<Vec<f64>>()
        };
        let (lower, upper) = (scaled(asked.lower), scaled(asked.upper));
        match lower.iter().chain(&upper).any(|b| b.is_nan()) {
            true => Err(NumericError::NotANumber { what: "bounds" }.into()),
            false => Ok(Self { correlation, lower, upper }),
        }
    }
}

/// Rank of a covariance matrix.
///
/// # Errors
/// [`NumericError::NotCovariance`] for a matrix that is none.
///
/// ```
/// // Three differences of three means: two free ones.
/// let r = [vec![2.0, 1.0, -1.0], vec![1.0, 2.0, 1.0], vec![-1.0, 1.0, 2.0]];
/// assert_eq!(rootling::math::distributions::multivariate::rank(&r).unwrap(), 2);
/// ```
pub fn rank(covariance: &[Vec<f64>]) -> Result<usize> {
    let (correlation, _) = correlation_of(covariance)?;
    let high = vec![1.0; correlation.len()];
    let low = vec![-1.0; correlation.len()];
    Ok(Conditional::new(&correlation, &low, &high)?.rank())
}

/// # Errors
/// [`NumericError::DegreesOfFreedom`] unless `df` > 0.
pub(crate) fn check_dof(df: f64) -> Result<()> {
    if df > 0.0 { Ok(()) } else { Err(NumericError::DegreesOfFreedom { df }.into()) }
}

/// Correlations and standard deviations; rows without variance stay 0.
///
/// # Errors
/// [`NumericError::NotCovariance`] unless the matrix is square, symmetric, finite, and no entry exceeds what its variances allow.
pub(crate) fn correlation_of(covariance: &[Vec<f64>]) -> Result<(Vec<Vec<f64>>, Vec<f64>)> {
    let size = covariance.len();
    let at = |i: usize, j: usize| covariance.get(i).and_then(|row| row.get(j)).copied().unwrap_or(f64::NAN);
    let deviations: Vec<f64> = (0..size).map(|i| at(i, i).sqrt()).collect();
    let mut correlation = Vec::with_capacity(size);
    for (row, (entries, si)) in covariance.iter().zip(&deviations).enumerate() {
        let most = |sj: f64| si * sj * (1.0 + 1e-8);
        let fits = entries.len() == size
            && entries
                .iter()
                .zip(&deviations)
                .enumerate()
                .all(|(column, (v, sj))| v.abs() <= most(*sj) && (v - at(column, row)).abs() <= 1e-8 * most(*sj));
        if !fits {
            return Err(NumericError::NotCovariance { row }.into());
        }
        let scaled = entries.iter().zip(&deviations).map(|(v, sj)| if *v == 0.0 { 0.0 } else { v / (si * sj) });
        correlation.push(scaled.collect::<Vec<f64>>());
    }
    Ok((correlation, deviations))
}
