//! Sparse symmetric positive definite matrices: decomposition, solution and the entries of the inverse within the pattern.

/// The pattern of `A = L D L'` for a fixed order of elimination, worked out once.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pattern {
    /// Where column `j` starts in `rows`.
    starts: Vec<usize>,
    /// Row numbers below the diagonal, ascending within a column, fill included.
    rows: Vec<usize>,
    /// For the pairs `(a, b)`, `a` before `b`, of every column's rows: the place of entry `(b, a)`.
    pairs: Vec<usize>,
}

/// A matrix on a pattern: its diagonal and the entries below it.
#[derive(Debug, Clone, PartialEq)]
pub struct Sparse {
    /// Diagonal.
    pub diagonal: Vec<f64>,
    /// Entries at [`Pattern::place`].
    pub below: Vec<f64>,
}

impl Pattern {
    /// The pattern of a matrix of that size with these entries `(i, j)`, `i != j`; fill is added.
    #[must_use]
    pub fn new(size: usize, entries: impl Iterator<Item = (usize, usize)>) -> Self {
        Self::within(size, entries, usize::MAX).unwrap_or_default()
    }

    /// The same; none when eliminating takes more than `most` products.
    #[must_use]
    pub fn within(size: usize, entries: impl Iterator<Item = (usize, usize)>, most: usize) -> Option<Self> {
        let mut products = 0_usize;
        let mut columns: Vec<Vec<usize>> = vec![Vec::new(); size];
        for (i, j) in entries {
            if let Some(column) = columns.get_mut(i.min(j)) {
                column.push(i.max(j));
            }
        }
        let mut pattern = Self { starts: vec![0], ..Self::default() };
        for j in 0..size {
            let mut rows = columns.get_mut(j).map(std::mem::take).unwrap_or_default();
            rows.sort_unstable();
            rows.dedup();
            // Eliminating j links the rest of its rows: they are passed on to the first of them.
            if let Some((parent, rest)) = rows.split_first()
                && let Some(column) = columns.get_mut(*parent)
            {
                column.extend(rest);
            }
            products += rows.len() * rows.len().saturating_sub(1) / 2;
            if products > most {
                return None;
            }
            pattern.rows.extend(rows);
            pattern.starts.push(pattern.rows.len());
        }
        let mut pairs = Vec::new();
        for j in 0..size {
            let rows = pattern.column(j);
            for (index, a) in rows.iter().enumerate() {
                pairs.extend(rows.iter().skip(index + 1).filter_map(|b| pattern.place(*b, *a)));
            }
        }
        pattern.pairs = pairs;
        Some(pattern)
    }

    /// Where the entries below the diagonal of column `j` are kept.
    pub(super) fn range(&self, j: usize) -> std::ops::Range<usize> {
        let at = |j: usize| self.starts.get(j).copied().unwrap_or(self.rows.len());
        at(j)..at(j + 1)
    }

    fn column(&self, j: usize) -> &[usize] {
        self.rows.get(self.range(j)).unwrap_or_default()
    }

    /// Number of rows.
    #[must_use]
    pub fn size(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    /// Where entry `(i, j)`, `i != j`, is kept.
    #[must_use]
    pub fn place(&self, i: usize, j: usize) -> Option<usize> {
        let (low, high) = (i.min(j), i.max(j));
        let range = self.range(low);
        self.column(low).binary_search(&high).ok().map(|offset| range.start + offset)
    }

    /// The identity.
    #[must_use]
    pub fn identity(&self) -> Sparse {
        Sparse { diagonal: vec![1.0; self.size()], below: vec![0.0; self.rows.len()] }
    }

    /// Turns `A` into `D` and `L` in place; false when a pivot is not positive.
    ///
    /// ```
    /// use rootling::math::sparse::Pattern;
    /// // 4 1 0 / 1 3 1 / 0 1 2
    /// let pattern = Pattern::new(3, [(0, 1), (1, 2)].into_iter());
    /// let mut a = pattern.identity();
    /// a.diagonal = vec![4.0, 3.0, 2.0];
    /// a.below = vec![1.0; 2];
    /// assert!(pattern.decompose(&mut a));
    /// let x = pattern.solve(&a, &[5.0, 5.0, 3.0]);
    /// assert!(x.iter().all(|x| approx::relative_eq!(*x, 1.0, epsilon = 0.0, max_relative = 1e-15)));
    /// // the corner of the inverse: (3 x 2 - 1 x 1) / 18
    /// approx::assert_abs_diff_eq!(pattern.inverse(&a).diagonal[0], 5.0 / 18.0, epsilon = 1e-15);
    /// ```
    #[must_use]
    pub fn decompose(&self, a: &mut Sparse) -> bool {
        let mut pairs = self.pairs.iter();
        for j in 0..self.size() {
            let pivot = a.diagonal.get(j).copied().unwrap_or(f64::NAN);
            if !(pivot > 0.0 && pivot.is_finite()) {
                return false;
            }
            let column: Vec<f64> = a.below.get(self.range(j)).unwrap_or_default().to_vec();
            for (index, (row, value)) in self.column(j).iter().zip(&column).enumerate() {
                let scaled = value / pivot;
                if let Some(d) = a.diagonal.get_mut(*row) {
                    *d -= scaled * value;
                }
                for (other, place) in column.iter().skip(index + 1).zip(pairs.by_ref()) {
                    if let Some(entry) = a.below.get_mut(*place) {
                        *entry -= scaled * other;
                    }
                }
            }
            for entry in a.below.get_mut(self.range(j)).unwrap_or_default() {
                *entry /= pivot;
            }
        }
        true
    }

    /// Solves `A x = b` from the decomposed `A`.
    #[must_use]
    pub fn solve(&self, ld: &Sparse, b: &[f64]) -> Vec<f64> {
        let mut x = b.to_vec();
        self.lower(ld, &mut x);
        x.iter_mut().zip(&ld.diagonal).for_each(|(x, d)| *x /= d);
        self.upper(ld, &mut x);
        x
    }

    /// Solves `L x = b` in place.
    pub(super) fn lower(&self, ld: &Sparse, x: &mut [f64]) {
        for j in 0..self.size() {
            let top = x.get(j).copied().unwrap_or(0.0);
            if top != 0.0 {
                for (row, l) in self.entries(ld, j) {
                    if let Some(entry) = x.get_mut(row) {
                        *entry -= l * top;
                    }
                }
            }
        }
    }

    /// Solves `L' x = b` in place.
    pub(super) fn upper(&self, ld: &Sparse, x: &mut [f64]) {
        for j in (0..self.size()).rev() {
            let below: f64 = self.entries(ld, j).map(|(row, l)| l * x.get(row).copied().unwrap_or(0.0)).sum();
            if let Some(entry) = x.get_mut(j) {
                *entry -= below;
            }
        }
    }

    /// Rows and values of column `j` below the diagonal.
    pub(super) fn entries<'a>(&'a self, ld: &'a Sparse, j: usize) -> impl Iterator<Item = (usize, f64)> + 'a {
        let values = ld.below.get(self.range(j)).unwrap_or_default();
        self.column(j).iter().copied().zip(values.iter().copied())
    }

    /// The entries of `A^-1` on the pattern, from the decomposed `A`.
    ///
    /// # References
    /// Takahashi, Fagan and Chin (1973); Erisman and Tinney (1975), Communications of the ACM 18:177-179.
    #[must_use]
    pub fn inverse(&self, ld: &Sparse) -> Sparse {
        let mut z = Sparse { diagonal: vec![0.0; self.size()], below: vec![0.0; self.rows.len()] };
        let mut end = self.pairs.len();
        for j in (0..self.size()).rev() {
            let (rows, l) = (self.column(j), ld.below.get(self.range(j)).unwrap_or_default());
            let n = rows.len();
            let begin = end - n * n.saturating_sub(1) / 2;
            let mut pairs = self.pairs.get(begin..end).unwrap_or_default().iter();
            end = begin;
            let mut column: Vec<f64> =
                rows.iter().zip(l).map(|(row, l)| -l * z.diagonal.get(*row).copied().unwrap_or(0.0)).collect();
            for a in 0..n {
                for b in a + 1..n {
                    let inside = pairs.next().and_then(|place| z.below.get(*place)).copied().unwrap_or(0.0);
                    if let (Some(la), Some(lb)) = (l.get(a), l.get(b)) {
                        if let Some(entry) = column.get_mut(a) {
                            *entry -= lb * inside;
                        }
                        if let Some(entry) = column.get_mut(b) {
                            *entry -= la * inside;
                        }
                    }
                }
            }
            let across: f64 = column.iter().zip(l).map(|(z, l)| z * l).sum();
            if let (Some(entry), Some(d)) = (z.diagonal.get_mut(j), ld.diagonal.get(j)) {
                *entry = 1.0 / d - across;
            }
            z.below.get_mut(self.range(j)).unwrap_or_default().copy_from_slice(&column);
        }
        z
    }

    /// `ln |A|` from the decomposed `A`.
    #[must_use]
    pub fn ln_determinant(ld: &Sparse) -> f64 {
        ld.diagonal.iter().map(|d| d.ln()).sum()
    }
}
