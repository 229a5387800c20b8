//! Student's t distribution.

use statrs::distribution::Continuous;
use statrs::statistics::Distribution;

use super::continuous::{Tails, continuous};
use super::parameters::above_zero;
use crate::error::Result;
use crate::math::distributions::student_t;

/// Student's t distribution; infinite degrees of freedom are the normal law.
///
/// ```
/// use rootling::math::distributions::StudentT;
/// use statrs::distribution::ContinuousCDF;
/// // With 1 degree of freedom P(T > t) is atan(1 / t) / pi for t above 0.
/// let above = StudentT::new(1.0)?.sf(1e200);
/// approx::assert_relative_eq!(above * std::f64::consts::PI * 1e200, 1.0, epsilon = 0.0, max_relative = 1e-12);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudentT {
    df: f64,
}

impl StudentT {
    /// The law with these degrees of freedom.
    ///
    /// # Errors
    /// When they are not above 0.
    pub fn new(df: f64) -> Result<Self> {
        Ok(Self { df: above_zero(("a t distribution", "df"), df)? })
    }

    /// Degrees of freedom.
    #[must_use]
    pub fn df(&self) -> f64 {
        self.df
    }
}

impl Tails for StudentT {
    fn support(&self) -> (f64, f64) {
        (f64::NEG_INFINITY, f64::INFINITY)
    }

    fn below(&self, x: f64) -> f64 {
        student_t::cdf(x, self.df)
    }

    fn above(&self, x: f64) -> f64 {
        student_t::sf(x, self.df)
    }

    fn point(&self, p: f64) -> f64 {
        student_t::quantile(p, self.df)
    }
}

continuous!(StudentT);

impl Continuous<f64, f64> for StudentT {
    fn pdf(&self, x: f64) -> f64 {
        student_t::pdf(x, self.df)
    }

    fn ln_pdf(&self, x: f64) -> f64 {
        student_t::ln_pdf(x, self.df)
    }
}

impl Distribution<f64> for StudentT {
    fn mean(&self) -> Option<f64> {
        (self.df > 1.0).then_some(0.0)
    }

    /// df / (df - 2) above 2 degrees of freedom.
    fn variance(&self) -> Option<f64> {
        let found = if self.df == f64::INFINITY { 1.0 } else { self.df / (self.df - 2.0) };
        (self.df > 2.0).then_some(found)
    }

    fn skewness(&self) -> Option<f64> {
        (self.df > 3.0).then_some(0.0)
    }
}
