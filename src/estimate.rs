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
///
/// Two of one method are compared within a tolerance by the traits of approx, of which the absolute one is 0 unless it is given.
///
/// ```
/// use approx::assert_relative_eq;
/// use rootling::Estimate;
/// let one = Estimate { value: 0.4, se: None, low: 1e-9, high: 0.7, confidence: 0.95, method: "wilson".to_owned() };
/// assert_relative_eq!(one, Estimate { low: 1e-9 + 1e-20, ..one.clone() }, max_relative = 1e-10);
/// assert!(approx::relative_ne!(one, Estimate { low: 2e-9, ..one.clone() }, max_relative = 1e-3));
/// ```
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

/// The numbers of a value, in the order of its fields, and what has to be the same to the letter.
trait Numbers {
    fn numbers(&self) -> [Option<f64>; 5];
    fn method(&self) -> &str;
}

impl Numbers for Estimate {
    fn numbers(&self) -> [Option<f64>; 5] {
        [Some(self.value), self.se, Some(self.low), Some(self.high), Some(self.confidence)]
    }

    fn method(&self) -> &str {
        &self.method
    }
}

impl Numbers for TestResult {
    fn numbers(&self) -> [Option<f64>; 5] {
        [self.statistic, self.df, self.error_df, Some(self.p), None]
    }

    fn method(&self) -> &str {
        &self.method
    }
}

/// Whether two values are of one method and hold the same numbers, as `near` says; two that are not numbers agree.
fn agree<T: Numbers>(one: &T, other: &T, near: impl Fn(f64, f64) -> bool) -> bool {
    one.method() == other.method()
        && one.numbers().into_iter().zip(other.numbers()).all(|two| match two {
            (Some(a), Some(b)) => (a.is_nan() && b.is_nan()) || near(a, b),
            (a, b) => a == b,
        })
}

/// Comparison within a tolerance. The absolute one is 0 unless it is given, since any other would call all small P values alike.
macro_rules! compared_within {
    ($($value:ty),+) => {$(
        impl approx::AbsDiffEq for $value {
            type Epsilon = f64;

            fn default_epsilon() -> f64 {
                0.0
            }

            fn abs_diff_eq(&self, other: &Self, epsilon: f64) -> bool {
                agree(self, other, |a, b| a.abs_diff_eq(&b, epsilon))
            }
        }

        impl approx::RelativeEq for $value {
            fn default_max_relative() -> f64 {
                f64::EPSILON
            }

            fn relative_eq(&self, other: &Self, epsilon: f64, max_relative: f64) -> bool {
                agree(self, other, |a, b| a.relative_eq(&b, epsilon, max_relative))
            }
        }
    )+};
}

compared_within!(Estimate, TestResult);
