//! Generalised Cochran-Mantel-Haenszel tests of r x c tables in strata.

use serde::{Deserialize, Serialize};

use super::strata::Strata;
use crate::counts::tables::chi_square_result;
use crate::error::{CountError, Result};
use crate::estimate::{TestName, TestResult};
use crate::math::dense::{Qr, dot};

/// A direction is taken as a combination of earlier ones when less than this share of its length is left.
const DEPENDENT: f64 = 1e-10;

/// The three tests, from the widest alternative to the narrowest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Generalised {
    /// Any association; (rows - 1)(columns - 1) degrees of freedom.
    pub general: TestResult,
    /// Row means of the column scores differ; rows - 1 degrees of freedom.
    pub mean_scores: TestResult,
    /// Row and column scores are correlated; 1 degree of freedom.
    pub correlation: TestResult,
}

/// Generalised Cochran-Mantel-Haenszel tests, adding up over strata what tables of equal margins would not show by chance.
///
/// Per stratum the counts n have mean `m = row total x column total / N` and covariance `(N diag(r) - r r') kron
/// (N diag(c) - c c') / (N^2 (N - 1))`; with score matrices A the statistic is `d' V^- d`, `d = sum A (n - m)`, `V = sum A
/// cov A'`. Degrees of freedom are the rank of V, fewer than usual when a row or column has no plant in any informative
/// stratum. Scores default to 1, 2, 3, ... The plants are taken as independent given their stratum.
///
/// # Errors
/// [`CountError::UnmatchedList`]; [`CountError::NotDefined`] when all scores of a side are the same.
///
/// # References
/// Landis, Heyman & Koch 1978, Int. Stat. Rev. 46:237-254; Agresti 2002, section 7.5.3.
pub fn generalised(strata: &Strata, row_scores: Option<&[f64]>, column_scores: Option<&[f64]>) -> Result<Generalised> {
    let rows = strata.tables().first().map_or(0, Vec::len);
    let columns = strata.tables().first().and_then(|table| table.first()).map_or(0, Vec::len);
    let row_scores = scores(row_scores, rows, "rows")?;
    let column_scores = scores(column_scores, columns, "columns")?;
    // All rows but the last: the last follows from the margins.
    let each = |count: usize| -> Vec<Vec<f64>> {
        (0..count - 1).map(|at| (0..count).map(|k| f64::from(u8::from(k == at))).collect()).collect()
    };
    let test = |name: TestName, left: &[Vec<f64>], right: &[Vec<f64>]| quadratic_form(name, strata, left, right);
    Ok(Generalised {
        general: test(TestName::GeneralAssociation, &each(rows), &each(columns)),
        mean_scores: test(TestName::MeanScores, &each(rows), std::slice::from_ref(&column_scores)),
        correlation: test(TestName::Correlation, &[row_scores], &[column_scores]),
    })
}

fn scores(given: Option<&[f64]>, count: usize, axis: &'static str) -> Result<Vec<f64>> {
    let Some(scores) = given else { return Ok((1..=count).map(|score| score as f64).collect()) };
    if scores.len() != count {
        return Err(CountError::UnmatchedList { what: "scores", found: scores.len(), of: axis, expected: count }.into());
    }
    crate::counts::trend::check_scores(scores)?;
    Ok(crate::counts::trend::scaled(scores))
}

/// The statistic for all products of a row contrast and a column contrast.
fn quadratic_form(name: TestName, strata: &Strata, left: &[Vec<f64>], right: &[Vec<f64>]) -> TestResult {
    let size = left.len() * right.len();
    let mut off = vec![0.0; size];
    let mut covariance = vec![vec![0.0; size]; size];
    for table in strata.tables() {
        let cells: Vec<Vec<f64>> = table.iter().map(|row| row.iter().map(|n| *n as f64).collect()).collect();
        let row_totals: Vec<f64> = cells.iter().map(|row| row.iter().sum()).collect();
        let width = cells.first().map_or(0, Vec::len);
        let column_totals: Vec<f64> = (0..width).map(|at| cells.iter().filter_map(|row| row.get(at)).sum()).collect();
        let total: f64 = row_totals.iter().sum();
        if total < 2.0 {
            continue;
        }
        // Score sums, their means given the margins, and the two factors of their covariance.
        let pairs = || left.iter().flat_map(|u| right.iter().map(move |v| (u, v)));
        for (sum, (u, v)) in off.iter_mut().zip(pairs()) {
            let seen: f64 = cells.iter().zip(u).map(|(row, u)| u * dot(row, v)).sum();
            *sum += seen - dot(&row_totals, u) * dot(&column_totals, v) / total;
        }
        let (by_row, by_column) = (spreads(left, &row_totals, total), spreads(right, &column_totals, total));
        let factors = |i: usize, j: usize| -> f64 {
            let at = |spreads: &[Vec<f64>], i: usize, j: usize| spreads.get(i).and_then(|row| row.get(j)).copied();
            let width = right.len();
            at(&by_row, i / width, j / width).unwrap_or(0.0) * at(&by_column, i % width, j % width).unwrap_or(0.0)
        };
        for (i, row) in covariance.iter_mut().enumerate() {
            for (j, value) in row.iter_mut().enumerate() {
                *value += factors(i, j) / (total - 1.0);
            }
        }
    }
    let (statistic, rank) = solve(&covariance, &off);
    chi_square_result(name, statistic, rank)
}

/// `sum t u v - (sum t u)(sum t v) / N` for all pairs of contrasts; over rows and columns their product over N - 1 is the
/// covariance.
fn spreads(contrasts: &[Vec<f64>], totals: &[f64], total: f64) -> Vec<Vec<f64>> {
    let means: Vec<f64> = contrasts.iter().map(|u| dot(u, totals) / total).collect();
    contrasts
        .iter()
        .zip(&means)
        .map(|(u, mean_u)| {
            contrasts
                .iter()
                .zip(&means)
                .map(|(v, mean_v)| u.iter().zip(v).zip(totals).map(|((u, v), t)| t * (u - mean_u) * (v - mean_v)).sum())
                .collect()
        })
        .collect()
}

/// `d' V^- d` and the rank of V.
fn solve(covariance: &[Vec<f64>], off: &[f64]) -> (f64, f64) {
    let qr = Qr::new(covariance, DEPENDENT);
    let solved = qr.solve_upper(&qr.project(off));
    let statistic: f64 = qr.kept.iter().zip(&solved).filter_map(|(at, x)| off.get(*at).map(|d| d * x)).sum();
    (statistic.max(0.0), qr.rank() as f64)
}
