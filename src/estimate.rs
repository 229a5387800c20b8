//! The two plain values every method speaks in: a count and an estimate.

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::error::{CountError, Result};

/// `rooted` of `stuck` cuttings; both are whole numbers of plants.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
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
    ///
    /// ```
    /// use rootling::Count;
    /// assert!(Count { rooted: 21, stuck: 20 }.check().is_err());
    /// ```
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
    ///
    /// ```
    /// use rootling::Count;
    /// assert_eq!(Count { rooted: 14, stuck: 20 }.not_rooted(), 6);
    /// ```
    #[must_use]
    pub fn not_rooted(self) -> u64 {
        self.stuck - self.rooted
    }

    /// The take rate, between 0 and 1.
    ///
    /// ```
    /// use rootling::Count;
    /// assert_eq!(Count { rooted: 14, stuck: 20 }.rate(), 0.7);
    /// ```
    #[must_use]
    pub fn rate(self) -> f64 {
        self.rooted as f64 / self.stuck as f64
    }
}

/// One number with its uncertainty.
///
/// `M` names its method. Two of one method are compared within a tolerance by the traits of approx, of which the absolute one is 0 unless it is given.
///
/// ```
/// use approx::assert_relative_eq;
/// use rootling::{Estimate, rates::IntervalMethod};
/// let one = Estimate { value: 0.4, se: None, low: 1e-9, high: 0.7, confidence: 0.95, method: IntervalMethod::Wilson };
/// assert_relative_eq!(one, Estimate { low: 1e-9 + 1e-20, ..one.clone() }, max_relative = 1e-10);
/// assert!(approx::relative_ne!(one, Estimate { low: 2e-9, ..one.clone() }, max_relative = 1e-3));
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[cfg_attr(test, schemars(rename = "{M}Estimate"))]
pub struct Estimate<M> {
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
    /// The method that made it.
    pub method: M,
}

/// What was tested, and how.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TestName {
    /// The score of equal rates, or of a comparison.
    Score,
    /// Likelihood ratio chi-square.
    LikelihoodRatio,
    /// Pearson's chi-square.
    Pearson,
    /// The same with continuity correction.
    PearsonCorrected,
    /// Fisher's exact test.
    Fisher,
    /// The exact test of Freeman and Halton.
    FreemanHalton,
    /// The same by drawn tables.
    FreemanHaltonDrawn,
    /// `McNemar`'s test, exact.
    Exact,
    /// The same, mid-P.
    MidP,
    /// The same, by chi-square.
    Asymptotic,
    /// The same, by chi-square with continuity correction.
    AsymptoticCorrected,
    /// Association of 2 x 2 tables within strata.
    CochranMantelHaenszel,
    /// The same with continuity correction.
    CochranMantelHaenszelCorrected,
    /// General association within strata.
    GeneralAssociation,
    /// Mean scores of the columns differ between rows, within strata.
    MeanScores,
    /// Scores of rows and columns go together within strata.
    Correlation,
    /// Odds ratios alike over strata, by Breslow and Day.
    BreslowDay,
    /// The same with Tarone's correction.
    BreslowDayTarone,
    /// Odds ratios alike over strata, by Woolf.
    Woolf,
    /// Trend of rates along scores.
    CochranArmitage,
    /// The same on effective cuttings.
    EffectiveCochranArmitage,
    /// The same, exact.
    ExactTrend,
    /// The same by drawn tables.
    DrawnTrend,
    /// The slope through rates of trays.
    TOnTrays,
    /// Departure from the straight line of a trend.
    Departure,
    /// Association of two orders.
    LinearByLinear,
    /// F of tray rates.
    TrayRates,
    /// The same, its P value by dealing the trays out anew.
    Randomisation,
    /// Chi-square divided by one design effect.
    Donner,
    /// Chi-square on counts divided by design effects.
    RaoScott,
    /// Pearson's chi-square over its mean design effect.
    RaoScottFirstOrder,
    /// The same with the spread of design effects taken into account.
    RaoScottSecondOrder,
    /// Curves of one form at different places.
    SameForm,
    /// One curve, against one form at different places.
    SameCurve,
    /// One curve, against curves of their own.
    NoDifference,
    /// Curves of one form at different heights.
    SameButForHeight,
    /// One height, against different heights.
    SameHeight,
    /// The best strength of a surface does not shift with darkness.
    OneBestStrength,
    /// Darkness makes no difference.
    Darkness,
    /// The surface misses the combinations by no more than chance.
    LackOfFit,
    /// As many die at every strength.
    DeathsDiffer,
}

choice!(
    TestName, "test":
    Score = "score",
    LikelihoodRatio = "likelihood-ratio",
    Pearson = "pearson",
    PearsonCorrected = "pearson-corrected",
    Fisher = "fisher",
    FreemanHalton = "freeman-halton",
    FreemanHaltonDrawn = "freeman-halton, drawn",
    Exact = "exact",
    MidP = "mid-p",
    Asymptotic = "asymptotic",
    AsymptoticCorrected = "asymptotic-corrected",
    CochranMantelHaenszel = "cochran-mantel-haenszel",
    CochranMantelHaenszelCorrected = "cochran-mantel-haenszel-corrected",
    GeneralAssociation = "general-association",
    MeanScores = "mean-scores",
    Correlation = "correlation",
    BreslowDay = "breslow-day",
    BreslowDayTarone = "breslow-day-tarone",
    Woolf = "woolf",
    CochranArmitage = "cochran-armitage",
    EffectiveCochranArmitage = "cochran-armitage on effective cuttings",
    ExactTrend = "exact trend",
    DrawnTrend = "drawn trend",
    TOnTrays = "t on trays",
    Departure = "departure",
    LinearByLinear = "linear-by-linear",
    TrayRates = "tray-rates",
    Randomisation = "randomisation",
    Donner = "donner",
    RaoScott = "rao-scott",
    RaoScottFirstOrder = "rao-scott-first-order",
    RaoScottSecondOrder = "rao-scott-second-order",
    SameForm = "same form",
    SameCurve = "same curve",
    NoDifference = "no difference",
    SameButForHeight = "same but for height",
    SameHeight = "same height",
    OneBestStrength = "one best strength at every darkness",
    Darkness = "darkness",
    LackOfFit = "lack of fit",
    DeathsDiffer = "deaths differ between strengths",
);

/// One hypothesis test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TestResult {
    /// The test.
    pub method: TestName,
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
    type Method: PartialEq;
    fn numbers(&self) -> [Option<f64>; 5];
    fn method(&self) -> &Self::Method;
}

impl<M: PartialEq> Numbers for Estimate<M> {
    type Method = M;

    fn numbers(&self) -> [Option<f64>; 5] {
        [Some(self.value), self.se, Some(self.low), Some(self.high), Some(self.confidence)]
    }

    fn method(&self) -> &M {
        &self.method
    }
}

impl Numbers for TestResult {
    type Method = TestName;

    fn numbers(&self) -> [Option<f64>; 5] {
        [self.statistic, self.df, self.error_df, Some(self.p), None]
    }

    fn method(&self) -> &TestName {
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
    ($($value:ty $(, $of:ident)?);+) => {$(
        impl$(<$of: PartialEq>)? approx::AbsDiffEq for $value {
            type Epsilon = f64;

            fn default_epsilon() -> f64 {
                0.0
            }

            fn abs_diff_eq(&self, other: &Self, epsilon: f64) -> bool {
                agree(self, other, |a, b| a.abs_diff_eq(&b, epsilon))
            }
        }

        impl$(<$of: PartialEq>)? approx::RelativeEq for $value {
            fn default_max_relative() -> f64 {
                f64::EPSILON
            }

            fn relative_eq(&self, other: &Self, epsilon: f64, max_relative: f64) -> bool {
                agree(self, other, |a, b| a.relative_eq(&b, epsilon, max_relative))
            }
        }
    )+};
}

compared_within!(Estimate<M>, M; TestResult);
