//! The information matrix of a weighted design: determinant, inverse, condition.

use crate::math::dense::{Cholesky, Qr, dot};
use crate::math::design::Products;

/// The inverse is taken from the products of columns while every column keeps this share of its length squared beside those
/// before it, and from an orthogonal decomposition below.
const SAFE_SHARE: f64 = 1e-6;

/// `X' W X` through its inverse.
#[derive(Debug, Clone, PartialEq)]
pub struct Information {
    inverse: Vec<Vec<f64>>,
    ln_determinant: f64,
    condition: f64,
}

impl Information {
    /// From the matrix; `weighted` gives the columns of `W^(1/2) X` where the matrix alone would lose digits. None when it is
    /// singular.
    #[must_use]
    pub fn new(matrix: &Products, weighted: impl FnOnce() -> Vec<Vec<f64>>) -> Option<Self> {
        if let Some(known) = matrix.root().and_then(|root| Self::of(matrix, &root)) {
            return Some(known);
        }
        let qr = Qr::new(&weighted(), 0.0);
        (qr.rank() == matrix.width()).then(|| Self {
            inverse: qr.covariance(),
            ln_determinant: qr.ln_determinant(),
            condition: qr.condition(),
        })
    }

    /// From the matrix and its decomposition; none where that would lose digits.
    pub(super) fn of(matrix: &Products, root: &Cholesky) -> Option<Self> {
        if root.smallest_share() <= SAFE_SHARE {
            return None;
        }
        let inverse = root.inverse();
        let condition = (matrix.norm() * norm(&inverse)).sqrt();
        Some(Self { inverse, ln_determinant: root.ln_determinant(), condition })
    }

    /// The inverse in rows: the covariance of the coefficients.
    #[must_use]
    pub fn covariance(&self) -> &[Vec<f64>] {
        &self.inverse
    }

    /// `ln |X' W X|`.
    #[must_use]
    pub fn ln_determinant(&self) -> f64 {
        self.ln_determinant
    }

    /// Condition number of the weighted design: the root of that of the matrix in the 1-norm.
    #[must_use]
    pub fn condition(&self) -> f64 {
        self.condition
    }

    /// `x' I^-1 x` of a row given by its entries other than 0.
    #[inline]
    #[must_use]
    pub fn spread(&self, entries: &[(usize, f64)]) -> f64 {
        let row = |(i, x): &(usize, f64)| {
            let Some(row) = self.inverse.get(*i) else { return 0.0 };
            x * entries.iter().map(|(j, y)| row.get(*j).map_or(0.0, |v| v * y)).sum::<f64>()
        };
        entries.iter().map(row).sum()
    }

    /// `g' I^-1 g`.
    #[must_use]
    pub fn quadratic(&self, g: &[f64]) -> f64 {
        self.inverse.iter().zip(g).map(|(row, x)| x * dot(row, g)).sum()
    }
}

fn norm(rows: &[Vec<f64>]) -> f64 {
    rows.iter().map(|row| row.iter().map(|x| x.abs()).sum::<f64>()).fold(0.0, f64::max)
}
