//! Are the odds ratios of the strata alike?

use serde::{Deserialize, Serialize};

use super::strata::{FourCells, is_informative};
use crate::counts::tables::chi_square_result;
use crate::estimate::{TestName, TestResult};

/// Tests that all strata have the same odds ratio, on strata less 1 degrees of freedom.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Homogeneity {
    /// Informative strata.
    pub strata: u64,
    /// Breslow and Day's test.
    pub breslow_day: TestResult,
    /// The same with Tarone's correction, which makes it efficient; the one to report.
    pub tarone: TestResult,
    /// Woolf's test on log odds ratios; `None` when a cell is 0.
    pub woolf: Option<TestResult>,
}

/// Breslow and Day's test with and without Tarone's correction, and Woolf's, of 2 x 2 tables `[a, b, c, d]`, given the common
/// (Mantel-Haenszel) odds ratio.
///
/// With A the count that stratum would have at the common odds ratio and V its variance: `sum (a - A)^2 / V`, corrected by
/// `(sum (a - A))^2 / sum V`. `None` with fewer than two informative strata or a common odds ratio of 0 or infinity. Not for
/// sparse strata: with expected counts below 5 the chi-square law does not hold.
///
/// # References
/// Breslow & Day 1980, Statistical Methods in Cancer Research 1, section 4.4; Tarone 1985, Biometrika 72:91-95; Woolf 1955,
/// Ann. Hum. Genet. 19:251-253.
#[must_use]
pub fn homogeneity(tables: &[FourCells], odds_ratio: f64) -> Option<Homogeneity> {
    let used: Vec<FourCells> = tables.iter().copied().filter(|table| is_informative(*table)).collect();
    if used.len() < 2 || !(odds_ratio > 0.0 && odds_ratio.is_finite()) {
        return None;
    }
    let df = used.len() as f64 - 1.0;
    let (mut statistic, mut off, mut spread) = (0.0, 0.0, 0.0);
    for table in &used {
        let (fitted, variance) = fitted(*table, odds_ratio);
        let [a, ..] = table;
        statistic += (a - fitted).powi(2) / variance;
        off += a - fitted;
        spread += variance;
    }
    Some(Homogeneity {
        strata: used.len() as u64,
        breslow_day: chi_square_result(TestName::BreslowDay, statistic, df),
        tarone: chi_square_result(TestName::BreslowDayTarone, (statistic - off * off / spread).max(0.0), df),
        woolf: woolf(&used, df),
    })
}

/// The first cell with the same margins and the given odds ratio, and its asymptotic variance.
fn fitted([a, b, c, d]: FourCells, odds_ratio: f64) -> (f64, f64) {
    let (first, second, rooted) = (a + b, c + d, a + c);
    // (1 - w) A^2 + (second - rooted + w (first + rooted)) A - w first rooted = 0, the root within the margins, in the form
    // that does not cancel.
    let half = 0.5 * (second - rooted + odds_ratio * (first + rooted));
    let constant = odds_ratio * first * rooted;
    let root = (half * half + (1.0 - odds_ratio) * constant).max(0.0).sqrt();
    let cell = constant / (half + root);
    let cells = [cell, first - cell, rooted - cell, second - rooted + cell];
    (cell, 1.0 / cells.iter().map(|x| 1.0 / x).sum::<f64>())
}

fn woolf(tables: &[FourCells], df: f64) -> Option<TestResult> {
    if tables.iter().flatten().any(|count| *count <= 0.0) {
        return None;
    }
    let pairs: Vec<(f64, f64)> = tables
        .iter()
        .map(|[a, b, c, d]| ((a / b).ln() + (d / c).ln(), 1.0 / (1.0 / a + 1.0 / b + 1.0 / c + 1.0 / d)))
        .collect();
    let weight: f64 = pairs.iter().map(|pair| pair.1).sum();
    let mean = pairs.iter().map(|(value, weight)| value * weight).sum::<f64>() / weight;
    let statistic = pairs.iter().map(|(value, weight)| weight * (value - mean).powi(2)).sum();
    Some(chi_square_result(TestName::Woolf, statistic, df))
}
