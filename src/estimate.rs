//! The two plain values every method speaks in: a count and an estimate.

use serde::{Deserialize, Serialize};

use crate::error::{CountError, Result};

/// `rooted` of `stuck` cuttings; both are whole numbers of plants.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Count {
    /// Cuttings that rooted.
    pub rooted: u64,
    /// Cuttings that were set.
    pub stuck: u64,
}

/// The largest whole number a 64-bit float holds without rounding, `2^53`.
pub const LARGEST_COUNT: u64 = 1 << 53;

impl Count {
    /// Checks and builds a count.
    ///
    /// # Errors
    /// [`CountError`] when `stuck` is 0, when `rooted > stuck`, or when either exceeds 2^53.
    ///
    /// ```
    /// let count = rootling::Count::new(14, 20)?;
    /// assert_eq!(count.not_rooted(), 6);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn new(rooted: u64, stuck: u64) -> Result<Self> {
        let count = Self { rooted, stuck };
        count.check()?;
        Ok(count)
    }

    /// The same checks on a count built field by field.
    ///
    /// # Errors
    /// As [`Count::new`].
    pub fn check(self) -> Result<()> {
        if self.stuck == 0 {
            return Err(CountError::NoneStuck.into());
        }
        if self.stuck > LARGEST_COUNT {
            return Err(CountError::TooLarge { value: self.stuck }.into());
        }
        if self.rooted > self.stuck {
            return Err(CountError::RootedAboveStuck { rooted: self.rooted, stuck: self.stuck }.into());
        }
        Ok(())
    }

    /// Cuttings that did not root.
    #[must_use]
    pub fn not_rooted(self) -> u64 {
        self.stuck - self.rooted
    }

    /// The take rate, between 0 and 1.
    #[must_use]
    pub fn rate(self) -> f64 {
        self.rooted as f64 / self.stuck as f64
    }
}

/// One number with its uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The estimate, on the scale named by the method that made it.
    pub value: f64,
    /// Its standard error, where the method has one.
    pub se: Option<f64>,
    /// Lower confidence limit.
    pub low: f64,
    /// Upper confidence limit.
    pub high: f64,
    /// Confidence level, between 0 and 1.
    pub confidence: f64,
    /// The method's name, as accepted by `method=`.
    pub method: String,
}

/// One hypothesis test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestResult {
    /// The test's name.
    pub method: String,
    /// The test statistic, where there is one.
    pub statistic: Option<f64>,
    /// Degrees of freedom, where the reference distribution has them.
    pub df: Option<f64>,
    /// Denominator degrees of freedom of an F statistic.
    pub error_df: Option<f64>,
    /// The P value (two-sided unless the method says otherwise).
    pub p: f64,
}

/// Checks a confidence level.
///
/// # Errors
/// [`CountError::Level`] unless `0 < level < 1`.
pub fn check_level(level: f64) -> Result<f64> {
    if level > 0.0 && level < 1.0 { Ok(level) } else { Err(CountError::Level { value: level }.into()) }
}

/// Limits of an estimate, moved out to it where a method's own miss it: some methods shrink towards the middle, and at a low level, or
/// with counts of 0 or of all, their limits can lie beside what was observed.
pub(crate) fn around(value: f64, (low, high): (f64, f64)) -> (f64, f64) {
    (low.min(value), high.max(value))
}
