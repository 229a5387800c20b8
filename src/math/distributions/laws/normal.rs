//! Normal distribution of any mean and standard deviation.

use statrs::distribution::Continuous;
use statrs::statistics::Distribution;

use super::continuous::{Tails, continuous};
use super::parameters::{held, positive};
use crate::error::Result;
use crate::math::distributions::normal;

const NAME: &str = "a normal distribution";

/// The normal distribution.
///
/// ```
/// use rootling::math::distributions::Normal;
/// use statrs::distribution::ContinuousCDF;
/// // Abramowitz & Stegun 1964, table 26.1: Q(2) = 0.02275 01319 48179
/// let above = Normal::new(100.0, 15.0)?.sf(130.0);
/// approx::assert_relative_eq!(above, 0.022_750_131_948_179, epsilon = 0.0, max_relative = 1e-13);
/// assert!(Normal::new(0.0, -1.0).is_err());
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normal {
    mean: f64,
    sd: f64,
}

impl Normal {
    /// The law with this mean and standard deviation.
    ///
    /// # Errors
    /// When the mean is not finite, or the standard deviation is not a number above 0.
    pub fn new(mean: f64, sd: f64) -> Result<Self> {
        let mean = held((NAME, "mean"), mean, mean.is_finite(), "a number")?;
        Ok(Self { mean, sd: positive((NAME, "standard deviation"), sd)? })
    }

    /// Mean 0, standard deviation 1.
    #[must_use]
    pub fn standard() -> Self {
        Self { mean: 0.0, sd: 1.0 }
    }

    fn z(&self, x: f64) -> f64 {
        (x - self.mean) / self.sd
    }
}

impl Tails for Normal {
    fn support(&self) -> (f64, f64) {
        (f64::NEG_INFINITY, f64::INFINITY)
    }

    fn below(&self, x: f64) -> f64 {
        normal::cdf(self.z(x))
    }

    fn above(&self, x: f64) -> f64 {
        normal::sf(self.z(x))
    }

    fn point(&self, p: f64) -> f64 {
        self.mean + self.sd * normal::quantile(p)
    }
}

continuous!(Normal);

impl Continuous<f64, f64> for Normal {
    fn pdf(&self, x: f64) -> f64 {
        normal::pdf(self.z(x)) / self.sd
    }

    fn ln_pdf(&self, x: f64) -> f64 {
        normal::ln_pdf(self.z(x)) - self.sd.ln()
    }
}

impl Distribution<f64> for Normal {
    fn mean(&self) -> Option<f64> {
        Some(self.mean)
    }

    fn variance(&self) -> Option<f64> {
        Some(self.sd * self.sd)
    }

    fn skewness(&self) -> Option<f64> {
        Some(0.0)
    }
}
