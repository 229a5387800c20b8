//! Orthogonal decompositions of tall matrices held as columns.

/// A column that is a linear combination of earlier ones.
#[derive(Debug, Clone, PartialEq)]
pub struct Dependent {
    /// Its position among the columns given.
    pub column: usize,
    /// Its coefficients on the kept columns found before it.
    pub combination: Vec<f64>,
}

/// `X = Q R` for the independent columns of `X`, in their order.
///
/// Gram-Schmidt with every projection done twice, so `Q` is orthogonal to rounding. Dependent columns are set aside
/// with the combination that makes them.
#[derive(Debug, Clone, PartialEq)]
pub struct Qr {
    /// Orthonormal columns.
    q: Vec<Vec<f64>>,
    /// Column `j` of `R` holds its `j + 1` upper entries.
    r: Vec<Vec<f64>>,
    /// Positions of the independent columns.
    pub kept: Vec<usize>,
    /// The dependent columns.
    pub dependent: Vec<Dependent>,
}

/// `a . b`.
#[must_use]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// `y += c x`.
pub fn add_scaled(y: &mut [f64], c: f64, x: &[f64]) {
    for (y, x) in y.iter_mut().zip(x) {
        *y += c * x;
    }
}

/// `y += c x`, and then `y . z`.
fn less(y: &mut [f64], c: f64, x: &[f64], z: &[f64]) -> f64 {
    let mut sum = -0.0;
    for ((y, x), z) in y.iter_mut().zip(x).zip(z) {
        *y += c * x;
        sum += z * *y;
    }
    sum
}

/// `X b` for columns `x`.
#[must_use]
pub fn times(x: &[Vec<f64>], b: &[f64], rows: usize) -> Vec<f64> {
    let mut out = vec![0.0; rows];
    for (column, b) in x.iter().zip(b) {
        add_scaled(&mut out, *b, column);
    }
    out
}

/// `b' V b` for a square matrix in rows.
#[must_use]
pub fn quadratic(v: &[Vec<f64>], b: &[f64]) -> f64 {
    v.iter().zip(b).filter(|(_, bi)| **bi != 0.0).map(|(row, bi)| bi * dot(row, b)).sum()
}

/// `sum b_i row_i`: `V b` for a symmetric matrix in rows.
#[must_use]
pub fn combined(rows: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; rows.first().map_or(0, Vec::len)];
    rows.iter().zip(b).filter(|(_, b)| **b != 0.0).for_each(|(row, b)| add_scaled(&mut out, *b, row));
    out
}

impl Qr {
    /// Decomposes the columns; one is dependent when at most `tolerance` of its length is left after projection.
    #[must_use]
    pub fn new(columns: &[Vec<f64>], tolerance: f64) -> Self {
        Self::of(columns.len(), |at| columns.get(at).cloned().unwrap_or_default(), tolerance)
    }

    /// The same of columns that are made when they are needed, so that very tall ones are not held twice.
    #[must_use]
    pub fn of(columns: usize, column: impl Fn(usize) -> Vec<f64>, tolerance: f64) -> Self {
        let mut qr = Self { q: Vec::new(), r: Vec::new(), kept: Vec::new(), dependent: Vec::new() };
        for index in 0..columns {
            qr.add(index, column(index), tolerance);
        }
        qr
    }

    fn add(&mut self, index: usize, mut v: Vec<f64>, tolerance: f64) {
        crate::control::checkpoint();
        let length = dot(&v, &v).sqrt();
        let mut r = vec![0.0; self.q.len()];
        // What one column takes away and how long the rest is along the next are found in one pass.
        let again = self.q.iter().zip(0..).chain(self.q.iter().zip(0..));
        let mut next = again.clone().skip(1).map(|(q, _)| q);
        let mut c = self.q.first().map_or(0.0, |first| dot(first, &v));
        for (q, at) in again {
            if let Some(r) = r.get_mut(at) {
                *r += c;
            }
            match next.next() {
                Some(next) => c = less(&mut v, -c, q, next),
                None => add_scaled(&mut v, -c, q),
            }
        }
        let left = dot(&v, &v).sqrt();
        if left.is_nan() || left <= tolerance * length {
            self.dependent.push(Dependent { column: index, combination: self.solve_upper(&r) });
            return;
        }
        for x in &mut v {
            *x /= left;
        }
        r.push(left);
        self.q.push(v);
        self.r.push(r);
        self.kept.push(index);
    }

    /// Number of independent columns.
    #[must_use]
    pub fn rank(&self) -> usize {
        self.kept.len()
    }

    /// The orthonormal columns.
    #[must_use]
    pub fn basis(&self) -> &[Vec<f64>] {
        &self.q
    }

    /// `Q' z`.
    #[must_use]
    pub fn project(&self, z: &[f64]) -> Vec<f64> {
        self.q.iter().map(|q| dot(q, z)).collect()
    }

    /// Solves `R b = c`.
    #[must_use]
    pub fn solve_upper(&self, c: &[f64]) -> Vec<f64> {
        let mut b = c.to_vec();
        for (j, r) in self.r.iter().enumerate().rev() {
            let (Some((diagonal, above)), Some(top)) = (r.split_last(), b.get_mut(..=j)) else { continue };
            if let Some((last, rest)) = top.split_last_mut() {
                *last /= diagonal;
                add_scaled(rest, -*last, above);
            }
        }
        b
    }

    /// Solves `R' c = b`.
    #[must_use]
    pub fn solve_lower(&self, b: &[f64]) -> Vec<f64> {
        let mut c: Vec<f64> = Vec::with_capacity(b.len());
        for (r, b) in self.r.iter().zip(b) {
            let known: f64 = r.iter().zip(&c).map(|(r, c)| r * c).sum();
            c.push((b - known) / r.last().copied().unwrap_or(1.0));
        }
        c
    }

    /// Columns of `R^-1`.
    fn inverse(&self) -> Vec<Vec<f64>> {
        let p = self.rank();
        (0..p).map(|j| self.solve_upper(&(0..p).map(|i| f64::from(u8::from(i == j))).collect::<Vec<_>>())).collect()
    }

    /// `(X' X)^-1` of the kept columns, in rows.
    #[must_use]
    pub fn covariance(&self) -> Vec<Vec<f64>> {
        let p = self.rank();
        let mut v = vec![vec![0.0; p]; p];
        for column in self.inverse() {
            for (row, a) in v.iter_mut().zip(&column) {
                add_scaled(row, *a, &column);
            }
        }
        v
    }

    /// `ln |X' X|` of the kept columns.
    #[must_use]
    pub fn ln_determinant(&self) -> f64 {
        self.r.iter().filter_map(|r| r.last()).map(|d| 2.0 * d.abs().ln()).sum()
    }

    /// Diagonal of `Q Q'` for `rows` rows.
    #[must_use]
    pub fn hat(&self, rows: usize) -> Vec<f64> {
        let mut hat = vec![0.0; rows];
        for q in &self.q {
            for (h, x) in hat.iter_mut().zip(q) {
                *h += x * x;
            }
        }
        hat
    }

    /// 1-norm condition number of `R`.
    #[must_use]
    pub fn condition(&self) -> f64 {
        let norm = |columns: &[Vec<f64>]| {
            columns.iter().map(|c| c.iter().map(|x| x.abs()).sum::<f64>()).fold(0.0_f64, f64::max)
        };
        norm(&self.r) * norm(&self.inverse())
    }
}
