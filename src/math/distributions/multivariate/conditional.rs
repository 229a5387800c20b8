//! Sequential conditioning: a correlation matrix as rows of a triangular factor, grouped by the last variable they touch.
//!
//! X = L y with y independent normal. Every row limits one y given those before it; rows of a singular matrix share a y, whose
//! limits are then intersected. The probability of the rectangle is the mean over `y_1`, `y_2`, ... (drawn within their limits) of the
//! product of the limits' probabilities.
//!
//! # References
//! Genz 1992, J. Comput. Graph. Statist. 1:141-149; Genz & Kwong 2000, J. Statist. Comput. Simul. 68:1-21 (singular);
//! Gibson, Glasbey & Elston 1994 (order by the smallest expected probability).

use super::points::{LANES, Lanes};
use crate::error::{NumericError, Result};
use crate::math::dense::dot;
use crate::math::distributions::normal_table::{NormalTable, density};

/// A row whose share of variance left is below this is a combination of the variables before it.
const DEPENDENT: f64 = 1e-10;
/// A matrix with less variance left than this is no correlation matrix.
const NEGATIVE: f64 = -1e-6;
/// Coefficients below this count as zero in a dependent row.
const ZERO: f64 = 1e-8;

/// One row of the factor: its position in the bounds, the coefficients of the earlier y and 1 over that of its own y.
#[derive(Debug, Clone)]
struct Row {
    index: usize,
    earlier: Vec<f64>,
    inverse: f64,
}

/// The factor, ready for evaluation under any bounds.
#[derive(Debug, Clone)]
pub(crate) struct Conditional {
    /// For each y the rows that limit it.
    steps: Vec<Vec<Row>>,
    /// Rows without variance.
    fixed: Vec<usize>,
}

struct Pending {
    index: usize,
    coefficients: Vec<f64>,
    left: f64,
}

impl Pending {
    /// Probability of the row's limits when all earlier y have their expected values.
    fn chance(&self, expected: &[f64], lower: &[f64], upper: &[f64], table: NormalTable) -> (f64, f64, f64) {
        let centre = dot(&self.coefficients, expected);
        let limit = |bounds: &[f64]| (bounds.get(self.index).copied().unwrap_or(0.0) - centre) / self.left.sqrt();
        let (a, b) = (limit(lower), limit(upper));
        (between(table, a, b), a, b)
    }
}

/// P(a < Z <= b), small values by the nearer tail.
#[inline]
fn between(table: NormalTable, a: f64, b: f64) -> f64 {
    if a > 0.0 { table.sf(a) - table.sf(b) } else { table.sf(-b) - table.sf(-a) }
}

impl Conditional {
    /// Factor of a correlation matrix (rows without variance have 0 on the diagonal), ordered for the given bounds.
    ///
    /// # Errors
    /// [`NumericError::NotCovariance`] when the matrix is not positive semidefinite.
    pub(crate) fn new(correlation: &[Vec<f64>], lower: &[f64], upper: &[f64]) -> Result<Self> {
        let table = NormalTable::get();
        let diagonal = |i: usize| correlation.get(i).and_then(|row| row.get(i)).copied().unwrap_or(0.0);
        let (fixed, random): (Vec<usize>, Vec<usize>) = (0..correlation.len()).partition(|i| diagonal(*i) <= 0.0);
        let mut pending: Vec<Pending> =
            random.iter().map(|&index| Pending { index, coefficients: Vec::new(), left: diagonal(index) }).collect();
        let mut steps: Vec<Vec<Row>> = Vec::new();
        let mut expected = Vec::new();
        while !pending.is_empty() {
            let chances = pending.iter().map(|one| one.chance(&expected, lower, upper, table));
            let Some((chosen, (chance, a, b))) = chances.enumerate().min_by(|x, y| x.1.0.total_cmp(&y.1.0)) else {
                break;
            };
            let pivot = pending.swap_remove(chosen);
            let own = pivot.left.sqrt();
            for one in &mut pending {
                let entry = correlation.get(one.index).and_then(|row| row.get(pivot.index)).copied().unwrap_or(0.0);
                let coefficient = (entry - dot(&one.coefficients, &pivot.coefficients)) / own;
                one.coefficients.push(coefficient);
                one.left -= coefficient * coefficient;
            }
            expected.push(if chance > 1e-12 { (density(a) - density(b)) / chance } else { a.max(b.min(0.0)) });
            steps.push(vec![Row { index: pivot.index, earlier: pivot.coefficients, inverse: 1.0 / own }]);
            pending = set_dependent(pending, &mut steps)?;
        }
        Ok(Self { steps, fixed })
    }

    /// Number of random coordinates an evaluation takes (without that of the scale).
    pub(crate) fn dimension(&self) -> usize {
        self.steps.len().saturating_sub(1)
    }

    /// Rank of the matrix.
    pub(crate) fn rank(&self) -> usize {
        self.steps.len()
    }

    /// Sum over the lanes of the products of conditional probabilities; `y` is room for the draws.
    pub(crate) fn evaluate(&self, table: NormalTable, bounds: &Bounds<'_>, point: &[Lanes], y: &mut Vec<Lanes>) -> f64 {
        y.clear();
        let mut products = [1.0; LANES];
        let mut coordinates = point.iter();
        for rows in &self.steps {
            let (low, high) = limits(rows, y, bounds);
            let coordinate = coordinates.next();
            let mut draws = [0.0; LANES];
            let lanes = low.iter().zip(&high).zip(&mut products).zip(&mut draws).enumerate();
            for (lane, (((low, high), product), draw)) in lanes {
                if *low >= *high || *product == 0.0 {
                    *product = 0.0;
                    continue;
                }
                // Work on the side of the nearer tail, so that far limits keep their digits.
                let flip = *low > 0.0;
                let (near, far) = if flip {
                    (table.rough_sf(*low), table.rough_sf(*high))
                } else {
                    (table.rough_sf(-high), table.rough_sf(-low))
                };
                *product *= near - far;
                if let Some(x) = coordinate.and_then(|x| x.get(lane)) {
                    let value = table.isf((far + x * (near - far)).clamp(1e-300, 1.0 - 1e-16));
                    *draw = if flip { value } else { -value };
                }
            }
            if products.iter().all(|p| *p == 0.0) {
                return 0.0;
            }
            y.push(draws);
        }
        products.iter().sum()
    }

    /// Limits of the only y of a matrix of rank 1.
    pub(crate) fn only_limits(&self, lower: &[f64], upper: &[f64]) -> (f64, f64) {
        let bounds = Bounds { lower, upper, scales: [1.0; LANES] };
        let ends = self.steps.first().map(|rows| limits(rows, &[], &bounds));
        ends.map_or((f64::NEG_INFINITY, f64::INFINITY), |([low, ..], [high, ..])| (low, high))
    }

    /// False when a row without variance lies outside its bounds.
    pub(crate) fn possible(&self, lower: &[f64], upper: &[f64]) -> bool {
        let holds = |i: &usize| lower.get(*i).is_some_and(|a| *a <= 0.0) && upper.get(*i).is_some_and(|b| *b >= 0.0);
        self.fixed.iter().all(holds)
    }
}

/// Bounds by row, and the scale of each lane by which they are multiplied.
pub(crate) struct Bounds<'a> {
    pub lower: &'a [f64],
    pub upper: &'a [f64],
    pub scales: Lanes,
}

/// Limits of y at a step, given the earlier y.
#[inline]
fn limits(rows: &[Row], y: &[Lanes], bounds: &Bounds<'_>) -> (Lanes, Lanes) {
    let (mut low, mut high) = ([f64::NEG_INFINITY; LANES], [f64::INFINITY; LANES]);
    for row in rows {
        let mut centres = [0.0; LANES];
        for (coefficient, y) in row.earlier.iter().zip(y) {
            for (centre, y) in centres.iter_mut().zip(y) {
                *centre += coefficient * y;
            }
        }
        let at = |bounds: &[f64]| bounds.get(row.index).copied().unwrap_or(f64::NAN) * row.inverse;
        let (a, b) = (at(bounds.lower), at(bounds.upper));
        let (a, b) = if row.inverse < 0.0 { (b, a) } else { (a, b) };
        let ends = low.iter_mut().zip(&mut high);
        for ((scale, centre), (low, high)) in bounds.scales.iter().zip(&centres).zip(ends) {
            let shift = centre * row.inverse;
            *low = low.max(scale * a - shift);
            *high = high.min(scale * b - shift);
        }
    }
    (low, high)
}

/// Moves rows that have no variance left to the last y they touch.
fn set_dependent(pending: Vec<Pending>, steps: &mut [Vec<Row>]) -> Result<Vec<Pending>> {
    let (dependent, rest): (Vec<Pending>, Vec<Pending>) = pending.into_iter().partition(|one| one.left <= DEPENDENT);
    for one in dependent {
        if one.left < NEGATIVE {
            return Err(NumericError::NotCovariance { row: one.index }.into());
        }
        let Some(last) = one.coefficients.iter().rposition(|c| c.abs() > ZERO) else { continue };
        let own = one.coefficients.get(last).copied().unwrap_or(1.0);
        let earlier = one.coefficients.iter().take(last).copied().collect();
        if let Some(rows) = steps.get_mut(last) {
            rows.push(Row { index: one.index, earlier, inverse: 1.0 / own });
        }
    }
    Ok(rest)
}
