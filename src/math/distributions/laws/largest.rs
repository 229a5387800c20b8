//! Laws of the largest of many differences: the studentised range, and comparisons with one control.

use super::continuous::{Tails, continuous};
use crate::error::{NumericError, Result};
use crate::math::distributions::dunnett::Dunnett;
use crate::math::distributions::studentized_range;

/// The studentised range of `groups` means.
///
/// ```
/// use rootling::math::distributions::StudentizedRange;
/// use statrs::distribution::ContinuousCDF;
/// // Upper 5 % point of 3 groups with 10 degrees of freedom: 3.877 (Pearson & Hartley 1970, table 29, from memory).
/// let point = StudentizedRange::new(3, 10.0)?.inverse_cdf(0.95);
/// approx::assert_relative_eq!(point, 3.877, epsilon = 0.0, max_relative = 1.2e-4);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudentizedRange {
    groups: usize,
    df: f64,
}

impl StudentizedRange {
    /// The law of this many means, with these degrees of freedom.
    ///
    /// # Errors
    /// For fewer than two means, or degrees of freedom below 1.
    pub fn new(groups: usize, df: f64) -> Result<Self> {
        if groups < 2 {
            return Err(NumericError::TooFewGroups { groups }.into());
        }
        if df >= 1.0 { Ok(Self { groups, df }) } else { Err(NumericError::DegreesOfFreedom { df }.into()) }
    }
}

impl Tails for StudentizedRange {
    fn support(&self) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }

    fn below(&self, x: f64) -> f64 {
        studentized_range::cdf(x, self.groups, self.df)
    }

    fn above(&self, x: f64) -> f64 {
        studentized_range::sf(x, self.groups, self.df)
    }

    fn point(&self, p: f64) -> f64 {
        studentized_range::quantile(p, self.groups, self.df)
    }
}

impl Tails for Dunnett {
    fn support(&self) -> (f64, f64) {
        (self.least(), f64::INFINITY)
    }

    fn below(&self, x: f64) -> f64 {
        self.cdf(x)
    }

    fn above(&self, x: f64) -> f64 {
        self.sf(x)
    }

    fn point(&self, p: f64) -> f64 {
        self.quantile(p)
    }
}

continuous!(StudentizedRange, Dunnett);
