//! Tests of equal take rates on independent cuttings.

use crate::counts::{ContingencyTable, chi_square};
use crate::error::{CountError, Result};
use crate::estimate::{Count, TestName, TestResult};

/// Score test of equal rates, the same as Pearson's chi-square without correction (1 degree of freedom).
///
/// When none or all of the cuttings rooted in both groups nothing can differ: statistic 0, P = 1.
///
/// # Errors
/// [`CountError`] for impossible counts.
///
/// # References
/// Pearson 1900, Phil. Mag. 50:157-175.
///
/// ```
/// use rootling::{Count, counts::score_test};
/// let test = score_test(Count { rooted: 156, stuck: 240 }, Count { rooted: 84, stuck: 240 })?;
/// approx::assert_relative_eq!(test.statistic.unwrap(), 43.2, epsilon = 0.0, max_relative = 2.3e-14);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn score_test(first: Count, second: Count) -> Result<TestResult> {
    let found = table(first, second)?.map(|table| chi_square(&table)).transpose()?;
    Ok(named(TestName::Score, found.map(|tests| tests.pearson)))
}

/// Likelihood ratio test of equal rates (1 degree of freedom).
///
/// When none or all of the cuttings rooted in both groups nothing can differ: statistic 0, P = 1.
///
/// # Errors
/// [`CountError`] for impossible counts.
///
/// # References
/// Wilks 1938, Ann. Math. Stat. 9:60-62.
///
/// ```
/// use rootling::{Count, counts::likelihood_ratio_test};
/// let test = likelihood_ratio_test(Count { rooted: 10, stuck: 10 }, Count { rooted: 9, stuck: 9 })?;
/// assert_eq!(test.p, 1.0);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn likelihood_ratio_test(first: Count, second: Count) -> Result<TestResult> {
    let found = table(first, second)?.map(|table| chi_square(&table)).transpose()?;
    Ok(named(TestName::LikelihoodRatio, found.map(|tests| tests.likelihood_ratio)))
}

/// The 2 x 2 table, or `None` when a column would be empty.
fn table(first: Count, second: Count) -> Result<Option<ContingencyTable>> {
    first.check()?;
    second.check()?;
    let cells = vec![vec![first.rooted, first.not_rooted()], vec![second.rooted, second.not_rooted()]];
    match ContingencyTable::new(cells) {
        Ok(table) => Ok(Some(table)),
        Err(crate::Error::Count(CountError::EmptyMargin { .. })) => Ok(None),
        Err(error) => Err(error),
    }
}

fn named(method: TestName, found: Option<TestResult>) -> TestResult {
    let same = || TestResult { method, statistic: Some(0.0), df: Some(1.0), error_df: None, p: 1.0 };
    TestResult { method, ..found.unwrap_or_else(same) }
}
