//! Binomial distribution.

use statrs::statistics::Distribution;

use super::counts::{Counts, counts};
use super::parameters::{count, probability};
use crate::error::Result;
use crate::math::distributions::binomial;

const NAME: &str = "a binomial distribution";

/// The binomial distribution of n trials at probability p.
///
/// ```
/// use rootling::math::distributions::Binomial;
/// use statrs::distribution::{Discrete, DiscreteCDF};
/// let law = Binomial::new(4, 0.5)?;
/// // 4 choose 2 / 2^4 = 3 / 8
/// approx::assert_relative_eq!(law.pmf(2), 0.375, epsilon = 0.0, max_relative = 1e-14);
/// assert_eq!(law.inverse_cdf(0.5), 2);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Binomial {
    n: u64,
    p: f64,
}

impl Binomial {
    /// The law of `n` trials at probability `p`.
    ///
    /// # Errors
    /// When `n` is above 2^53, or `p` is no probability.
    pub fn new(n: u64, p: f64) -> Result<Self> {
        Ok(Self { n: count((NAME, "n"), n)?, p: probability((NAME, "p"), p)? })
    }
}

impl Counts for Binomial {
    fn support(&self) -> (u64, u64) {
        (0, self.n)
    }

    fn below(&self, k: f64) -> f64 {
        binomial::cdf(k, self.n as f64, self.p)
    }

    fn above(&self, k: f64) -> f64 {
        binomial::sf(k, self.n as f64, self.p)
    }

    fn at(&self, k: f64) -> f64 {
        binomial::pmf(k, self.n as f64, self.p)
    }

    fn ln_at(&self, k: f64) -> f64 {
        binomial::ln_pmf(k, self.n as f64, self.p)
    }
}

counts!(Binomial);

impl Distribution<f64> for Binomial {
    fn mean(&self) -> Option<f64> {
        Some(self.n as f64 * self.p)
    }

    fn variance(&self) -> Option<f64> {
        Some(self.n as f64 * self.p * (1.0 - self.p))
    }

    /// (1 - 2 p) / sqrt(n p (1 - p)), where anything varies.
    fn skewness(&self) -> Option<f64> {
        let spread = (self.n as f64 * self.p * (1.0 - self.p)).sqrt();
        (spread > 0.0).then(|| (1.0 - 2.0 * self.p) / spread)
    }
}
