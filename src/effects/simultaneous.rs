//! Single-step adjusted P values and simultaneous limits for a family of contrasts, on plain numbers.

use crate::control::Control;
use crate::error::{NumericError, Result};
use crate::estimate::check_level;
use crate::math::distributions::dunnett::{Dunnett, Sides, loadings};
use crate::math::distributions::multivariate::{
    Directions, Largest, Precision, Probability, Slices, correlation, rank,
};
use crate::math::distributions::{fisher_f, studentized_range};
use serde::{Deserialize, Serialize};
use std::f64::consts::SQRT_2;

/// How the contrasts of a family share the error rate, in one step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SingleStep {
    /// The joint t (normal) distribution of the contrasts: exact for the given covariance and df, for any family.
    Joint,
    /// All pairwise differences of `groups` means, by the studentised range: exact for equal variances of the means, slightly
    /// conservative otherwise (Hayter 1984).
    TukeyKramer {
        /// Number of means.
        groups: usize,
    },
    /// Differences from one control, by Dunnett's distribution; the correlations must be products, as those of means with
    /// independent errors are.
    Dunnett,
    /// All contrasts that can be formed of the family, tested or not: wide, for contrasts suggested by the data.
    Scheffe,
}

/// What counts as evidence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// A difference either way.
    Either,
    /// A positive contrast.
    Greater,
    /// A negative contrast.
    Less,
}

/// A family of contrasts.
#[derive(Debug, Clone, Copy)]
pub struct Family<'a> {
    /// Estimates, one per contrast.
    pub estimates: &'a [f64],
    /// Their covariance matrix in rows; may be singular.
    pub covariance: &'a [Vec<f64>],
    /// Degrees of freedom of the common error variance; infinity when it is known or the estimates are only asymptotically normal.
    pub df: f64,
    /// What counts as evidence.
    pub direction: Direction,
}

impl Family<'_> {
    /// How far a statistic speaks for a difference.
    fn evidence(&self, statistic: f64) -> f64 {
        match self.direction {
            Direction::Either => statistic.abs(),
            Direction::Greater => statistic,
            Direction::Less => -statistic,
        }
    }
}

/// One contrast with its place in the family accounted for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SimultaneousRow {
    /// Estimate.
    pub value: f64,
    /// Standard error.
    pub se: f64,
    /// Estimate over standard error.
    pub statistic: f64,
    /// Adjusted P value.
    pub p: f64,
    /// Error bound of the P value's computation (99 %); 0 where it is exact to rounding.
    pub p_error: f64,
    /// Lower simultaneous limit.
    pub low: f64,
    /// Upper simultaneous limit.
    pub high: f64,
}

/// The family's answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Simultaneous {
    /// One row per contrast.
    pub rows: Vec<SimultaneousRow>,
    /// Multiplier of the standard error in the limits.
    pub critical: f64,
    /// Simultaneous confidence level.
    pub confidence: f64,
    /// False when a computed probability missed the precision asked for.
    pub reached: bool,
}

/// Adjusted P values P(max |T| >= |t|) and limits value -+ c x standard error with P(max |T| <= c) = `level`.
///
/// A limit excludes 0 exactly when its P value is below 1 - `level`: both come from one distribution. `precision` matters for
/// [`SingleStep::Joint`] only, and not where its correlations are products (then two exact integrals are used).
///
/// # Errors
/// [`NumericError::Lengths`], [`NumericError::NotCovariance`], [`NumericError::NoVariance`], [`NumericError::DegreesOfFreedom`] (below 1),
/// [`CountError::Level`](crate::error::CountError::Level), [`NumericError::TwoSidedOnly`], [`NumericError::NotManyToOne`], and
/// [`Interrupted`](crate::Error::Interrupted) when stopped.
///
/// # References
/// Tukey 1953; Kramer 1956, Biometrics 12:307-310; Hayter 1984, Ann. Statist. 12:61-75; Dunnett 1955; Scheffe 1953, Biometrika
/// 40:87-104; Hothorn, Bretz & Westfall 2008, Biometrical Journal 50:346-363.
///
/// ```
/// use rootling::control::Control;
/// use rootling::effects::{Direction, Family, SingleStep, single_step};
/// use rootling::math::distributions::multivariate::Precision;
/// // Two strengths against a control, 4 trays each, variance of a tray 0.02, 9 degrees of freedom.
/// let covariance = [vec![0.01, 0.005], vec![0.005, 0.01]];
/// let family = Family { estimates: &[0.10, 0.28], covariance: &covariance, df: 9.0, direction: Direction::Either };
/// let found = single_step(&family, SingleStep::Dunnett, 0.95, &Precision::default(), &Control::new())?;
/// assert!(found.rows[1].p < 0.05 && found.rows[1].low > 0.0);
/// assert!(found.rows[0].p > 0.05 && found.rows[0].low < 0.0);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn single_step(
    family: &Family<'_>,
    method: SingleStep,
    level: f64,
    precision: &Precision,
    control: &Control,
) -> Result<Simultaneous> {
    let (correlation, errors) = checked(family, level)?;
    let reference = Reference::new(family, &correlation, method, precision, control)?;
    let evidence = family.estimates.iter().zip(&errors).map(|(value, se)| family.evidence(value / se));
    let (tails, critical) = reference.judge(&evidence.collect::<Vec<f64>>(), 1.0 - level)?;
    let mut reached = true;
    let mut rows = Vec::with_capacity(errors.len());
    for ((value, se), (p, p_error, enough)) in family.estimates.iter().zip(&errors).zip(tails) {
        control.step()?;
        let statistic = value / se;
        reached &= enough;
        let half = critical * se;
        let low = if family.direction == Direction::Less { f64::NEG_INFINITY } else { value - half };
        let high = if family.direction == Direction::Greater { f64::INFINITY } else { value + half };
        rows.push(SimultaneousRow { value: *value, se: *se, statistic, p, p_error, low, high });
    }
    Ok(Simultaneous { rows, critical, confidence: level, reached })
}

/// Correlations and standard errors of a family that passes its checks.
fn checked(family: &Family<'_>, level: f64) -> Result<(Vec<Vec<f64>>, Vec<f64>)> {
    let expected = family.estimates.len();
    if family.covariance.len() != expected {
        let given = family.covariance.len();
        return Err(NumericError::Lengths { what: "rows of the covariance matrix", expected, given }.into());
    }
    check_level(level)?;
    if family.df.is_nan() || family.df < 1.0 {
        return Err(NumericError::DegreesOfFreedom { df: family.df }.into());
    }
    if family.estimates.iter().any(|value| !value.is_finite()) {
        return Err(NumericError::NotANumber { what: "estimates" }.into());
    }
    let (correlation, errors) = correlation(family.covariance)?;
    match errors.iter().position(|error| *error <= 0.0) {
        Some(row) => Err(NumericError::NoVariance { row }.into()),
        None => Ok((correlation, errors)),
    }
}

/// A P value, its error and whether that is within what was asked for.
type Judged = (f64, f64, bool);

/// The distribution the statistics are held against.
enum Reference {
    Range { groups: usize, df: f64 },
    ManyToOne(Dunnett),
    Sphere { rank: f64, df: f64 },
    Slices(Slices),
    Joint(Box<Largest>),
    Directions(Box<Directions>),
}

impl Reference {
    fn new(
        family: &Family<'_>,
        correlation: &[Vec<f64>],
        method: SingleStep,
        precision: &Precision,
        control: &Control,
    ) -> Result<Self> {
        let df = family.df;
        let sides = if family.direction == Direction::Either { Sides::Two } else { Sides::One };
        let products = || loadings(correlation, 1e-9);
        match method {
            SingleStep::TukeyKramer { .. } if sides == Sides::One => Err(two_sided("Tukey-Kramer")),
            SingleStep::Scheffe if sides == Sides::One => Err(two_sided("Scheffe")),
            SingleStep::TukeyKramer { groups } if groups < 2 => Err(NumericError::TooFewGroups { groups }.into()),
            SingleStep::TukeyKramer { groups } => Ok(Self::Range { groups, df }),
            SingleStep::Scheffe => Ok(Self::Sphere { rank: rank(correlation)? as f64, df }),
            SingleStep::Dunnett => match products() {
                Some(found) => Ok(Self::ManyToOne(Dunnett::new(&found, df, sides))),
                None => Err(NumericError::NotManyToOne.into()),
            },
            SingleStep::Joint => match products() {
                Some(found) => Ok(Self::ManyToOne(Dunnett::new(&found, df, sides))),
                None if sides == Sides::Two
                    && let Some(found) = Slices::new(correlation, df, all_pairs) =>
                {
                    Ok(Self::Slices(found))
                }
                None if sides == Sides::Two => {
                    Ok(Self::Directions(Box::new(Directions::new(correlation, df, precision, control)?)))
                }
                None => Ok(Self::Joint(Box::new(Largest::new(correlation, df, sides, precision, control)?))),
            },
        }
    }

    /// P values, their errors and whether these are within what was asked for; and the critical value.
    fn judge(&self, evidence: &[f64], alpha: f64) -> Result<(Vec<Judged>, f64)> {
        if let Self::Slices(slices) = self {
            let (tails, critical) = slices.tails(evidence, alpha);
            return Ok((tails.into_iter().map(|p| (p, 0.0, true)).collect(), critical));
        }
        Ok((evidence.iter().map(|one| self.tail(*one)).collect(), self.critical(alpha)?))
    }

    fn tail(&self, evidence: f64) -> Judged {
        match self {
            Self::Range { groups, df } => (studentized_range::sf(evidence * SQRT_2, *groups, *df), 0.0, true),
            Self::ManyToOne(dunnett) => (dunnett.sf(evidence), 0.0, true),
            Self::Sphere { rank, df } => (fisher_f::sf(evidence * evidence / rank, *rank, *df), 0.0, true),
            Self::Joint(largest) => judged(largest.sf(evidence)),
            Self::Directions(largest) => judged(largest.sf(evidence)),
            Self::Slices(slices) => (slices.tails(&[evidence], 0.05).0.first().copied().unwrap_or(f64::NAN), 0.0, true),
        }
    }

    fn critical(&self, alpha: f64) -> Result<f64> {
        Ok(match self {
            Self::Range { groups, df } => studentized_range::isf(alpha, *groups, *df) / SQRT_2,
            Self::ManyToOne(dunnett) => dunnett.isf(alpha),
            Self::Sphere { rank, df } => (rank * fisher_f::quantile(1.0 - alpha, *rank, *df)).sqrt(),
            Self::Joint(largest) => largest.isf(alpha)?,
            Self::Directions(largest) => largest.isf(alpha)?,
            Self::Slices(slices) => slices.tails(&[], alpha).1,
        })
    }
}

fn judged(found: Probability) -> Judged {
    (found.value, found.error, found.reached)
}

/// The number of means of which these are all pairwise differences, in the order 0 1, 0 2, .., 1 2, .., when the means are alike and
/// independent: then the studentised range is their joint distribution.
fn all_pairs(correlation: &[Vec<f64>]) -> Option<usize> {
    let groups = (2..=correlation.len() + 1).find(|k| k * (k - 1) / 2 >= correlation.len())?;
    let pairs: Vec<(usize, usize)> = (0..groups).flat_map(|i| (i + 1..groups).map(move |j| (i, j))).collect();
    if pairs.len() != correlation.len() {
        return None;
    }
    // Signs may differ, as differences may be taken either way round; the rank tells that they fit together.
    let shared = |a: &(usize, usize), b: &(usize, usize)| {
        let ends = [a.0 == b.0, a.0 == b.1, a.1 == b.0, a.1 == b.1];
        ends.iter().filter(|same| **same).count() as f64 / 2.0
    };
    let fits = |(a, row): (&(usize, usize), &Vec<f64>)| {
        pairs.iter().zip(row).all(|(b, r)| (r.abs() - shared(a, b)).abs() < ALIKE)
    };
    let alike = pairs.iter().zip(correlation).all(fits);
    (alike && rank(correlation).is_ok_and(|rank| rank + 1 == groups)).then_some(groups)
}

/// Correlations nearer than this to those of equal means count as theirs: the P value moves by less than its fifth digit.
const ALIKE: f64 = 1e-6;

fn two_sided(method: &'static str) -> crate::Error {
    NumericError::TwoSidedOnly { method }.into()
}
