//! Chi-squared distribution.

use statrs::distribution::Continuous;
use statrs::statistics::Distribution;

use super::continuous::{Tails, continuous};
use super::parameters::positive;
use crate::error::Result;
use crate::math::distributions::chi_squared;

/// The chi-squared distribution.
///
/// ```
/// use rootling::math::distributions::ChiSquared;
/// use statrs::distribution::ContinuousCDF;
/// // With 2 degrees of freedom P(X > x) = exp(-x / 2).
/// let above = ChiSquared::new(2.0)?.sf(1200.0);
/// approx::assert_relative_eq!(above, (-600.0_f64).exp(), epsilon = 0.0, max_relative = 1e-12);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChiSquared {
    df: f64,
}

impl ChiSquared {
    /// The law with these degrees of freedom.
    ///
    /// # Errors
    /// When they are not a number above 0.
    pub fn new(df: f64) -> Result<Self> {
        Ok(Self { df: positive(("a chi-squared distribution", "df"), df)? })
    }

    /// Degrees of freedom.
    #[must_use]
    pub fn df(&self) -> f64 {
        self.df
    }
}

impl Tails for ChiSquared {
    fn support(&self) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }

    fn below(&self, x: f64) -> f64 {
        chi_squared::cdf(x, self.df)
    }

    fn above(&self, x: f64) -> f64 {
        chi_squared::sf(x, self.df)
    }

    fn point(&self, p: f64) -> f64 {
        chi_squared::quantile(p, self.df)
    }
}

continuous!(ChiSquared);

impl Continuous<f64, f64> for ChiSquared {
    fn pdf(&self, x: f64) -> f64 {
        chi_squared::pdf(x, self.df)
    }

    fn ln_pdf(&self, x: f64) -> f64 {
        chi_squared::ln_pdf(x, self.df)
    }
}

impl Distribution<f64> for ChiSquared {
    fn mean(&self) -> Option<f64> {
        Some(self.df)
    }

    fn variance(&self) -> Option<f64> {
        Some(2.0 * self.df)
    }

    fn skewness(&self) -> Option<f64> {
        Some((8.0 / self.df).sqrt())
    }
}
