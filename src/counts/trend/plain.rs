//! Trend of independent cuttings over ordered groups.

use serde::{Deserialize, Serialize};

use super::exact::{TrendExact, exact};
use super::groups::{Groups, finite};
use crate::control::Control;
use crate::counts::exact::{ExactOptions, Exactness};
use crate::error::Result;
use crate::estimate::{TestName, TestResult};
use crate::math::distributions::{chi_squared, normal};

/// Tests of a trend in rooting over ordered groups.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Trend {
    /// Signed statistic, about standard normal without a trend; above 0 when rooting rises with the score.
    pub z: f64,
    /// Cochran and Armitage's chi-square `z^2`, 1 degree of freedom.
    pub asymptotic: TestResult,
    /// P of a rise only.
    pub p_higher: f64,
    /// P of a fall only.
    pub p_lower: f64,
    /// What is left of Pearson's chi-square, on groups less 2 degrees of freedom; `None` with two groups.
    pub departure: Option<TestResult>,
    /// Rise of the rate per unit of score, by weighted least squares.
    pub slope: f64,
    /// Exact conditional test.
    pub exact: TrendExact,
}

/// Cochran-Armitage test of a linear trend of the rate over the scores, asymptotic and exact.
///
/// With `y` rooted of `n` in each group, scores s (any origin and unit), overall rate p and mean score `m = sum n s / N`:
/// `z = sum s (y - n p) / sqrt(p (1 - p) sum n (s - m)^2)`. The exact test holds all group sizes and the total rooted fixed and
/// takes the law of `sum s y` by convolution; see [`TrendExact`]. A hump passes such a test unseen: look at `departure`.
/// Where every cutting rooted, or none did, nothing rises or falls and P is 1. The cuttings are taken as independent; with trays use the trial's own trend.
///
/// # Errors
/// [`CountError`](crate::error::CountError) for lists of unequal length, fewer than two groups, or equal scores; [`Error::Interrupted`](crate::Error) when the control was stopped.
///
/// # References
/// Cochran 1954, Biometrics 10:417-451; Armitage 1955, Biometrics 11:375-386; Agresti 2002, Categorical Data Analysis, 2nd
/// edition, sections 3.4 and 5.3.
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{ExactOptions, trend};
/// let found = trend(&[1, 2, 4, 7], &[10; 4], &[0.0, 1.0, 2.0, 3.0], ExactOptions::default(), &Control::new())?;
/// approx::assert_relative_eq!(found.z, 2.964_997_266_644, epsilon = 0.0, max_relative = 3.3e-11);
/// assert!(found.exact.p_higher < 0.0022);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn trend(rooted: &[u64], stuck: &[u64], scores: &[f64], options: ExactOptions, control: &Control) -> Result<Trend> {
    let groups = Groups::new(rooted, stuck, scores)?;
    if groups.is_fixed() {
        finite(groups.statistic())?;
        return Ok(level(&groups));
    }
    let Line { z, asymptotic, departure, slope } = line(&groups);
    for figure in [groups.statistic(), groups.mean_statistic(), slope] {
        finite(figure)?;
    }
    let exact = exact(&groups, options, control)?;
    Ok(Trend { z, asymptotic, p_higher: normal::sf(z), p_lower: normal::sf(-z), departure, slope, exact })
}

/// The line through the rates of groups, without the exact test.
pub(crate) struct Line {
    pub(crate) z: f64,
    pub(crate) asymptotic: TestResult,
    pub(crate) departure: Option<TestResult>,
    pub(crate) slope: f64,
}

/// As [`trend`], without the exact test, whose work grows with the cuttings.
///
/// # Errors
/// As [`trend`].
pub(crate) fn line_of(rooted: &[u64], stuck: &[u64], scores: &[f64]) -> Result<Line> {
    let groups = Groups::new(rooted, stuck, scores)?;
    if groups.is_fixed() {
        let Trend { z, asymptotic, departure, slope, .. } = level(&groups);
        return Ok(Line { z, asymptotic, departure, slope });
    }
    let found = line(&groups);
    finite(found.slope)?;
    Ok(found)
}

fn line(groups: &Groups) -> Line {
    let rate = groups.total_rooted() as f64 / groups.total_stuck() as f64;
    let (mean, spread) = groups.scaled_spread();
    let off: f64 = groups
        .scaled
        .iter()
        .zip(groups.rooted.iter().zip(&groups.stuck))
        .map(|(score, (rooted, stuck))| (score - mean) * (*rooted as f64 - *stuck as f64 * rate))
        .sum();
    let variance = rate * (1.0 - rate);
    let z = off / (variance * spread).sqrt();
    let slope = off / spread;
    let asymptotic = TestResult {
        method: TestName::CochranArmitage,
        statistic: Some(z * z),
        df: Some(1.0),
        error_df: None,
        p: chi_squared::sf(z * z, 1.0),
    };
    let departure = (groups.scores.len() > 2).then(|| {
        let statistic: f64 = groups
            .scaled
            .iter()
            .zip(groups.rooted.iter().zip(&groups.stuck))
            .map(|(score, (rooted, stuck))| {
                let n = *stuck as f64;
                let fitted = rate + slope * (score - mean);
                n * (*rooted as f64 / n - fitted).powi(2) / variance
            })
            .sum();
        let df = groups.scores.len() as f64 - 2.0;
        TestResult {
            method: TestName::Departure,
            statistic: Some(statistic),
            df: Some(df),
            error_df: None,
            p: chi_squared::sf(statistic, df),
        }
    });
    Line { z, asymptotic, departure, slope: slope / groups.unit() }
}

/// Every cutting rooted, or none did: the only outcome there is with these totals.
fn level(groups: &Groups) -> Trend {
    let sum = groups.statistic();
    let exact = TrendExact {
        statistic: sum,
        mean: sum,
        p: 1.0,
        p_lower: 1.0,
        p_higher: 1.0,
        probability: 1.0,
        mid_p_lower: 0.5,
        mid_p_higher: 0.5,
        doubled: 1.0,
        by_distance: 1.0,
        method: Exactness::Exact,
        se: None,
        draws: None,
        seed: None,
    };
    let still =
        |method: TestName, df: f64| TestResult { method, statistic: Some(0.0), df: Some(df), error_df: None, p: 1.0 };
    let more = groups.scores.len() as f64 - 2.0;
    Trend {
        z: 0.0,
        asymptotic: still(TestName::CochranArmitage, 1.0),
        p_higher: 0.5,
        p_lower: 0.5,
        departure: (more > 0.0).then(|| still(TestName::Departure, more)),
        slope: 0.0,
        exact,
    }
}
