//! Cholesky decomposition of small dense symmetric matrices.

use super::linalg::{add_scaled, dot};

/// `A = L L'` of a symmetric positive definite matrix; row `i` of `L` holds its `i + 1` lower entries.
#[derive(Debug, Clone, PartialEq)]
pub struct Cholesky {
    l: Vec<Vec<f64>>,
    smallest_share: f64,
}

/// A pivot this small beside its diagonal entry counts as zero.
const SMALLEST_PIVOT: f64 = 1e-14;

impl Cholesky {
    /// Decomposes a matrix given in rows, of which only the lower triangle is read. None when it is not positive definite
    /// to working precision or not finite.
    ///
    /// ```
    /// use rootling::math::cholesky::Cholesky;
    /// let a = vec![vec![4.0, 2.0], vec![2.0, 5.0]];
    /// let x = Cholesky::new(&a).map(|l| l.solve(&[8.0, 12.0]));
    /// assert_eq!(x, Some(vec![1.0, 2.0]));
    /// assert!(Cholesky::new(&[vec![1.0, 2.0], vec![2.0, 1.0]]).is_none());
    /// ```
    #[must_use]
    pub fn new(a: &[Vec<f64>]) -> Option<Self> {
        let mut l: Vec<Vec<f64>> = Vec::with_capacity(a.len());
        let mut smallest_share = 1.0_f64;
        for (i, row) in a.iter().enumerate() {
            let mut line = Vec::with_capacity(i + 1);
            for (above, entry) in l.iter().zip(row) {
                let pivot = above.last()?;
                line.push((entry - dot(above, &line)) / pivot);
            }
            let diagonal = row.get(i)?;
            let rest = diagonal - dot(&line, &line);
            if !(rest > SMALLEST_PIVOT * diagonal.abs() && rest.is_finite()) {
                return None;
            }
            smallest_share = smallest_share.min(rest / diagonal);
            line.push(rest.sqrt());
            l.push(line);
        }
        Some(Self { l, smallest_share })
    }

    /// The smallest share that a diagonal entry keeps beside the rows before it; about 1e-16 over it is the relative error of
    /// solutions.
    #[must_use]
    pub fn smallest_share(&self) -> f64 {
        self.smallest_share
    }

    /// Solves `L z = b`.
    #[must_use]
    pub fn forward(&self, b: &[f64]) -> Vec<f64> {
        let mut z: Vec<f64> = Vec::with_capacity(b.len());
        for (row, b) in self.l.iter().zip(b) {
            let pivot = row.last().copied().unwrap_or(1.0);
            z.push((b - dot(row, &z)) / pivot);
        }
        z
    }

    /// Solves `A x = b`.
    #[must_use]
    pub fn solve(&self, b: &[f64]) -> Vec<f64> {
        let mut x = self.forward(b);
        for (i, row) in self.l.iter().enumerate().rev() {
            let (Some((pivot, before)), Some((rest, top))) = (row.split_last(), x.get_mut(..=i).and_then(split)) else {
                continue;
            };
            *top /= pivot;
            add_scaled(rest, -*top, before);
        }
        x
    }

    /// `A^-1` in rows.
    #[must_use]
    pub fn inverse(&self) -> Vec<Vec<f64>> {
        let n = self.l.len();
        (0..n).map(|j| self.solve(&(0..n).map(|i| f64::from(u8::from(i == j))).collect::<Vec<_>>())).collect()
    }

    /// `ln |A|`.
    #[must_use]
    pub fn ln_determinant(&self) -> f64 {
        self.l.iter().filter_map(|row| row.last()).map(|pivot| 2.0 * pivot.ln()).sum()
    }
}

fn split(values: &mut [f64]) -> Option<(&mut [f64], &mut f64)> {
    values.split_last_mut().map(|(last, rest)| (rest, last))
}

/// Solves `A x = b` in place for a few unknowns: `a` holds the rows of a symmetric matrix, of which the lower triangle is read and
/// becomes its decomposition, `b` becomes `x`. False when `a` is not positive definite to working precision or not finite.
///
/// ```
/// use rootling::math::cholesky::solve_rows;
/// let (mut a, mut b) = ([4.0, 2.0, 2.0, 5.0], [8.0, 12.0]);
/// assert!(solve_rows(&mut a, &mut b) && b == [1.0, 2.0]);
/// ```
pub fn solve_rows(a: &mut [f64], b: &mut [f64]) -> bool {
    let size = b.len();
    if size == 0 {
        return true;
    }
    for i in 0..size {
        let (done, rest) = a.split_at_mut(i * size);
        let Some(row) = rest.get_mut(..size) else { return false };
        for (j, above) in done.chunks_exact(size).enumerate() {
            let (Some((before, _)), Some(earlier), Some(pivot)) =
                (row.split_at_checked(j), above.get(..j), above.get(j))
            else {
                return false;
            };
            let gone = dot(before, earlier);
            if let Some(entry) = row.get_mut(j) {
                *entry = (*entry - gone) / pivot;
            }
        }
        let Some(((before, diagonal), value)) = row.split_at_mut_checked(i).zip(b.get(i).copied()) else {
            return false;
        };
        let Some(diagonal) = diagonal.first_mut() else { return false };
        let left = *diagonal - dot(before, before);
        if !(left > SMALLEST_PIVOT * diagonal.abs() && left.is_finite()) {
            return false;
        }
        *diagonal = left.sqrt();
        let solved = (value - b.get(..i).map_or(0.0, |earlier| dot(before, earlier))) / *diagonal;
        if let Some(entry) = b.get_mut(i) {
            *entry = solved;
        }
    }
    for (i, row) in a.chunks_exact(size).enumerate().rev() {
        let Some((before, top)) = b.get_mut(..=i).and_then(split) else { return false };
        let (Some(pivot), Some(entries)) = (row.get(i), row.get(..i)) else { return false };
        *top /= pivot;
        add_scaled(before, -*top, entries);
    }
    true
}
