//! Ratio of two take rates.

use serde::{Deserialize, Serialize};

use super::score::Pair;
use crate::choice::choice;
use crate::error::{CountError, Result};
use crate::estimate::{Count, around, check_level};
use crate::math::distributions::normal;
use crate::math::search::root_from;

/// How the interval of a ratio is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RatioMethod {
    /// Score interval.
    Koopman,
    /// Normal interval of the log ratio; needs rooted cuttings in both groups.
    Log,
    /// Score interval with the variance factor N / (N - 1).
    MiettinenNurminen,
}

choice!(
    RatioMethod, "ratio method":
    Koopman = "koopman",
    Log = "log",
    MiettinenNurminen = "miettinen-nurminen",
);

/// A ratio of rates or of odds by a method `M`; 0 / 0 has limits but no value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RatioEstimate<M> {
    /// Second rate over first; infinite when only the first is 0, `None` when both are.
    pub value: Option<f64>,
    /// Lower limit, 0 or more.
    pub low: f64,
    /// Upper limit; infinite when no cutting of the first group rooted.
    pub high: f64,
    /// Confidence level.
    pub confidence: f64,
    /// The method that made it.
    pub method: M,
}

/// Ratio of take rates, second over first, with its interval at confidence `level`. A limit that misses the ratio is moved out to it.
///
/// # Errors
/// [`CountError`] for impossible counts or level; [`CountError::NotDefined`] for the log method with a group in which
/// none rooted, or with all rooted in both.
///
/// # References
/// Koopman 1984, Biometrics 40:513-517; Katz et al. 1978, Biometrics 34:469-474; Miettinen & Nurminen 1985, Stat. Med. 4:213-226.
///
/// ```
/// use rootling::{Count, counts::{RatioMethod, ratio}};
/// let found = ratio(Count { rooted: 0, stuck: 10 }, Count { rooted: 0, stuck: 20 }, RatioMethod::Koopman, 0.95)?;
/// assert_eq!((found.value, found.low, found.high), (None, 0.0, f64::INFINITY));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn ratio(first: Count, second: Count, method: RatioMethod, level: f64) -> Result<RatioEstimate<RatioMethod>> {
    first.check()?;
    second.check()?;
    let z = normal::isf(0.5 * (1.0 - check_level(level)?));
    // The pair divides its first by its second.
    let pair = Pair::new(second, first);
    let (low, high) = match method {
        RatioMethod::Koopman => score_limits(pair, z * z)?,
        RatioMethod::MiettinenNurminen => score_limits(pair, z * z * pair.variance_factor())?,
        RatioMethod::Log => log_limits(pair, z)?,
    };
    let value = (first.rooted > 0 || second.rooted > 0).then(|| second.rate() / first.rate());
    let (low, high) = value.map_or((low, high), |value| around(value, (low, high)));
    Ok(RatioEstimate { value, low, high, confidence: level, method })
}

/// The ratios at which the score statistic squared is `reach`.
pub(super) fn score_limits(pair: Pair, reach: f64) -> Result<(f64, f64)> {
    let start = ((pair.x1 + 0.5) / (pair.n1 + 0.5) / ((pair.x2 + 0.5) / (pair.n2 + 0.5))).ln();
    let low =
        if pair.x1 <= 0.0 { 0.0 } else { root_from(|t| 0.5 - pair.ratio_share(t, reach), start, 0.5, 1e-13)?.exp() };
    let high = if pair.x2 <= 0.0 {
        f64::INFINITY
    } else {
        root_from(|t| -0.5 - pair.ratio_share(t, reach), start, 0.5, 1e-13)?.exp()
    };
    Ok((low, high))
}

fn log_limits(pair: Pair, z: f64) -> Result<(f64, f64)> {
    let variance = 1.0 / pair.x1 - 1.0 / pair.n1 + 1.0 / pair.x2 - 1.0 / pair.n2;
    if pair.x1 <= 0.0 || pair.x2 <= 0.0 || variance <= 0.0 {
        return Err(CountError::NotDefined {
            what: "the log interval of the ratio",
            why: "a group without a rooted cutting, or all rooted in both groups, has no log standard error; use koopman",
        }
        .into());
    }
    let value = pair.x1 / pair.n1 / (pair.x2 / pair.n2);
    let factor = (z * variance.sqrt()).exp();
    Ok((value / factor, value * factor))
}
