//! Hypergeometric distribution.

use statrs::statistics::Distribution;

use super::counts::{Counts, counts};
use super::parameters::{count, held};
use crate::error::Result;
use crate::math::distributions::hypergeometric;

const NAME: &str = "a hypergeometric distribution";

/// The hypergeometric distribution: successes among draws from a finite stock.
///
/// ```
/// use rootling::math::distributions::Hypergeometric;
/// use statrs::distribution::{Discrete, DiscreteCDF};
/// let law = Hypergeometric::new(3, 5, 3)?;
/// // (3 choose 2) (5 choose 1) / (8 choose 3) = 15 / 56
/// approx::assert_relative_eq!(law.pmf(2), 15.0 / 56.0, epsilon = 0.0, max_relative = 1e-14);
/// approx::assert_relative_eq!(law.sf(2) * 56.0, 1.0, epsilon = 0.0, max_relative = 1e-13);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hypergeometric {
    successes: u64,
    failures: u64,
    draws: u64,
}

impl Hypergeometric {
    /// The law of `draws` from so many `successes` and `failures`.
    ///
    /// # Errors
    /// When more are drawn than there are, or there are more than 2^53.
    pub fn new(successes: u64, failures: u64, draws: u64) -> Result<Self> {
        let all = count((NAME, "number of items"), successes.saturating_add(failures))?;
        held((NAME, "number of draws"), draws as f64, draws <= all, "at most as many as there are")?;
        Ok(Self { successes, failures, draws })
    }

    fn numbers(&self) -> (f64, f64, f64) {
        (self.successes as f64, self.failures as f64, self.draws as f64)
    }
}

impl Counts for Hypergeometric {
    fn support(&self) -> (u64, u64) {
        (self.draws.saturating_sub(self.failures), self.draws.min(self.successes))
    }

    fn below(&self, k: f64) -> f64 {
        let (successes, failures, draws) = self.numbers();
        hypergeometric::cdf(k, successes, failures, draws)
    }

    fn above(&self, k: f64) -> f64 {
        let (successes, failures, draws) = self.numbers();
        hypergeometric::sf(k, successes, failures, draws)
    }

    fn at(&self, k: f64) -> f64 {
        self.ln_at(k).exp()
    }

    fn ln_at(&self, k: f64) -> f64 {
        let (successes, failures, draws) = self.numbers();
        hypergeometric::ln_pmf(k, successes, failures, draws)
    }
}

counts!(Hypergeometric);

impl Distribution<f64> for Hypergeometric {
    fn mean(&self) -> Option<f64> {
        let (successes, failures, draws) = self.numbers();
        let total = successes + failures;
        (total > 0.0).then(|| draws * (successes / total))
    }

    /// n K (N - K) (N - n) / (N^2 (N - 1)) of N items.
    fn variance(&self) -> Option<f64> {
        let (successes, failures, draws) = self.numbers();
        let total = successes + failures;
        let found = draws * (successes / total) * (failures / total) * ((total - draws) / (total - 1.0));
        (total > 1.0).then_some(found)
    }

    /// (N - 2 K) (N - 2 n) sqrt(N - 1) / ((N - 2) sqrt(n K (N - K) (N - n))), where anything varies.
    fn skewness(&self) -> Option<f64> {
        let (successes, failures, draws) = self.numbers();
        let total = successes + failures;
        let spread = (draws * successes).sqrt() * (failures * (total - draws)).sqrt();
        let lean = (failures - successes) * (total - 2.0 * draws) * (total - 1.0).sqrt();
        (spread > 0.0 && total > 2.0).then(|| lean / spread / (total - 2.0))
    }
}
