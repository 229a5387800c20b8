//! Common effects of 2 x 2 tables.

use serde::{Deserialize, Serialize};

use super::strata::{FourCells, is_informative};
use crate::choice::choice;
use crate::counts::tables::chi_square_result;
use crate::error::Result;
use crate::estimate::{Estimate, TestName, TestResult, check_level};
use crate::math::distributions::normal;

/// How a measure common to all strata gets its limits; all are those of Mantel and Haenszel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CommonMethod {
    /// Odds ratio, by Robins, Breslow and Greenland.
    RobinsBreslowGreenland,
    /// Ratio, by Greenland and Robins.
    GreenlandRobins,
    /// Difference, by Sato.
    Sato,
}

choice!(
    CommonMethod, "method of a common measure":
    RobinsBreslowGreenland = "mantel-haenszel, robins-breslow-greenland",
    GreenlandRobins = "mantel-haenszel, greenland-robins",
    Sato = "mantel-haenszel, sato",
);

/// Tests and estimates of a common effect of the rows on the first column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MantelHaenszel {
    /// Cochran-Mantel-Haenszel chi-square without continuity correction, 1 degree of freedom.
    pub test: TestResult,
    /// The same with a correction of 1/2, never beyond a difference of 0.
    pub corrected: TestResult,
    /// Mantel-Haenszel odds ratio, second row over first, limits by the variance of Robins, Breslow and Greenland (that of its logarithm).
    pub odds_ratio: Estimate<CommonMethod>,
    /// Mantel-Haenszel ratio of rates, second row over first, limits by the variance of Greenland and Robins (of its logarithm).
    pub ratio: Estimate<CommonMethod>,
    /// Mantel-Haenszel difference of rates, second row minus first, limits by Sato's variance.
    pub difference: Estimate<CommonMethod>,
    /// Standard error of the difference by Greenland and Robins, for comparison.
    pub difference_std_error_greenland_robins: f64,
}

fn sum(tables: &[FourCells], of: impl Fn(FourCells) -> f64) -> f64 {
    tables.iter().map(|table| of(*table)).sum()
}

fn size([a, b, c, d]: FourCells) -> f64 {
    a + b + c + d
}

/// Mantel-Haenszel analysis of 2 x 2 tables `[a, b, c, d]`, one per stratum: row `a b` against row `c d`.
///
/// With N the total of a stratum, `odds ratio = sum(a d / N) / sum(b c / N)`,
/// `ratio = sum(a (c + d) / N) / sum(c (a + b) / N)`, `difference = sum((a (c + d) - c (a + b)) / N) / sum((a + b)(c + d) / N)`;
/// the test compares `sum a` with its mean and variance given all margins. An odds ratio or ratio of 0 or infinity has no
/// interval from these variances: its limits are 0 and infinity; use the exact conditional ones.
///
/// # Errors
/// [`CountError::Level`](crate::error::CountError::Level).
///
/// # References
/// Mantel & Haenszel 1959; Robins, Breslow & Greenland 1986, Biometrics 42:311-323; Greenland & Robins 1985, Biometrics
/// 41:55-68; Sato 1989, Biometrics 45:1323-1324.
pub fn mantel_haenszel(tables: &[FourCells], level: f64) -> Result<MantelHaenszel> {
    check_level(level)?;
    let used: Vec<FourCells> = tables.iter().copied().filter(|table| is_informative(*table)).collect();
    let paired: Vec<FourCells> = tables.iter().copied().filter(|[a, b, c, d]| a + b > 0.0 && c + d > 0.0).collect();
    let off = sum(&used, |[a, b, c, d]| a - (a + b) * (a + c) / (a + b + c + d));
    let variance = sum(&used, |[a, b, c, d]| {
        let n = a + b + c + d;
        (a + b) / n * (c + d) / n * (a + c) * (b + d) / (n - 1.0)
    });
    let kept = (off.abs() - 0.5).max(0.0);
    let z = normal::isf(0.5 * (1.0 - level));
    Ok(MantelHaenszel {
        test: chi_square_result(TestName::CochranMantelHaenszel, off * off / variance, 1.0),
        corrected: chi_square_result(TestName::CochranMantelHaenszelCorrected, kept * kept / variance, 1.0),
        odds_ratio: odds_ratio(&used, z, level),
        ratio: ratio(&paired, z, level),
        difference: difference(&paired, z, level),
        difference_std_error_greenland_robins: greenland_robins(&paired),
    })
}

/// A ratio with limits on its logarithm; without them at 0 and infinity.
fn on_log_scale(value: f64, se: f64, z: f64, level: f64, method: CommonMethod) -> Estimate<CommonMethod> {
    let known = value > 0.0 && value.is_finite();
    Estimate {
        value,
        se: known.then_some(se),
        low: if known { value * (-z * se).exp() } else { 0.0 },
        high: if known { value * (z * se).exp() } else { f64::INFINITY },
        confidence: level,
        method,
    }
}

fn odds_ratio(tables: &[FourCells], z: f64, level: f64) -> Estimate<CommonMethod> {
    let up = |[a, b, c, d]: FourCells| a * d / size([a, b, c, d]);
    let down = |[a, b, c, d]: FourCells| b * c / size([a, b, c, d]);
    let same = |[a, b, c, d]: FourCells| (a + d) / size([a, b, c, d]);
    let (above, below) = (sum(tables, up), sum(tables, down));
    let variance = sum(tables, |t| same(t) * up(t)) / (2.0 * above * above)
        + sum(tables, |t| same(t) * down(t) + (1.0 - same(t)) * up(t)) / (2.0 * above * below)
        + sum(tables, |t| (1.0 - same(t)) * down(t)) / (2.0 * below * below);
    on_log_scale(above / below, variance.sqrt(), z, level, CommonMethod::RobinsBreslowGreenland)
}

fn ratio(tables: &[FourCells], z: f64, level: f64) -> Estimate<CommonMethod> {
    let above = sum(tables, |t @ [a, _, c, d]| a * (c + d) / size(t));
    let below = sum(tables, |t @ [a, b, c, _]| c * (a + b) / size(t));
    let spread = sum(tables, |t @ [a, b, c, d]| {
        let n = size(t);
        (a + b) / n * (c + d) / n * (a + c) - a * c / n
    });
    on_log_scale(above / below, (spread / (above * below)).sqrt(), z, level, CommonMethod::GreenlandRobins)
}

fn weight(t @ [a, b, c, d]: FourCells) -> f64 {
    (a + b) * (c + d) / size(t)
}

fn difference(tables: &[FourCells], z: f64, level: f64) -> Estimate<CommonMethod> {
    let weights = sum(tables, weight);
    let value = sum(tables, |t @ [a, b, c, d]| (a * (c + d) - c * (a + b)) / size(t)) / weights;
    let slope = sum(tables, |t @ [a, b, c, d]| {
        let (n1, n2, n) = (a + b, c + d, size(t));
        c * (n1 / n).powi(2) - a * (n2 / n).powi(2) + n1 / n * (n2 / n) * (n2 - n1) / 2.0
    });
    let start = sum(tables, |t @ [a, b, c, d]| (a * d + c * b) / (2.0 * size(t)));
    let se = ((value * slope + start).max(0.0)).sqrt() / weights;
    Estimate {
        value,
        se: Some(se),
        low: (value - z * se).max(-1.0),
        high: (value + z * se).min(1.0),
        confidence: level,
        method: CommonMethod::Sato,
    }
}

fn greenland_robins(tables: &[FourCells]) -> f64 {
    let spread = sum(tables, |t @ [a, b, c, d]| {
        let (n1, n2, n) = (a + b, c + d, size(t));
        (a * b * n2.powi(3) + c * d * n1.powi(3)) / (n1 * n2 * n * n)
    });
    spread.sqrt() / sum(tables, weight)
}
