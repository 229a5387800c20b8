//! Limits and the test of one coefficient: plain numbers.

use crate::math::distributions::{chi_squared, fisher_f};

/// Limits and test of one coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileLimits {
    /// Lower limit on the link scale.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Chi-square or F on 1 degree of freedom.
    pub statistic: f64,
    /// Denominator degrees of freedom of the F.
    pub df: Option<f64>,
    /// Probability of a statistic as large.
    pub p: f64,
}

/// Upper tail of a chi-square, or of an F when the error has degrees of freedom.
pub(crate) fn tail(statistic: f64, df: f64, denominator: Option<f64>) -> f64 {
    match denominator {
        None => chi_squared::sf(statistic, df),
        Some(denominator) => fisher_f::sf(statistic, df, denominator),
    }
}
