//! Chi-square tests of association.

use ndarray::Array2;
use serde::{Deserialize, Serialize};

use super::ContingencyTable;
use crate::error::Result;
use crate::estimate::{TestName, TestResult};
use crate::math::distributions::chi_squared;

/// Tests of association with what is needed to read them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ChiSquare {
    /// Pearson's test.
    pub pearson: TestResult,
    /// The same with Yates' continuity correction, for 2 x 2 tables.
    pub corrected: Option<TestResult>,
    /// Likelihood ratio test.
    pub likelihood_ratio: TestResult,
    /// Counts expected without association.
    #[serde(with = "crate::math::dense::rows")]
    #[cfg_attr(test, schemars(with = "Vec<Vec<f64>>"))]
    pub expected: Array2<f64>,
    /// Adjusted standardised residuals: near standard normal without association.
    #[serde(with = "crate::math::dense::rows")]
    #[cfg_attr(test, schemars(with = "Vec<Vec<f64>>"))]
    pub residuals: Array2<f64>,
    /// The smallest expected count; below 5 an exact test is safer.
    pub smallest_expected: f64,
}

/// Chi-square tests of an r x c table with `(r - 1)(c - 1)` degrees of freedom.
///
/// With observed O and expected E = row total x column total / N: Pearson `sum (O - E)^2 / E`, corrected
/// `sum (|O - E| - min(1/2, |O - E|))^2 / E`, likelihood ratio `2 sum O ln(O / E)`. Residuals are
/// `(O - E) / sqrt(E (1 - row share)(1 - column share))`. Where one column holds everything all statistics are 0 and P is 1. The plants are taken as independent; do not use it on cuttings
/// that share trays.
///
/// # Errors
/// None for a checked table; the result type leaves room for tables that cannot be tested.
///
/// # References
/// Pearson 1900, Phil. Mag. 50:157-175; Yates 1934, J. R. Stat. Soc. Suppl. 1:217-235; Haberman 1973, Biometrics 29:205-220.
///
/// ```
/// use rootling::counts::{ContingencyTable, chi_square};
/// let table = ContingencyTable::new(vec![vec![156, 84], vec![84, 156]])?;
/// approx::assert_relative_eq!(chi_square(&table)?.pearson.statistic.unwrap(), 43.2, epsilon = 0.0, max_relative = 2.3e-14);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn chi_square(table: &ContingencyTable) -> Result<ChiSquare> {
    let total = table.total() as f64;
    let (mut pearson, mut corrected, mut ratio) = (0.0, 0.0, 0.0);
    let mut smallest_expected = f64::INFINITY;
    let size = (table.row_totals().len(), table.column_totals().len());
    let (mut expected, mut residuals) = (Array2::zeros(size), Array2::zeros(size));
    let places = expected.rows_mut().into_iter().zip(residuals.rows_mut());
    for ((row, row_total), (mut means, mut offs)) in table.cells().iter().zip(table.row_totals()).zip(places) {
        let row_total = *row_total as f64;
        let places = means.iter_mut().zip(&mut offs);
        for ((count, column_total), (expected, residual)) in row.iter().zip(table.column_totals()).zip(places) {
            let (count, column_total) = (*count as f64, *column_total as f64);
            let mean = row_total * column_total / total;
            let off = count - mean;
            let kept = (off.abs() - 0.5).max(0.0);
            // In an empty column nothing is off.
            if mean > 0.0 {
                pearson += off * off / mean;
                corrected += kept * kept / mean;
                ratio += excess_information(count, mean);
                smallest_expected = smallest_expected.min(mean);
            }
            let spread = mean * (1.0 - row_total / total) * (1.0 - column_total / total);
            *expected = mean;
            *residual = if spread > 0.0 { off / spread.sqrt() } else { 0.0 };
        }
    }
    let df = ((size.0 - 1) * (size.1 - 1)) as f64;
    let corrected = table.four_cells().map(|_| chi_square_result(TestName::PearsonCorrected, corrected, df));
    Ok(ChiSquare {
        pearson: chi_square_result(TestName::Pearson, pearson, df),
        corrected,
        likelihood_ratio: chi_square_result(TestName::LikelihoodRatio, ratio, df),
        expected,
        residuals,
        smallest_expected,
    })
}

/// `2 (O ln(O / E) - (O - E))`, never negative; its sum over a table is the likelihood ratio statistic.
pub(super) fn excess_information(count: f64, mean: f64) -> f64 {
    if count <= 0.0 {
        return 2.0 * mean;
    }
    let off = (count - mean) / mean;
    let log_ratio = if off.abs() < 0.5 { off.ln_1p() } else { (count / mean).ln() };
    (2.0 * (count * log_ratio - (count - mean))).max(0.0)
}

/// A chi-square statistic with its P value.
pub(crate) fn chi_square_result(method: TestName, statistic: f64, df: f64) -> TestResult {
    TestResult { method, statistic: Some(statistic), df: Some(df), error_df: None, p: chi_squared::sf(statistic, df) }
}
