//! Symmetric matrices that squares of rows are added to: `sum w x x'`.

use std::sync::Arc;

use super::cholesky::Cholesky;
use super::linalg::dot;
use crate::math::sparse::{Layout, Sparse, SparseRoot};

/// In full, or on a pattern where most entries are 0.
#[derive(Debug, Clone, PartialEq)]
pub enum NormalMatrix {
    /// In rows.
    Full(Vec<Vec<f64>>),
    /// On a pattern.
    Sparse {
        /// The pattern.
        layout: Arc<Layout>,
        /// The values on it.
        values: Sparse,
    },
}

impl NormalMatrix {
    /// The matrix 0 that the squares of some rows will be added to.
    ///
    /// ```
    /// use rootling::math::dense::NormalMatrix;
    /// let rows = [vec![(0, 2.0), (1, 1.0)], vec![(1, 2.0)]];
    /// let mut sum = NormalMatrix::zero(2, None);
    /// rows.iter().for_each(|row| sum.add_square(1.0, row));
    /// // 4 2 / 2 5
    /// assert_eq!(sum.root().map(|root| root.solve(&[8.0, 12.0])), Some(vec![1.0, 2.0]));
    /// ```
    #[must_use]
    pub fn zero(size: usize, layout: Option<&Arc<Layout>>) -> Self {
        match layout {
            Some(layout) => Self::Sparse { layout: Arc::clone(layout), values: layout.zero() },
            None => Self::Full(vec![vec![0.0; size]; size]),
        }
    }

    /// The pattern of the squares of some rows, where it is worth while.
    #[must_use]
    pub fn layout<'a>(size: usize, rows: impl Iterator<Item = &'a [(usize, f64)]>) -> Option<Arc<Layout>> {
        if size < crate::math::sparse::MANY {
            return None;
        }
        let mut pairs = Vec::new();
        for row in rows {
            for (at, (i, _)) in row.iter().enumerate() {
                pairs.extend(row.iter().take(at).map(|(j, _)| (*i.max(j), *i.min(j))));
            }
            if pairs.len() > size * size {
                pairs.sort_unstable();
                pairs.dedup();
                if pairs.len() > size * size / 4 {
                    return None;
                }
            }
        }
        pairs.sort_unstable();
        pairs.dedup();
        Layout::new(size, &pairs)
    }

    /// Adds `weight` times `row row'`.
    pub fn add_square(&mut self, weight: f64, row: &[(usize, f64)]) {
        for (at, (i, x)) in row.iter().enumerate() {
            self.add((*i, *i), weight * x * x);
            row.iter().take(at).for_each(|(j, y)| self.add((*i, *j), weight * x * y));
        }
    }

    /// Adds to an entry and its mirror image; a pattern that has no place for it is given up.
    fn add(&mut self, (i, j): (usize, usize), more: f64) {
        if let Self::Sparse { layout, values } = self {
            if layout.add(values, (i, j), more) {
                return;
            }
            *self = Self::Full(in_full(layout, values));
        }
        let Self::Full(rows) = self else { return };
        for (a, b) in if i == j { [Some((i, j)), None] } else { [Some((i, j)), Some((j, i))] }.into_iter().flatten() {
            if let Some(entry) = rows.get_mut(a).and_then(|row| row.get_mut(b)) {
                *entry += more;
            }
        }
    }

    /// `A x`.
    #[must_use]
    pub fn times(&self, x: &[f64]) -> Vec<f64> {
        match self {
            Self::Full(rows) => rows.iter().map(|row| dot(row, x)).collect(),
            Self::Sparse { layout, values } => layout.times(values, x),
        }
    }

    /// The decomposition; none when the matrix is not positive definite to working precision.
    #[must_use]
    pub fn root(&self) -> Option<Cholesky> {
        match self {
            Self::Full(rows) => Cholesky::new(rows),
            Self::Sparse { layout, values } => SparseRoot::new(layout, values).map(Cholesky::sparse),
        }
    }
}

fn in_full(layout: &Layout, values: &Sparse) -> Vec<Vec<f64>> {
    let mut rows = vec![vec![0.0; layout.size()]; layout.size()];
    for (i, j, value) in layout.each(values) {
        for (a, b) in [(i, j), (j, i)] {
            if let Some(entry) = rows.get_mut(a).and_then(|row| row.get_mut(b)) {
                *entry = value;
            }
        }
    }
    rows
}
