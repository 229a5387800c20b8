//! Intervals on effective counts, which need not be whole.

use super::IntervalMethod;
use super::single::of_numbers;
use crate::error::{CountError, Result};
use crate::math::distributions::beta_table::BetaPoints;
use crate::math::distributions::normal;

/// Limits for `rooted` of `stuck` effective cuttings, neither of them whole, at a given critical value.
///
/// `critical` is the two-sided quantile in use: a t quantile when the effective number rests on few trays. Methods built
/// on tails take the normal upper tail of `critical`. Mid-P and Blaker intervals need whole counts and are refused.
///
/// # Errors
/// [`CountError::OutOfRange`] unless `0 < stuck`, `0 <= rooted <= stuck` and `0 < critical`, all finite;
/// [`CountError::NotDefined`] for mid-P and Blaker.
///
/// # References
/// Korn & Graubard 1998, Survey Methodology 24:193-201 (effective counts in an exact interval).
///
/// ```
/// use rootling::rates::{IntervalMethod, interval_effective};
/// let (low, high) = interval_effective(9.1, 13.0, IntervalMethod::Wilson, 2.365)?;
/// assert!(low < 0.7 && 0.7 < high);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn interval_effective(rooted: f64, stuck: f64, method: IntervalMethod, critical: f64) -> Result<(f64, f64)> {
    within("effective number stuck", stuck, f64::MIN_POSITIVE, f64::MAX)?;
    within("effective number rooted", rooted, 0.0, stuck)?;
    within("critical value", critical, f64::MIN_POSITIVE, f64::MAX)?;
    let points = BetaPoints::each(normal::sf(critical));
    if method.needs_whole_counts() {
        return Err(CountError::NotDefined {
            what: "the mid-p or blaker interval of effective counts",
            why: "it counts single cuttings and effective counts are not whole; use wilson or clopper-pearson",
        }
        .into());
    }
    of_numbers(rooted, stuck, method, (critical, &points))
}

/// Passes `value` when it lies in `low..=high`; NaN does not.
fn within(name: &'static str, value: f64, low: f64, high: f64) -> Result<()> {
    if (low..=high).contains(&value) { Ok(()) } else { Err(CountError::OutOfRange { name, value, low, high }.into()) }
}
