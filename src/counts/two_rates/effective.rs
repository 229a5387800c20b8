//! Differences of rates whose counts are effective numbers, not whole.

use super::difference::{combined, score_limits};
use super::ratio;
use super::score::Pair;
use crate::error::{CountError, Result};
use crate::rates::wilson;

/// Newcombe limits of the second rate minus the first from rates and effective numbers stuck, at a given critical value (z or t).
///
/// # Errors
/// [`CountError::OutOfRange`] unless rates lie in 0 to 1, effective numbers and the critical value above 0.
///
/// # References
/// Newcombe 1998, Stat. Med. 17:873-890, method 10.
///
/// ```
/// let (low, high) = rootling::counts::newcombe_effective((0.6, 36.0), (0.8, 31.5), 2.145)?;
/// assert!(low < 0.2 && 0.2 < high);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn newcombe_effective(first: (f64, f64), second: (f64, f64), critical: f64) -> Result<(f64, f64)> {
    Ok(combined(checked(first, second, critical)?, critical, wilson))
}

/// Miettinen-Nurminen score limits of the second rate minus the first from rates and effective numbers stuck, at a given critical value.
///
/// # Errors
/// [`CountError::OutOfRange`] as [`newcombe_effective`], and when the effective numbers sum to 1 or less; a numeric
/// error when a root search does not settle.
///
/// # References
/// Miettinen & Nurminen 1985, Stat. Med. 4:213-226.
///
/// ```
/// let (low, high) = rootling::counts::score_effective((0.6, 36.0), (0.8, 31.5), 2.145)?;
/// assert!(low < 0.2 && 0.2 < high);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn score_effective(first: (f64, f64), second: (f64, f64), critical: f64) -> Result<(f64, f64)> {
    let pair = checked(first, second, critical)?;
    let total = pair.n1 + pair.n2;
    if total <= 1.0 {
        let name = "sum of effective numbers stuck";
        return Err(CountError::OutOfRange { name, value: total, low: 1.0, high: f64::MAX }.into());
    }
    score_limits(pair, critical * critical * pair.variance_factor())
}

/// Koopman's score limits of the second rate over the first from rates and effective numbers stuck, at a given critical value.
///
/// # Errors
/// As [`newcombe_effective`]; a numeric error when a root search does not settle.
///
/// # References
/// Koopman 1984, Biometrics 40:513-517.
///
/// ```
/// let (low, high) = rootling::counts::ratio_effective((0.4, 36.0), (0.8, 31.5), 2.145)?;
/// assert!(low < 2.0 && 2.0 < high);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn ratio_effective(first: (f64, f64), second: (f64, f64), critical: f64) -> Result<(f64, f64)> {
    ratio::score_limits(checked(first, second, critical)?, critical * critical)
}

fn checked(first: (f64, f64), second: (f64, f64), critical: f64) -> Result<Pair> {
    within("rate", first.0, 0.0, 1.0)?;
    within("rate", second.0, 0.0, 1.0)?;
    within("effective number stuck", first.1, f64::MIN_POSITIVE, f64::MAX)?;
    within("effective number stuck", second.1, f64::MIN_POSITIVE, f64::MAX)?;
    within("critical value", critical, f64::MIN_POSITIVE, f64::MAX)?;
    // The pair subtracts its second from its first.
    Ok(Pair { x1: second.0 * second.1, n1: second.1, x2: first.0 * first.1, n2: first.1 })
}

fn within(name: &'static str, value: f64, low: f64, high: f64) -> Result<()> {
    if (low..=high).contains(&value) { Ok(()) } else { Err(CountError::OutOfRange { name, value, low, high }.into()) }
}
