//! Tests of slopes where they are held, which need no estimate of them.

use super::fit::Cumulative;
use super::point::{Bends, Point};
use super::rows::GradeRows;
use super::sums::Layout;
use crate::error::{NumericError, Result};
use crate::math::dense::{Cholesky, dot};
use crate::math::design::{Entries, along};

/// The score of what is held: its entries and their variance.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldScore {
    /// Slopes of the log-likelihood.
    pub score: Vec<f64>,
    /// Their variance with cuts and the other slopes fitted.
    pub variance: Vec<Vec<f64>>,
}

impl HeldScore {
    /// `U' V^-1 U` with its degrees of freedom; directions without variance are left out.
    #[must_use]
    pub fn statistic(&self) -> (f64, usize) {
        let kept = crate::math::dense::Eigen::new(&self.variance);
        let inverse = kept.inverse_root(1e-9);
        let turned: Vec<f64> = inverse.iter().map(|row| dot(row, &self.score)).collect();
        let largest = kept.values.iter().copied().fold(0.0, f64::max);
        let df = kept.values.iter().filter(|value| **value > 1e-9 * largest).count();
        (dot(&turned, &turned), df)
    }

    /// `U / sqrt(V)` of a single one.
    #[must_use]
    pub fn signed(&self) -> f64 {
        let variance = self.variance.first().and_then(|row| row.first()).copied().unwrap_or(0.0);
        self.score.first().map_or(0.0, |score| if variance > 0.0 { score / variance.sqrt() } else { 0.0 })
    }
}

/// The score of the slopes of some columns being 0.
///
/// `U = sum z s` with `s` the slope of a row's log-likelihood by a shift of its log odds: for a grade, the share below it less the share above it, so
/// without other columns `U` is a sum of midranks. Its variance is that of the expected information with cuts and the other slopes fitted; as these
/// follow the counts, each row's part is multiplied by `m / (m - h)` with its leverage `h`, as in the score of two grades
/// ([`crate::models`]). Without other columns that is `N / (N - 1)`, and the statistic is Kruskal and Wallis' with ties.
///
/// # Errors
/// Where the fit of the rest does not settle.
///
/// # References
/// `McCullagh` (1980), section 2.6; Rao (1948), Proc. Cambridge Philos. Soc. 44:50-57; Kruskal and Wallis (1952), J. American Statistical Association
/// 47:583-621.
///
/// ```
/// use rootling::math::regression::{GradeRows, columns_score};
/// let rows = GradeRows::new(1, 3, vec![vec![], vec![(0, 1.0)]], vec![5.0, 3.0, 2.0, 1.0, 3.0, 6.0])?;
/// let (statistic, df) = columns_score(&rows, &[0])?.statistic();
/// // Kruskal and Wallis' statistic of these grades: scipy.stats.kruskal of scipy 1.16.
/// approx::assert_relative_eq!(statistic, 4.368707482993193, epsilon = 0.0, max_relative = 1e-9);
/// assert_eq!(df, 1);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn columns_score(rows: &GradeRows, held: &[usize]) -> Result<HeldScore> {
    let kept: Vec<usize> = (0..rows.width()).filter(|column| !held.contains(column)).collect();
    let place = |column: usize| kept.iter().position(|one| *one == column);
    let rest = |x: &Entries| x.iter().filter_map(|(column, value)| Some((place(*column)?, *value))).collect();
    let null = rows.with_columns(kept.len(), rows.iter().map(|(x, ..)| rest(x)).collect());
    let tested: Vec<Vec<f64>> = held.iter().map(|column| rows.column(*column)).collect();
    held_score(&null, &tested, None).map(|(score, _)| score)
}

/// The score of `sum l b = value`, with `l` a number for each column. What raises the variance of a row is that of the score of 0, as for two grades
/// ([`crate::effects`]), so that a limit and the test of 0 rest on the same rows.
///
/// # Errors
/// Where `l` is 0 or the fit under it does not settle.
pub fn combination_score(rows: &GradeRows, l: &[f64], value: f64) -> Result<HeldScore> {
    let largest = l.iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let Some((pivot, by)) = largest.filter(|(_, by)| **by != 0.0) else {
        return Err(NumericError::NoVariance { row: 0 }.into());
    };
    // b_pivot = (value - sum of the others) / l_pivot.
    let turned = |x: &Entries| -> Entries {
        let own = x.iter().find(|(column, _)| *column == pivot).map_or(0.0, |(_, value)| *value);
        if own == 0.0 {
            return x.iter().map(|(column, value)| (column - usize::from(*column > pivot), *value)).collect();
        }
        let others = l.iter().enumerate().filter(|(column, _)| *column != pivot);
        let entry = |(column, c): (usize, &f64)| {
            let had = x.iter().find(|(one, _)| *one == column).map_or(0.0, |(_, value)| *value);
            (column - usize::from(column > pivot), had - c / by * own)
        };
        others.map(entry).filter(|(_, value)| *value != 0.0).collect()
    };
    let tested = [rows.column(pivot).into_iter().map(|own| own / by).collect::<Vec<f64>>()];
    let plain = rows.with_columns(rows.width() - 1, rows.iter().map(|(x, ..)| turned(x)).collect());
    let at = |value: f64| {
        let shift = rows.iter().zip(tested.iter().flatten()).map(|((_, offset, _), z)| offset + value * z).collect();
        plain.clone().with_offset(shift)
    };
    if value == 0.0 {
        return held_score(&at(0.0), &tested, None).map(|(score, _)| score);
    }
    let raised = held_score(&at(0.0), &tested, None).map(|(_, raised)| raised).ok();
    held_score(&at(value), &tested, raised.as_deref()).map(|(score, _)| score)
}

/// By how much the variance of a row of `m` cuttings exceeds the one at its fitted shares, on average.
fn inflation(m: f64, h: f64) -> f64 {
    m / (m - h).max(0.5 * m.min(1.0))
}

/// The score of columns beside a fit without them, and what raises the variance of each row: as given, or by the leverages of this fit.
fn held_score(null: &GradeRows, tested: &[Vec<f64>], raised: Option<&[f64]>) -> Result<(HeldScore, Vec<f64>)> {
    let model = Cumulative { rows: null, partial: &[] };
    // Where a level of the rest holds one end alone the plain fit has no top; the steadied one does.
    let fit = model.fit().or_else(|_| model.fit_steadied())?;
    let theta = [fit.cuts, fit.slopes].concat();
    let layout = Layout::of(null, &[]);
    let lost = || NumericError::NotConverged { routine: "the score of grades", iterations: fit.iterations };
    let parts = Parts::at(null, layout, &theta).ok_or_else(lost)?;
    let root = Cholesky::new(&parts.information).ok_or_else(lost)?;
    let cross: Vec<Vec<f64>> = tested.iter().map(|z| parts.cross(z, layout.size())).collect();
    let pulled: Vec<Vec<f64>> = cross.iter().map(|cross| root.solve(cross)).collect();
    let score = tested.iter().map(|z| dot(z, &parts.scores)).collect();
    let size = tested.len();
    let mut variance = vec![vec![0.0; size]; size];
    let leverages = root.spreads(parts.shifts.iter().map(Vec::as_slice));
    let mut by_row = Vec::with_capacity(parts.rows.len());
    for ((row, part), spread) in parts.rows.iter().enumerate().zip(leverages) {
        let own = if part.all > 0.0 { inflation(part.cuttings, spread / part.all) } else { 1.0 };
        let by = raised.and_then(|raised| raised.get(row).copied()).unwrap_or(own);
        by_row.push(by);
        let left: Vec<Vec<f64>> =
            tested.iter().zip(&pulled).map(|(z, b)| part.left(z.get(row).copied().unwrap_or(0.0), b, layout)).collect();
        for (i, (a, line)) in left.iter().zip(variance.iter_mut()).enumerate() {
            let bent = part.bent(a);
            for (b, slot) in left.iter().zip(line.iter_mut()).take(i + 1) {
                *slot += by * dot(&bent, b);
            }
        }
    }
    for i in 0..size {
        for j in 0..i {
            let lower = variance.get(i).and_then(|line| line.get(j)).copied().unwrap_or(0.0);
            if let Some(slot) = variance.get_mut(j).and_then(|line| line.get_mut(i)) {
                *slot = lower;
            }
        }
    }
    Ok((HeldScore { score, variance }, by_row))
}

/// One row at the fit.
struct Part {
    x: Entries,
    bends: Bends,
    /// Cuttings.
    cuttings: f64,
    /// Information on a shift of the row's log odds.
    all: f64,
}

impl Part {
    /// What is left of a shift `z` in each cut beside the fitted `b`.
    fn left(&self, z: f64, b: &[f64], layout: Layout<'_>) -> Vec<f64> {
        let (cuts, slopes) = b.split_at(layout.cuts.min(b.len()));
        let shift = z - along(&self.x, slopes);
        cuts.iter().map(|cut| shift - cut).collect()
    }

    /// `W v`.
    fn bent(&self, v: &[f64]) -> Vec<f64> {
        let next = || self.bends.next.iter().copied();
        let before = [0.0].into_iter().chain(v.iter().copied());
        let after = v.iter().skip(1).copied().chain([0.0]);
        let own = v.iter().zip(&self.bends.own).map(|(v, own)| v * own);
        let down = [0.0].into_iter().chain(next()).zip(before).map(|(w, v)| w * v);
        let up = next().chain([0.0]).zip(after).map(|(w, v)| w * v);
        own.zip(down).zip(up).map(|((own, down), up)| own - down - up).collect()
    }
}

/// All rows at the fit.
struct Parts {
    rows: Vec<Part>,
    /// Of each row, what a shift of it has in common with cuts and slopes, by entries.
    shifts: Vec<Entries>,
    scores: Vec<f64>,
    information: Vec<Vec<f64>>,
}

impl Parts {
    fn at(null: &GradeRows, layout: Layout<'_>, theta: &[f64]) -> Option<Self> {
        let information = super::sums::Sums::at(null, layout, theta, super::sums::Of::Expected)?.information;
        let (mut point, mut predictors, mut slopes, mut expected) =
            (Point::default(), Vec::new(), Vec::new(), Vec::new());
        let mut parts = Self { rows: Vec::new(), shifts: Vec::new(), scores: Vec::new(), information };
        for (x, offset, counts) in null.iter() {
            layout.predictors(theta, (x, offset), &mut predictors);
            if !point.set(&predictors) {
                return None;
            }
            point.slopes(counts, &mut slopes);
            parts.scores.push(slopes.iter().sum());
            let (cuttings, mut bends) = (counts.iter().sum(), Bends::default());
            point.expected(cuttings, &mut expected);
            point.bends(&expected, &mut bends);
            let all: f64 = bends.shift.iter().sum();
            let cuts = bends.shift.iter().enumerate().map(|(cut, shift)| (cut, *shift));
            let columns = x.iter().map(|(column, value)| (layout.cuts + column, all * value));
            parts.shifts.push(cuts.chain(columns).collect());
            parts.rows.push(Part { x: x.clone(), bends, cuttings, all });
        }
        Some(parts)
    }

    /// What a column has in common with cuts and slopes.
    fn cross(&self, z: &[f64], size: usize) -> Vec<f64> {
        let mut sum = vec![0.0; size];
        for (z, shift) in z.iter().zip(&self.shifts) {
            crate::math::design::add_entries(&mut sum, *z, shift);
        }
        sum
    }
}
