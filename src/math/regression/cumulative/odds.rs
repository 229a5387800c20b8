//! Whether one slope serves all cuts.

use super::fit::Cumulative;
use super::rows::GradeRows;
use super::score::HeldScore;
use super::sums::{Layout, Of, Sums};
use crate::error::{NumericError, Result};
use crate::math::dense::{Cholesky, dot};

/// What slopes that differ by cut would change, for some columns together.
#[derive(Debug, Clone, PartialEq)]
pub struct SlopesByCut {
    /// The score and its variance.
    pub held: HeldScore,
    /// `U' V^-1 U`.
    pub statistic: f64,
    /// Slopes more than one for all cuts.
    pub df: usize,
}

/// The score test that the slopes of some columns are the same at every cut: `U' V^-1 U` of what each has more at the second and later cuts, at the
/// fit of one slope. On single cuttings it is compared with chi-square.
///
/// # Errors
/// Where the fit does not settle; where there are two grades, hence one cut.
///
/// # References
/// Peterson and Harrell (1990), Applied Statistics 39:205-217; Brant (1990), Biometrics 46:1171-1178, on what it asks.
///
/// ```
/// use rootling::math::regression::{GradeRows, proportional_odds};
/// // Odds of a better grade are doubled at both cuts: nothing speaks against one slope.
/// let rows = GradeRows::new(1, 3, vec![vec![], vec![(0, 1.0)]], vec![40.0, 40.0, 40.0, 30.0, 40.0, 70.0])?;
/// let found = proportional_odds(&rows, &[0])?;
/// assert!(found.statistic < 1.0 && found.df == 1);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn proportional_odds(rows: &GradeRows, columns: &[usize]) -> Result<SlopesByCut> {
    if rows.grades() < 3 || columns.is_empty() {
        return Err(NumericError::NoVariance { row: 0 }.into());
    }
    let plain = Cumulative { rows, partial: &[] };
    let fit = plain.fit().or_else(|_| plain.fit_steadied())?;
    let layout = Layout::of(rows, columns);
    let mut theta = [fit.cuts, fit.slopes].concat();
    let known = theta.len();
    theta.resize(layout.size(), 0.0);
    let lost = || NumericError::NotConverged { routine: "the test of one slope", iterations: fit.iterations };
    let sums = Sums::at(rows, layout, &theta, Of::Expected).ok_or_else(lost)?;
    let upper = |line: &Vec<f64>| line.iter().take(known).copied().collect::<Vec<f64>>();
    let corner: Vec<Vec<f64>> = sums.information.iter().take(known).map(upper).collect();
    let root = Cholesky::new(&corner).ok_or_else(lost)?;
    let tested: Vec<&Vec<f64>> = sums.information.iter().skip(known).collect();
    let cross: Vec<Vec<f64>> = tested.iter().map(|line| upper(line)).collect();
    let pulled: Vec<Vec<f64>> = cross.iter().map(|line| root.solve(line)).collect();
    let line = |(own, cross): (&&Vec<f64>, &Vec<f64>)| -> Vec<f64> {
        own.iter().skip(known).zip(&pulled).map(|(own, pulled)| own - dot(cross, pulled)).collect()
    };
    let variance = tested.iter().zip(&cross).map(line).collect();
    let mut score: Vec<f64> = sums.slopes.iter().skip(known).copied().collect();
    // A steadied fit leaves slopes of its own, which are taken out as far as those tested follow them.
    let rest: Vec<f64> = sums.slopes.iter().take(known).copied().collect();
    score.iter_mut().zip(&pulled).for_each(|(score, pulled)| *score -= dot(pulled, &rest));
    let held = HeldScore { score, variance };
    let (statistic, df) = held.statistic();
    Ok(SlopesByCut { held, statistic, df })
}
