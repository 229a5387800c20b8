//! Beta-binomial distribution by mean and correlation.

use statrs::statistics::Distribution;

use super::counts::{Counts, counts};
use super::parameters::{count, held, probability};
use crate::error::Result;
use crate::math::distributions::{beta_binomial, binomial};

const NAME: &str = "a beta-binomial distribution";

/// The beta-binomial distribution of n cuttings that root at rate `mean` on average, with a correlation between cuttings of one tray.
///
/// ```
/// use rootling::math::distributions::BetaBinomial;
/// use statrs::distribution::{Discrete, DiscreteCDF};
/// // Mean 1/2 and correlation 1/3 are uniform on 0..n.
/// let law = BetaBinomial::new(9, 0.5, 1.0 / 3.0)?;
/// approx::assert_relative_eq!(law.pmf(3), 0.1, epsilon = 0.0, max_relative = 1e-13);
/// approx::assert_relative_eq!(law.cdf(3), 0.4, epsilon = 0.0, max_relative = 1e-12);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BetaBinomial {
    n: u64,
    mean: f64,
    rho: f64,
}

impl BetaBinomial {
    /// The law of `n` cuttings at a mean rate and a correlation from 0 to below 1.
    ///
    /// # Errors
    /// When one is out of its range.
    pub fn new(n: u64, mean: f64, rho: f64) -> Result<Self> {
        let wanted = "a number from 0 to below 1";
        let rho = held((NAME, "correlation"), rho, (0.0..1.0).contains(&rho), wanted)?;
        Ok(Self { n: count((NAME, "n"), n)?, mean: probability((NAME, "mean"), mean)?, rho })
    }

    /// Variance of a binomial law with this mean.
    fn plain(&self) -> f64 {
        self.n as f64 * self.mean * (1.0 - self.mean)
    }

    /// Sum of the probabilities of these counts.
    fn sum(&self, counts: impl Iterator<Item = u64>) -> f64 {
        counts.map(|k| self.at(k as f64)).sum::<f64>().min(1.0)
    }
}

impl Counts for BetaBinomial {
    fn support(&self) -> (u64, u64) {
        (0, self.n)
    }

    fn below(&self, k: f64) -> f64 {
        if self.rho == 0.0 {
            return binomial::cdf(k, self.n as f64, self.mean);
        }
        let found = beta_binomial::cdf(k, self.n as f64, self.mean, self.rho);
        found.unwrap_or_else(|| self.sum(0..=k as u64))
    }

    fn above(&self, k: f64) -> f64 {
        if self.rho == 0.0 {
            return binomial::sf(k, self.n as f64, self.mean);
        }
        let found = beta_binomial::sf(k, self.n as f64, self.mean, self.rho);
        found.unwrap_or_else(|| self.sum((k as u64 + 1..=self.n).rev()))
    }

    fn at(&self, k: f64) -> f64 {
        self.ln_at(k).exp()
    }

    fn ln_at(&self, k: f64) -> f64 {
        beta_binomial::ln_pmf(k, self.n as f64, self.mean, self.rho)
    }
}

counts!(BetaBinomial);

impl Distribution<f64> for BetaBinomial {
    fn mean(&self) -> Option<f64> {
        Some(self.n as f64 * self.mean)
    }

    /// n m (1 - m) (1 + (n - 1) rho).
    fn variance(&self) -> Option<f64> {
        Some(self.plain() * (1.0 + (self.n as f64 - 1.0) * self.rho))
    }

    /// With g = rho / (1 - rho): (1 + 2 n g) (1 - 2 m) / (1 + 2 g) sqrt((1 + g) / (n m (1 - m) (1 + n g))), where anything varies.
    fn skewness(&self) -> Option<f64> {
        let (n, g) = (self.n as f64, self.rho / (1.0 - self.rho));
        let lean = (1.0 + 2.0 * n * g) * (1.0 - 2.0 * self.mean) / (1.0 + 2.0 * g);
        (self.plain() > 0.0).then(|| lean * ((1.0 + g) / self.plain() / (1.0 + n * g)).sqrt())
    }
}
