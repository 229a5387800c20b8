//! Sums of products of columns, over the rows of a run or over all rows.

use crate::math::dense::Cholesky;

/// Sums over the rows of a run: `w n n'` and `u n` of their numbers `n`.
#[derive(Debug, Clone, PartialEq)]
pub struct RunSums {
    kinds: usize,
    products: Vec<f64>,
    scores: Vec<f64>,
}

impl RunSums {
    /// Zero, for that many kinds of numbers.
    #[must_use]
    pub fn new(kinds: usize) -> Self {
        Self { kinds, products: vec![0.0; kinds * kinds], scores: vec![0.0; kinds] }
    }

    /// Back to zero.
    pub fn clear(&mut self) {
        self.products.fill(0.0);
        self.scores.fill(0.0);
    }

    /// Adds a row with weight `w` and score `u`.
    #[inline]
    pub fn add(&mut self, w: f64, u: f64, numbers: &[f64]) {
        let rows = self.products.chunks_exact_mut(self.kinds.max(1));
        for (at, ((row, score), x)) in rows.zip(&mut self.scores).zip(numbers).enumerate() {
            let scaled = w * x;
            *score += u * x;
            for (sum, y) in row.iter_mut().zip(numbers).take(at + 1) {
                *sum += scaled * y;
            }
        }
    }

    /// Adds the sums to those of the columns that the run enters.
    pub fn hand_over(&self, active: &[(usize, usize)], products: &mut Products, scores: &mut [f64]) {
        for (at, (kind, column)) in active.iter().enumerate() {
            if let (Some(score), Some(sum)) = (scores.get_mut(*column), self.scores.get(*kind)) {
                *score += sum;
            }
            for (other, second) in active.iter().take(at + 1) {
                let place = kind.max(other) * self.kinds + kind.min(other);
                products.add(*column, *second, self.products.get(place).copied().unwrap_or(0.0));
            }
        }
    }
}

/// A running sum of `w x x'`.
#[derive(Debug, Clone, PartialEq)]
pub struct Products {
    width: usize,
    /// Row by row; only the lower triangle is filled.
    sums: Vec<f64>,
}

impl Products {
    /// Zero.
    #[must_use]
    pub fn new(width: usize) -> Self {
        Self { width, sums: vec![0.0; width * width] }
    }

    /// Adds to the entry of two columns.
    #[inline]
    pub(in crate::math) fn add(&mut self, i: usize, j: usize, more: f64) {
        if let Some(sum) = self.sums.get_mut(i.max(j) * self.width + i.min(j)) {
            *sum += more;
        }
    }

    /// Number of columns.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// The rows, of which the lower triangle counts.
    pub fn lower(&self) -> impl Iterator<Item = &[f64]> {
        self.sums.chunks_exact(self.width.max(1))
    }

    /// The decomposition; none when the matrix is not positive definite to working precision.
    #[must_use]
    pub fn root(&self) -> Option<Cholesky> {
        Cholesky::of(self.width, self.lower())
    }

    /// The largest sum of sizes in a row.
    #[must_use]
    pub fn norm(&self) -> f64 {
        let mut rows = vec![0.0; self.width];
        for (i, row) in self.lower().enumerate() {
            for (j, x) in row.iter().enumerate().take(i + 1) {
                if let Some(sum) = rows.get_mut(i) {
                    *sum += x.abs();
                }
                if let Some(sum) = rows.get_mut(j).filter(|_| j < i) {
                    *sum += x.abs();
                }
            }
        }
        rows.into_iter().fold(0.0, f64::max)
    }

    /// Adds another sum.
    pub fn join(&mut self, other: &Self) {
        for (sum, more) in self.sums.iter_mut().zip(&other.sums) {
            *sum += more;
        }
    }

    /// The symmetric matrix in rows.
    #[must_use]
    pub fn rows(&self) -> Vec<Vec<f64>> {
        let at = |i: usize, j: usize| self.sums.get(i.max(j) * self.width + i.min(j)).copied().unwrap_or(0.0);
        (0..self.width).map(|i| (0..self.width).map(|j| at(i, j)).collect()).collect()
    }
}
