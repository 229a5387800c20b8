//! Large symmetric matrices with few entries, decomposed with the columns of fewest entries first.
//!
//! The levels of a factor never meet in one row of a design, so their part of `X' W X` is diagonal. Eliminated first it
//! leaves the few other columns, and the work grows with the number of levels instead of with its third power.

use std::sync::Arc;

use super::pattern::{Pattern, Sparse};

/// Matrices with fewer columns are always decomposed in full.
pub const MANY: usize = 48;
/// The share of the products of a full decomposition that a sparse one may take: each costs more, since its places are
/// looked up.
const WORTH: usize = 16;
/// Products at most, which bounds what the pattern takes.
const MOST: usize = 1 << 22;
/// A pivot this small beside its diagonal entry counts as zero.
const SMALLEST_PIVOT: f64 = 1e-14;

/// An order of elimination with its pattern.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Columns in the order of elimination.
    order: Vec<usize>,
    /// The place of each column in that order.
    place: Vec<usize>,
    pattern: Pattern,
}

impl Layout {
    /// For a matrix with these entries `(i, j)` off the diagonal; none where it is small or a full decomposition is no
    /// dearer.
    #[must_use]
    pub fn new(size: usize, entries: &[(usize, usize)]) -> Option<Arc<Self>> {
        if size < MANY || entries.len() > size * size / 4 {
            return None;
        }
        let mut count = vec![0_usize; size];
        let ends = entries.iter().filter(|(i, j)| i != j).flat_map(|(i, j)| [*i, *j]);
        ends.for_each(|end| {
            if let Some(count) = count.get_mut(end) {
                *count += 1;
            }
        });
        let mut order: Vec<usize> = (0..size).collect();
        order.sort_by_key(|j| (count.get(*j).copied(), std::cmp::Reverse(*j)));
        let mut place = vec![0; size];
        for (at, column) in order.iter().enumerate() {
            if let Some(slot) = place.get_mut(*column) {
                *slot = at;
            }
        }
        let turned =
            entries.iter().filter(|(i, j)| i != j).filter_map(|(i, j)| Some((*place.get(*i)?, *place.get(*j)?)));
        let most = (size.pow(3) / 6 / WORTH).min(MOST);
        let pattern = Pattern::within(size, turned, most)?;
        Some(Arc::new(Self { order, place, pattern }))
    }

    /// Number of columns.
    #[must_use]
    pub fn size(&self) -> usize {
        self.order.len()
    }

    /// The matrix 0.
    #[must_use]
    pub fn zero(&self) -> Sparse {
        Sparse { diagonal: vec![0.0; self.size()], ..self.pattern.identity() }
    }

    /// Adds to an entry; false where the pattern has none.
    #[must_use]
    pub fn add(&self, values: &mut Sparse, (i, j): (usize, usize), more: f64) -> bool {
        let (Some(a), Some(b)) = (self.place.get(i), self.place.get(j)) else { return false };
        let entry = if a == b {
            values.diagonal.get_mut(*a)
        } else {
            self.pattern.place(*a, *b).and_then(|at| values.below.get_mut(at))
        };
        entry.map(|entry| *entry += more).is_some()
    }

    /// Every entry on and below the diagonal of the order of elimination, with its value.
    pub fn each<'a>(&'a self, values: &'a Sparse) -> impl Iterator<Item = (usize, usize, f64)> + 'a {
        let old = |at: usize| self.order.get(at).copied().unwrap_or(0);
        let diagonal = values.diagonal.iter().enumerate().map(move |(at, x)| (old(at), old(at), *x));
        let below = (0..self.size())
            .flat_map(move |j| self.pattern.entries(values, j).map(move |(row, x)| (old(row), old(j), x)));
        diagonal.chain(below)
    }

    /// `A x`.
    #[must_use]
    pub fn times(&self, values: &Sparse, x: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.size()];
        let mut add = |i: usize, by: f64, j: usize| {
            if let (Some(out), Some(x)) = (out.get_mut(i), x.get(j)) {
                *out += by * x;
            }
        };
        for (i, j, value) in self.each(values) {
            add(i, value, j);
            if i != j {
                add(j, value, i);
            }
        }
        out
    }

    fn turned(&self, x: &[f64]) -> Vec<f64> {
        self.order.iter().map(|column| x.get(*column).copied().unwrap_or(0.0)).collect()
    }

    fn turned_back(&self, x: &[f64]) -> Vec<f64> {
        self.place.iter().map(|at| x.get(*at).copied().unwrap_or(0.0)).collect()
    }
}

/// `A = P' L D L' P`.
#[derive(Debug, Clone, PartialEq)]
pub struct SparseRoot {
    layout: Arc<Layout>,
    ld: Sparse,
    smallest_share: f64,
}

impl SparseRoot {
    /// None when the matrix is not positive definite to working precision or not finite.
    #[must_use]
    pub fn new(layout: &Arc<Layout>, values: &Sparse) -> Option<Self> {
        let mut ld = values.clone();
        if !layout.pattern.decompose(&mut ld) {
            return None;
        }
        let shares = ld.diagonal.iter().zip(&values.diagonal).map(|(left, whole)| left / whole.abs());
        let smallest_share = shares.fold(1.0, f64::min);
        let sound = smallest_share > SMALLEST_PIVOT && ld.diagonal.iter().all(|d| d.is_finite());
        sound.then(|| Self { layout: Arc::clone(layout), ld, smallest_share })
    }

    /// From the rows of a lower triangle; none where most entries are not 0, or where a full decomposition has to tell.
    pub(in crate::math) fn of_rows(rows: &[&[f64]]) -> Option<Self> {
        let size = rows.len();
        if size < MANY {
            return None;
        }
        let mut entries = Vec::new();
        for (i, row) in rows.iter().enumerate() {
            entries.extend(row.iter().take(i).enumerate().filter(|(_, x)| **x != 0.0).map(|(j, _)| (i, j)));
            if entries.len() > size * size / 4 {
                return None;
            }
        }
        let layout = Layout::new(size, &entries)?;
        let mut values = layout.zero();
        let diagonal = (0..size).map(|i| (i, i));
        for (i, j) in entries.into_iter().chain(diagonal) {
            if !layout.add(&mut values, (i, j), *rows.get(i)?.get(j)?) {
                return None;
            }
        }
        Self::new(&layout, &values)
    }

    pub(in crate::math) fn smallest_share(&self) -> f64 {
        self.smallest_share
    }

    fn roots(&self) -> impl Iterator<Item = f64> + '_ {
        self.ld.diagonal.iter().map(|d| d.sqrt())
    }

    /// `D^(-1/2) L^-1 P b`.
    pub(in crate::math) fn forward(&self, b: &[f64]) -> Vec<f64> {
        let mut x = self.layout.turned(b);
        self.layout.pattern.lower(&self.ld, &mut x);
        x.iter_mut().zip(self.roots()).for_each(|(x, root)| *x /= root);
        x
    }

    /// `P' L'^-1 D^(-1/2) z`.
    pub(in crate::math) fn backward(&self, z: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = z.iter().zip(self.roots()).map(|(x, root)| x / root).collect();
        self.layout.pattern.upper(&self.ld, &mut x);
        self.layout.turned_back(&x)
    }

    pub(in crate::math) fn inverse(&self) -> Vec<Vec<f64>> {
        let size = self.layout.size();
        let column = |j: usize| {
            let unit: Vec<f64> = (0..size).map(|i| f64::from(u8::from(i == j))).collect();
            self.backward(&self.forward(&unit))
        };
        (0..size).map(column).collect()
    }

    pub(in crate::math) fn ln_determinant(&self) -> f64 {
        Pattern::ln_determinant(&self.ld)
    }

    /// `x' A^-1 x` of rows with few entries, all of whose pairs lie in the pattern; the others are solved for.
    pub(in crate::math) fn spreads<'a>(&self, rows: impl Iterator<Item = &'a [(usize, f64)]>) -> Vec<f64> {
        let inverse = self.layout.pattern.inverse(&self.ld);
        let entry = |i: usize, j: usize| -> Option<f64> {
            let (a, b) = (*self.layout.place.get(i)?, *self.layout.place.get(j)?);
            if a == b {
                inverse.diagonal.get(a).copied()
            } else {
                inverse.below.get(self.layout.pattern.place(a, b)?).copied()
            }
        };
        let known = |row: &[(usize, f64)]| -> Option<f64> {
            let mut sum = 0.0;
            for (at, (i, x)) in row.iter().enumerate() {
                sum += x * x * entry(*i, *i)?;
                for (j, y) in row.iter().skip(at + 1) {
                    sum += 2.0 * x * y * entry(*i, *j)?;
                }
            }
            Some(sum)
        };
        let solved = |row: &[(usize, f64)]| {
            let mut whole = vec![0.0; self.layout.size()];
            row.iter().for_each(|(i, x)| {
                if let Some(slot) = whole.get_mut(*i) {
                    *slot += x;
                }
            });
            self.forward(&whole).iter().map(|x| x * x).sum()
        };
        rows.map(|row| known(row).unwrap_or_else(|| solved(row))).collect()
    }
}
