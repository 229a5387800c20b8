//! F distribution.

use statrs::distribution::Continuous;
use statrs::statistics::Distribution;

use super::continuous::{Tails, continuous};
use super::parameters::{above_zero, positive};
use crate::error::Result;
use crate::math::distributions::fisher_f;

const NAME: &str = "an F distribution";

/// The F distribution; with infinitely many `d2` it is that of chi-squared over its degrees of freedom.
///
/// ```
/// use rootling::math::distributions::FisherF;
/// use statrs::distribution::ContinuousCDF;
/// // With d1 = 2, P(X > f) = (1 + 2 f / d2)^(-d2 / 2).
/// let above = FisherF::new(2.0, 6.0)?.sf(3.0);
/// approx::assert_relative_eq!(above, 0.125, epsilon = 0.0, max_relative = 1e-14);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FisherF {
    d1: f64,
    d2: f64,
}

impl FisherF {
    /// The law with `d1` degrees of freedom above and `d2` below.
    ///
    /// # Errors
    /// When `d1` is not a number above 0, or `d2` not above 0.
    pub fn new(d1: f64, d2: f64) -> Result<Self> {
        Ok(Self { d1: positive((NAME, "d1"), d1)?, d2: above_zero((NAME, "d2"), d2)? })
    }

    /// 1 / d2, which is 0 for infinitely many.
    fn share(&self) -> f64 {
        1.0 / self.d2
    }
}

impl Tails for FisherF {
    fn support(&self) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }

    fn below(&self, x: f64) -> f64 {
        fisher_f::cdf(x, self.d1, self.d2)
    }

    fn above(&self, x: f64) -> f64 {
        fisher_f::sf(x, self.d1, self.d2)
    }

    fn point(&self, p: f64) -> f64 {
        fisher_f::quantile(p, self.d1, self.d2)
    }
}

continuous!(FisherF);

impl Continuous<f64, f64> for FisherF {
    fn pdf(&self, x: f64) -> f64 {
        fisher_f::pdf(x, self.d1, self.d2)
    }

    fn ln_pdf(&self, x: f64) -> f64 {
        fisher_f::ln_pdf(x, self.d1, self.d2)
    }
}

impl Distribution<f64> for FisherF {
    /// d2 / (d2 - 2) above 2.
    fn mean(&self) -> Option<f64> {
        (self.d2 > 2.0).then(|| 1.0 / (1.0 - 2.0 * self.share()))
    }

    /// 2 d2^2 (d1 + d2 - 2) / (d1 (d2 - 2)^2 (d2 - 4)) above 4.
    fn variance(&self) -> Option<f64> {
        let (d1, s) = (self.d1, self.share());
        let found = 2.0 * ((d1 - 2.0) * s + 1.0) / (d1 * (1.0 - 2.0 * s).powi(2) * (1.0 - 4.0 * s));
        (self.d2 > 4.0).then_some(found)
    }

    /// (2 d1 + d2 - 2) sqrt(8 (d2 - 4)) / ((d2 - 6) sqrt(d1 (d1 + d2 - 2))) above 6.
    fn skewness(&self) -> Option<f64> {
        let (d1, s) = (self.d1, self.share());
        let top = ((2.0 * d1 - 2.0) * s + 1.0) * (8.0 * (1.0 - 4.0 * s)).sqrt();
        let found = top / ((1.0 - 6.0 * s) * (d1 * ((d1 - 2.0) * s + 1.0)).sqrt());
        (self.d2 > 6.0).then_some(found)
    }
}
