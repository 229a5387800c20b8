//! Cholesky decomposition of small dense symmetric matrices.

use super::linalg::{add_scaled, dot};
use crate::math::sparse::{MANY, SparseRoot};

/// `A = L L'` of a symmetric positive definite matrix; `L` row by row, `i + 1` entries in row `i`. Large matrices of which most entries are 0
/// are decomposed in another order of their columns, so that most of the work falls away; what is solved is the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Cholesky {
    size: usize,
    l: Vec<f64>,
    smallest_share: f64,
    sparse: Option<SparseRoot>,
}

/// A pivot this small beside its diagonal entry counts as zero.
const SMALLEST_PIVOT: f64 = 1e-14;

impl Cholesky {
    /// Decomposes a matrix given in rows, of which only the lower triangle is read. None when it is not positive definite
    /// to working precision or not finite.
    ///
    /// ```
    /// use rootling::math::dense::Cholesky;
    /// let a = vec![vec![4.0, 2.0], vec![2.0, 5.0]];
    /// let x = Cholesky::new(&a).map(|l| l.solve(&[8.0, 12.0]));
    /// assert_eq!(x, Some(vec![1.0, 2.0]));
    /// assert!(Cholesky::new(&[vec![1.0, 2.0], vec![2.0, 1.0]]).is_none());
    /// ```
    #[must_use]
    pub fn new(a: &[Vec<f64>]) -> Option<Self> {
        Self::of(a.len(), a.iter().map(Vec::as_slice))
    }

    /// The same from rows that lie elsewhere, each with its entries up to the diagonal or more.
    #[must_use]
    pub fn of<'a>(size: usize, rows: impl Iterator<Item = &'a [f64]>) -> Option<Self> {
        if size < MANY {
            return Self::full(size, rows);
        }
        let rows: Vec<&[f64]> = rows.collect();
        match SparseRoot::of_rows(&rows) {
            Some(root) => Some(Self::sparse(root)),
            None => Self::full(size, rows.into_iter()),
        }
    }

    /// One whose decomposition is known.
    pub(super) fn sparse(root: SparseRoot) -> Self {
        Self { size: 0, l: Vec::new(), smallest_share: root.smallest_share(), sparse: Some(root) }
    }

    fn full<'a>(size: usize, rows: impl Iterator<Item = &'a [f64]>) -> Option<Self> {
        let mut l: Vec<f64> = Vec::with_capacity(size * (size + 1) / 2);
        let mut smallest_share = 1.0_f64;
        for (i, row) in rows.enumerate() {
            crate::control::checkpoint();
            let start = l.len();
            l.extend_from_slice(row.get(..=i)?);
            let (done, line) = l.split_at_mut(start);
            for (j, above) in lines(done).enumerate() {
                let (pivot, earlier) = above.split_last()?;
                let (before, rest) = line.split_at_mut_checked(j)?;
                let entry = rest.first_mut()?;
                *entry = (*entry - fourfold(before, earlier)) / pivot;
            }
            let (diagonal, before) = line.split_last_mut()?;
            let rest = *diagonal - fourfold(before, before);
            if !(rest > SMALLEST_PIVOT * diagonal.abs() && rest.is_finite()) {
                return None;
            }
            smallest_share = smallest_share.min(rest / *diagonal);
            *diagonal = rest.sqrt();
        }
        Some(Self { size, l, smallest_share, sparse: None })
    }

    /// The smallest share that a diagonal entry keeps beside the rows before it; about 1e-16 over it is the relative error of
    /// solutions.
    #[must_use]
    pub fn smallest_share(&self) -> f64 {
        self.smallest_share
    }

    /// Solves `L z = b`: `z'z = b' A^-1 b`.
    #[must_use]
    pub fn forward(&self, b: &[f64]) -> Vec<f64> {
        if let Some(root) = &self.sparse {
            return root.forward(b);
        }
        let mut z: Vec<f64> = Vec::with_capacity(b.len());
        for (row, b) in lines(&self.l).zip(b) {
            if let Some((pivot, before)) = row.split_last() {
                z.push((b - fourfold(before, &z)) / pivot);
            }
        }
        z
    }

    /// Solves `A x = b`.
    #[must_use]
    pub fn solve(&self, b: &[f64]) -> Vec<f64> {
        self.backward(self.forward(b))
    }

    /// Solves `L' x = z`.
    #[must_use]
    pub fn backward(&self, z: Vec<f64>) -> Vec<f64> {
        if let Some(root) = &self.sparse {
            return root.backward(&z);
        }
        let mut x = z;
        let mut end = self.l.len();
        for i in (0..self.size).rev() {
            let start = end.saturating_sub(i + 1);
            let row = self.l.get(start..end).and_then(|row| row.split_last());
            let (Some((pivot, before)), Some((rest, top))) = (row, x.get_mut(..=i).and_then(split)) else { continue };
            *top /= pivot;
            add_scaled(rest, -*top, before);
            end = start;
        }
        x
    }

    /// `A^-1` in rows.
    #[must_use]
    pub fn inverse(&self) -> Vec<Vec<f64>> {
        if let Some(root) = &self.sparse {
            return root.inverse();
        }
        let mut inverse = vec![vec![0.0; self.size]; self.size];
        // A^-1 is the sum of k' k over the rows k of L^-1.
        let mut done: Vec<f64> = Vec::with_capacity(self.l.len());
        for (i, row) in lines(&self.l).enumerate() {
            let Some((pivot, before)) = row.split_last() else { continue };
            let start = done.len();
            done.resize(start + i, 0.0);
            let (known, line) = done.split_at_mut(start);
            for (share, earlier) in before.iter().zip(lines(known)) {
                add_scaled(line, -share / pivot, earlier);
            }
            done.push(1.0 / pivot);
            let line = done.get(start..).unwrap_or_default();
            for (out, share) in inverse.iter_mut().zip(line) {
                add_scaled(out, *share, line);
            }
        }
        inverse
    }

    /// `ln |A|`.
    #[must_use]
    pub fn ln_determinant(&self) -> f64 {
        if let Some(root) = &self.sparse {
            return root.ln_determinant();
        }
        lines(&self.l).filter_map(|row| row.last()).map(|pivot| 2.0 * pivot.ln()).sum()
    }
}

impl Cholesky {
    /// `x' A^-1 x` of rows given by their entries other than 0.
    #[must_use]
    pub fn spreads<'a>(&self, rows: impl Iterator<Item = &'a [(usize, f64)]>) -> Vec<f64> {
        if let Some(root) = &self.sparse {
            return root.spreads(rows);
        }
        let one = |row: &[(usize, f64)]| {
            let mut whole = vec![0.0; self.size];
            for (i, x) in row {
                if let Some(slot) = whole.get_mut(*i) {
                    *slot += x;
                }
            }
            let z = self.forward(&whole);
            dot(&z, &z)
        };
        rows.map(one).collect()
    }
}

/// The rows of a packed lower triangle.
fn lines(mut packed: &[f64]) -> impl Iterator<Item = &[f64]> {
    let mut length = 0;
    std::iter::from_fn(move || {
        length += 1;
        let (line, rest) = packed.split_at_checked(length)?;
        packed = rest;
        Some(line)
    })
}

/// `a . b` in four sums side by side.
#[inline]
fn fourfold(a: &[f64], b: &[f64]) -> f64 {
    let (fours, rest) = a.as_chunks::<4>();
    let (others, last) = b.as_chunks::<4>();
    let mut sums = [0.0; 4];
    for (x, y) in fours.iter().zip(others) {
        for ((sum, x), y) in sums.iter_mut().zip(x).zip(y) {
            *sum += x * y;
        }
    }
    let [p, q, r, s] = sums;
    (p + q) + (r + s) + dot(rest, last)
}

fn split(values: &mut [f64]) -> Option<(&mut [f64], &mut f64)> {
    values.split_last_mut().map(|(last, rest)| (rest, last))
}

/// Solves `A x = b` in place for a few unknowns: `a` holds the rows of a symmetric matrix, of which the lower triangle is read and
/// becomes its decomposition, `b` becomes `x`. False when `a` is not positive definite to working precision or not finite.
///
/// ```
/// use rootling::math::dense::solve_rows;
/// let (mut a, mut b) = ([4.0, 2.0, 2.0, 5.0], [8.0, 12.0]);
/// assert!(solve_rows(&mut a, &mut b) && b == [1.0, 2.0]);
/// ```
pub fn solve_rows(a: &mut [f64], b: &mut [f64]) -> bool {
    solve_with(a, b, false)
}

/// The same for a matrix that need not be positive definite: a pivot below 0 changes its sign, so that steps of Newton leave a saddle while the
/// other coordinates keep their pace.
///
/// ```
/// use rootling::math::dense::solve_turned;
/// let (mut a, mut b) = ([4.0, 0.0, 0.0, -5.0], [8.0, 10.0]);
/// assert!(solve_turned(&mut a, &mut b) && b == [2.0, 2.0]);
/// ```
pub fn solve_turned(a: &mut [f64], b: &mut [f64]) -> bool {
    solve_with(a, b, true)
}

/// A pivot below 0 by less than this share of its diagonal entry may be rounding.
const TURNED: f64 = 1e-6;

fn solve_with(a: &mut [f64], b: &mut [f64], turn: bool) -> bool {
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
        let mut left = *diagonal - dot(before, before);
        if turn && left < -TURNED * diagonal.abs() {
            left = -left;
        }
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
