//! Eigenvalues of small symmetric matrices, and functions of them.

use super::linalg::dot;

/// Eigenvalues, and as rows the eigenvectors that belong to them.
#[derive(Debug, Clone, PartialEq)]
pub struct Eigen {
    /// Eigenvalues, in no order.
    pub values: Vec<f64>,
    /// One unit vector for each.
    pub vectors: Vec<Vec<f64>>,
}

const SWEEPS: usize = 60;

impl Eigen {
    /// Decomposes a symmetric matrix given in rows, by Jacobi's rotations.
    ///
    /// # References
    /// Golub and Van Loan (2013), Matrix Computations, 4th edition, section 8.5.
    ///
    /// ```
    /// use rootling::math::dense::Eigen;
    /// // 2 1; 1 2 has the eigenvalues 1 and 3
    /// let mut found = Eigen::new(&[vec![2.0, 1.0], vec![1.0, 2.0]]).values;
    /// found.sort_by(f64::total_cmp);
    /// approx::assert_relative_eq!(found[0], 1.0, epsilon = 0.0, max_relative = 1e-14);
    /// approx::assert_relative_eq!(found[1], 3.0, epsilon = 0.0, max_relative = 3.3e-15);
    /// ```
    #[must_use]
    pub fn new(a: &[Vec<f64>]) -> Self {
        let n = a.len();
        let mut a = a.to_vec();
        let mut vectors: Vec<Vec<f64>> =
            (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
        for _ in 0..SWEEPS {
            let mut turned = false;
            for p in 0..n {
                for q in p + 1..n {
                    turned |= rotate(&mut a, &mut vectors, p, q);
                }
            }
            if !turned {
                break;
            }
        }
        let values = a.iter().enumerate().filter_map(|(i, row)| row.get(i).copied()).collect();
        Self { values, vectors }
    }

    /// The matrix with the same vectors and `f` of the values.
    #[must_use]
    pub fn map(&self, f: impl Fn(f64) -> f64) -> Vec<Vec<f64>> {
        let n = self.values.len();
        let mut out = vec![vec![0.0; n]; n];
        for (value, vector) in self.values.iter().zip(&self.vectors) {
            let scale = f(*value);
            for (row, x) in out.iter_mut().zip(vector) {
                super::linalg::add_scaled(row, scale * x, vector);
            }
        }
        out
    }

    /// The inverse square root of a matrix without negative eigenvalues; those below `tolerance` times the largest count as 0 and stay 0.
    #[must_use]
    pub fn inverse_root(&self, tolerance: f64) -> Vec<Vec<f64>> {
        let largest = self.values.iter().fold(0.0_f64, |a, b| a.max(*b));
        self.map(|value| if value > tolerance * largest { 1.0 / value.sqrt() } else { 0.0 })
    }
}

/// Turns the plane of two coordinates so that their entry becomes 0; false where it is 0 already beside the diagonal.
fn rotate(a: &mut [Vec<f64>], vectors: &mut [Vec<f64>], p: usize, q: usize) -> bool {
    let at = |i: usize, j: usize| a.get(i).and_then(|row| row.get(j)).copied().unwrap_or(0.0);
    let (app, aqq, apq) = (at(p, p), at(q, q), at(p, q));
    if apq.abs() <= 1e-17 * (app.abs() + aqq.abs()) || apq == 0.0 {
        return false;
    }
    let theta = 0.5 * (aqq - app) / apq;
    let t = theta.signum() / (theta.abs() + theta.hypot(1.0));
    let c = 1.0 / t.hypot(1.0);
    let s = t * c;
    for row in a.iter_mut() {
        turn(row, p, q, c, s);
    }
    turn_rows(a, p, q, c, s);
    turn_rows(vectors, p, q, c, s);
    true
}

fn turn(row: &mut [f64], p: usize, q: usize, c: f64, s: f64) {
    let (Some(x), Some(y)) = (row.get(p).copied(), row.get(q).copied()) else { return };
    if let Some(entry) = row.get_mut(p) {
        *entry = c * x - s * y;
    }
    if let Some(entry) = row.get_mut(q) {
        *entry = s * x + c * y;
    }
}

fn turn_rows(rows: &mut [Vec<f64>], p: usize, q: usize, c: f64, s: f64) {
    let Some((before, after)) = rows.split_at_mut_checked(q) else { return };
    let (Some(first), Some(second)) = (before.get_mut(p), after.first_mut()) else { return };
    for (x, y) in first.iter_mut().zip(second) {
        (*x, *y) = (c * *x - s * *y, s * *x + c * *y);
    }
}

/// `A b` for a matrix in rows.
#[must_use]
pub fn apply(a: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    a.iter().map(|row| dot(row, b)).collect()
}

/// `tr(A B)` for square matrices in rows.
#[must_use]
pub fn trace_of_product(a: &[Vec<f64>], b: &[Vec<f64>]) -> f64 {
    let entry = |(i, row): (usize, &Vec<f64>)| -> f64 {
        row.iter().zip(b).map(|(x, other)| x * other.get(i).copied().unwrap_or(0.0)).sum()
    };
    a.iter().enumerate().map(entry).sum()
}

/// `A B` for matrices in rows.
#[must_use]
pub fn product(a: &[Vec<f64>], b: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let width = b.first().map_or(0, Vec::len);
    let line = |row: &Vec<f64>| {
        let mut out = vec![0.0; width];
        for (x, other) in row.iter().zip(b) {
            super::linalg::add_scaled(&mut out, *x, other);
        }
        out
    };
    a.iter().map(line).collect()
}
