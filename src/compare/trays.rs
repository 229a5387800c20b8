//! Two arms of trays: t tests on tray rates.

use serde::{Deserialize, Serialize};

use crate::compare::permutation::Stratum;
use crate::math::distributions::student_t;

/// A t test on tray rates; the difference is second minus first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrayTest {
    /// Difference of the mean tray rates.
    pub difference: f64,
    /// t statistic.
    pub statistic: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Two-sided P value.
    pub p: f64,
    /// Lower limit of the difference.
    pub low: f64,
    /// Upper limit of the difference.
    pub high: f64,
}

fn moments(rates: &[f64]) -> (f64, f64, f64) {
    let n = rates.len() as f64;
    let mean = rates.iter().sum::<f64>() / n;
    let squares: f64 = rates.iter().map(|rate| (rate - mean).powi(2)).sum();
    (n, mean, squares)
}

fn t_test(difference: f64, se: f64, df: f64, level: f64) -> Option<TrayTest> {
    if !(se > 0.0 && df >= 1.0) {
        return None;
    }
    let statistic = difference / se;
    let half = student_t::quantile(f64::midpoint(1.0, level), df) * se;
    Some(TrayTest {
        difference,
        statistic,
        df,
        p: student_t::two_sided(statistic, df),
        low: difference - half,
        high: difference + half,
    })
}

/// Student's t test with pooled variance; `None` with fewer than two trays in all arms together beyond one each, or no spread.
///
/// # References
/// Donner A, Klar N (2000), chapter 6.
///
/// ```
/// let found = rootling::compare::pooled_t(&[0.2, 0.3, 0.4], &[0.5, 0.7, 0.6], 0.95).map(|test| test.df);
/// assert_eq!(found, Some(4.0));
/// ```
#[must_use]
pub fn pooled_t(first: &[f64], second: &[f64], level: f64) -> Option<TrayTest> {
    let ((n1, mean1, squares1), (n2, mean2, squares2)) = (moments(first), moments(second));
    let df = n1 + n2 - 2.0;
    let variance = (squares1 + squares2) / df;
    t_test(mean2 - mean1, (variance * (1.0 / n1 + 1.0 / n2)).sqrt(), df, level)
}

/// t test on tray rates within strata (blocks, other treatments), with one spread for all: the least-squares fit of additive
/// strata and arms. With one stratum it is [`pooled_t`], with pairs the paired t test.
///
/// With `d_s` the difference in stratum `s` and `w_s = n1 n2 / (n1 + n2)`: `d = sum(w d) / sum(w)`, residual sum of squares
/// = spread within arms of strata + `sum(w (d_s - d)^2)`, df = trays - strata - 1. `None` without residual spread.
///
/// # References
/// Searle SR (1971), Linear Models, Wiley, chapter 7 (two-way classification without interaction); from memory.
#[must_use]
pub fn stratified_t(strata: &[Stratum], level: f64) -> Option<TrayTest> {
    let (mut weight, mut weighted, mut squares, mut trays) = (0.0, 0.0, 0.0, 0.0);
    let mut gaps = Vec::new();
    for stratum in strata {
        let arm = |second: bool| -> Vec<f64> {
            stratum
                .rates
                .iter()
                .zip(&stratum.second)
                .filter(|(_, side)| **side == second)
                .map(|(rate, _)| *rate)
                .collect()
        };
        let (first, second) = (arm(false), arm(true));
        trays += (first.len() + second.len()) as f64;
        let spread = |rates: &[f64]| if rates.is_empty() { 0.0 } else { moments(rates).2 };
        squares += spread(&first) + spread(&second);
        if !first.is_empty() && !second.is_empty() {
            let ((n1, mean1, _), (n2, mean2, _)) = (moments(&first), moments(&second));
            let share = n1 * n2 / (n1 + n2);
            weight += share;
            weighted += share * (mean2 - mean1);
            gaps.push((share, mean2 - mean1));
        }
    }
    let difference = weighted / weight;
    squares += gaps.iter().map(|(share, gap)| share * (gap - difference).powi(2)).sum::<f64>();
    let df = trays - strata.len() as f64 - 1.0;
    // Rounding leaves a trace where every tray fits exactly.
    if squares < 1e-20 { None } else { t_test(difference, (squares / df / weight).sqrt(), df, level) }
}

/// Welch's t test, whose arms may spread unequally.
///
/// # References
/// Welch BL (1947), Biometrika 34:28-35.
#[must_use]
pub fn welch_t(first: &[f64], second: &[f64], level: f64) -> Option<TrayTest> {
    let ((n1, mean1, squares1), (n2, mean2, squares2)) = (moments(first), moments(second));
    let (part1, part2) = (squares1 / (n1 - 1.0) / n1, squares2 / (n2 - 1.0) / n2);
    let df = (part1 + part2).powi(2) / (part1.powi(2) / (n1 - 1.0) + part2.powi(2) / (n2 - 1.0));
    t_test(mean2 - mean1, (part1 + part2).sqrt(), df, level)
}
