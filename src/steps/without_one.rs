//! What is learnt of a statistic by leaving out one unit after the other.

use crate::math::distributions::student_t;

/// The standard error by leaving out one of `K` units at a time: `sqrt((K - 1) / K sum (x_k - mean)^2)`.
/// None of fewer than two units, or where leaving one out leaves no value.
///
/// # References
/// Tukey 1958, Ann. Math. Stat. 29:614.
pub(super) fn standard_error(without: &[Option<f64>]) -> Option<f64> {
    let values: Vec<f64> = without.iter().copied().collect::<Option<_>>()?;
    let count = values.len() as f64;
    if values.len() < 2 || values.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let mean = values.iter().sum::<f64>() / count;
    Some(((count - 1.0) / count * values.iter().map(|value| (value - mean).powi(2)).sum::<f64>()).sqrt())
}

/// `value` less and plus its reach by t.
pub(super) fn limits(value: f64, se: f64, df: f64, confidence: f64) -> (f64, f64) {
    let reach = student_t::quantile(f64::midpoint(1.0, confidence), df) * se;
    (value - reach, value + reach)
}
