//! What each season measured: a difference, its variance, and how well that is known.

use crate::math::distributions::{normal, student_t};

/// A difference that one season measured.
///
/// ```
/// use rootling::seasons::Measured;
/// // Limits from 0.02 to 0.22 at 95 %, of t on 10 degrees of freedom: scipy 1.17, t.ppf(0.975, 10).
/// let season = Measured::of_limits(0.12, (0.02, 0.22), 10.0, 0.95);
/// approx::assert_relative_eq!(season.variance.sqrt(), 0.2 / (2.0 * 2.228_138_851_986_274), max_relative = 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The difference, second minus first.
    pub value: f64,
    /// Its estimated variance within the season.
    pub variance: f64,
    /// Degrees of freedom of that variance; infinite where it is known.
    pub df: f64,
}

impl Measured {
    /// From limits by t: their distance over twice its quantile is the standard error.
    #[must_use]
    pub fn of_limits(value: f64, (low, high): (f64, f64), df: f64, confidence: f64) -> Self {
        let se = (high - low) / (2.0 * critical(confidence, df));
        Self { value, variance: se * se, df }
    }

    /// From a variance taken as known.
    #[must_use]
    pub const fn known(value: f64, variance: f64) -> Self {
        Self { value, variance, df: f64::INFINITY }
    }
}

/// The two-sided quantile of t; that of the normal law where the degrees of freedom are infinite.
pub(super) fn critical(confidence: f64, df: f64) -> f64 {
    let tail = f64::midpoint(1.0, confidence);
    if df.is_finite() { student_t::quantile(tail, df) } else { normal::quantile(tail) }
}

/// Average with weights 1 / (variance + spread squared), and the sum of these weights.
pub(super) fn weighted(seasons: &[Measured], spread_squared: f64) -> (f64, f64) {
    let (mut sum, mut total) = (0.0, 0.0);
    for season in seasons {
        let weight = 1.0 / (season.variance + spread_squared);
        sum += weight * season.value;
        total += weight;
    }
    (sum / total, total)
}
