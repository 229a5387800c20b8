//! Two ordered factors: does a high score of one go with a high score of the other?

use serde::{Deserialize, Serialize};

use super::exact::{TrendExact, exact};
use super::groups::{Groups, check_scores, scaled};
use crate::control::Control;
use crate::counts::exact::{ExactOptions, Exactness, count_tables, drawn_p};
use crate::counts::tables::ContingencyTable;
use crate::error::{CountError, Result};
use crate::estimate::{TestName, TestResult};
use crate::math::distributions::chi_squared;

/// Linear association of two ordered factors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LinearByLinear {
    /// Correlation of the scores.
    pub correlation: f64,
    /// `(N - 1) r^2`, 1 degree of freedom.
    pub asymptotic: TestResult,
    /// P over the tables with the same margins: by convolution when one factor has two levels (its two-sided P is then by
    /// distance, like the chi-square), else over random tables.
    pub p: f64,
    /// "exact" or "drawn".
    pub method: Exactness,
    /// Standard error of a drawn P.
    pub se: Option<f64>,
    /// Tables drawn.
    pub draws: Option<u64>,
    /// Seed of the draws.
    pub seed: Option<u64>,
}

/// Test of linear-by-linear association: with r the correlation of row scores and column scores over the N plants, `(N - 1) r^2`
/// is about chi-squared with 1 degree of freedom; beside it stands P over all tables with the same margins whose correlation
/// is at least as far from 0.
///
/// The plants are taken as independent. Do not use it for factors without an order.
///
/// # Errors
/// [`CountError::UnmatchedList`], [`CountError::NotDefined`] when all scores of a side are the same;
/// [`Error::Interrupted`](crate::Error) when the control was stopped.
///
/// # References
/// Mantel 1963, J. Am. Stat. Assoc. 58:690-700; Agresti 2002, section 3.4.
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{ContingencyTable, ExactOptions, linear_by_linear};
/// let table = ContingencyTable::new(vec![vec![9, 1], vec![8, 2], vec![6, 4], vec![3, 7]])?;
/// let found = linear_by_linear(&table, &[0.0, 1.0, 2.0, 3.0], &[0.0, 1.0], ExactOptions::default(), &Control::new())?;
/// approx::assert_relative_eq!(found.p, 0.004_327_139_81, epsilon = 0.0, max_relative = 2.3e-7);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn linear_by_linear(
    table: &ContingencyTable,
    row_scores: &[f64],
    column_scores: &[f64],
    options: ExactOptions,
    control: &Control,
) -> Result<LinearByLinear> {
    let options = options.check()?;
    let (rows, columns) = (table.row_totals(), table.column_totals());
    check_both(table, row_scores, column_scores)?;
    if table.is_fixed() {
        return Ok(nothing_to_go_with());
    }
    let (u, v) = (centred(row_scores, rows), centred(column_scores, columns));
    let spread = |scores: &[f64], totals: &[u64]| -> f64 {
        scores.iter().zip(totals).map(|(score, total)| score * score * *total as f64).sum()
    };
    let scale = (spread(&u, rows) * spread(&v, columns)).sqrt();
    let product = |cells: &mut dyn Iterator<Item = (f64, u64)>| -> f64 {
        cells.map(|(weight, count)| weight * count as f64).sum()
    };
    let observed = product(
        &mut table.cells().iter().zip(&u).flat_map(|(row, u)| row.iter().zip(&v).map(move |(n, v)| (u * v, *n))),
    );
    let correlation = observed / scale;
    let statistic = (table.total() as f64 - 1.0) * correlation * correlation;
    let asymptotic = TestResult {
        method: TestName::LinearByLinear,
        statistic: Some(statistic),
        df: Some(1.0),
        error_df: None,
        p: chi_squared::sf(statistic, 1.0),
    };
    if let Some(found) = two_levels(table, row_scores, column_scores, options, control)? {
        let TrendExact { by_distance, method, se, draws, seed, .. } = found;
        return Ok(LinearByLinear { correlation, asymptotic, p: by_distance, method, se, draws, seed });
    }
    let limit = observed.abs() * (1.0 - 1e-9);
    let [hits] = count_tables((rows, columns), options.draws, options.seed, control, |drawn| {
        let mut cells =
            drawn.iter().zip(&v).flat_map(|(column, v)| column.iter().zip(&u).map(move |(n, u)| (u * v, *n)));
        [product(&mut cells).abs() >= limit]
    })?;
    let (p, se) = drawn_p(hits, options.draws);
    Ok(LinearByLinear {
        correlation,
        asymptotic,
        p,
        method: Exactness::Drawn,
        se: Some(se),
        draws: Some(options.draws),
        seed: Some(options.seed),
    })
}

/// One score for each row and column.
fn check_both(table: &ContingencyTable, row_scores: &[f64], column_scores: &[f64]) -> Result<()> {
    let (rows, columns) = (table.row_totals(), table.column_totals());
    for (scores, totals, axis) in [(row_scores, rows, "rows"), (column_scores, columns, "columns")] {
        if scores.len() != totals.len() {
            return Err(CountError::UnmatchedList {
                what: "scores",
                found: scores.len(),
                of: axis,
                expected: totals.len(),
            }
            .into());
        }
        check_scores(scores)?;
    }
    Ok(())
}

/// A single column holds everything: nothing goes with the rows.
fn nothing_to_go_with() -> LinearByLinear {
    LinearByLinear {
        correlation: 0.0,
        asymptotic: TestResult {
            method: TestName::LinearByLinear,
            statistic: Some(0.0),
            df: Some(1.0),
            error_df: None,
            p: 1.0,
        },
        p: 1.0,
        method: Exactness::Exact,
        se: None,
        draws: None,
        seed: None,
    }
}

fn centred(scores: &[f64], totals: &[u64]) -> Vec<f64> {
    let all: f64 = totals.iter().map(|total| *total as f64).sum();
    let scores = scaled(scores);
    let mean = scores.iter().zip(totals).map(|(score, total)| score * *total as f64).sum::<f64>() / all;
    scores.iter().map(|score| score - mean).collect()
}

/// The exact trend test when one side has two levels.
fn two_levels(
    table: &ContingencyTable,
    row_scores: &[f64],
    column_scores: &[f64],
    options: ExactOptions,
    control: &Control,
) -> Result<Option<TrendExact>> {
    let (rooted, stuck, scores): (Vec<u64>, _, _) = if column_scores.len() == 2 {
        let rooted = table.cells().iter().filter_map(|row| row.first().copied()).collect();
        (rooted, table.row_totals(), row_scores)
    } else if row_scores.len() == 2 {
        (table.cells().first().cloned().unwrap_or_default(), table.column_totals(), column_scores)
    } else {
        return Ok(None);
    };
    exact(&Groups::new(&rooted, stuck, scores)?, options, control).map(Some)
}
