//! Beta distribution.

use statrs::distribution::Continuous;
use statrs::statistics::Distribution;

use super::continuous::{Tails, continuous};
use super::parameters::positive;
use crate::error::Result;
use crate::math::distributions::beta;

const NAME: &str = "a beta distribution";

/// The beta distribution with shapes a and b.
///
/// ```
/// use rootling::math::distributions::Beta;
/// use statrs::distribution::ContinuousCDF;
/// // P(X <= x) = x^a when b = 1.
/// let below = Beta::new(20.0, 1.0)?.cdf(0.1);
/// approx::assert_relative_eq!(below, 1e-20, epsilon = 0.0, max_relative = 1e-13);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beta {
    a: f64,
    b: f64,
}

impl Beta {
    /// The law with these shapes.
    ///
    /// # Errors
    /// When one is not a number above 0.
    pub fn new(a: f64, b: f64) -> Result<Self> {
        Ok(Self { a: positive((NAME, "shape a"), a)?, b: positive((NAME, "shape b"), b)? })
    }
}

impl Tails for Beta {
    fn support(&self) -> (f64, f64) {
        (0.0, 1.0)
    }

    fn below(&self, x: f64) -> f64 {
        beta::cdf(x, self.a, self.b)
    }

    fn above(&self, x: f64) -> f64 {
        beta::sf(x, self.a, self.b)
    }

    fn point(&self, p: f64) -> f64 {
        beta::quantile(p, self.a, self.b)
    }
}

continuous!(Beta);

impl Continuous<f64, f64> for Beta {
    fn pdf(&self, x: f64) -> f64 {
        beta::pdf(x, self.a, self.b)
    }

    fn ln_pdf(&self, x: f64) -> f64 {
        beta::ln_pdf(x, self.a, self.b)
    }
}

impl Distribution<f64> for Beta {
    fn mean(&self) -> Option<f64> {
        Some(self.a / (self.a + self.b))
    }

    fn variance(&self) -> Option<f64> {
        let n = self.a + self.b;
        Some(self.a / n * (self.b / n) / (n + 1.0))
    }

    /// 2 (b - a) sqrt(a + b + 1) / ((a + b + 2) sqrt(a b)).
    fn skewness(&self) -> Option<f64> {
        let n = self.a + self.b;
        Some(2.0 * (self.b - self.a) / (n + 2.0) * ((n + 1.0) / self.a / self.b).sqrt())
    }
}
