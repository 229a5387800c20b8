//! Tall design matrices held as blocks of columns of which a row enters one at most: factor levels by codes, covariates by numbers.

use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;

/// Rows that are summed up together. Sums over more rows are made in this fixed split and added in its order, so that they do
/// not depend on the number of threads.
const ROWS_AT_ONCE: usize = 16_384;

/// Columns of which every row enters one at most.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    codes: Option<Arc<Vec<u32>>>,
    columns: Vec<Option<usize>>,
    numbers: Vec<Arc<Vec<f64>>>,
    reach: f64,
}

impl Block {
    /// A block with one code per row (none: every row has code 0), the column of each code, and numbers that are multiplied to
    /// the entry of each row (none: the entry is 1).
    #[must_use]
    pub fn new(codes: Option<Arc<Vec<u32>>>, columns: Vec<Option<usize>>, numbers: Vec<Arc<Vec<f64>>>) -> Self {
        let largest = |numbers: &Arc<Vec<f64>>| numbers.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        let reach = numbers.iter().map(largest).product();
        Self { codes, columns, numbers, reach }
    }

    /// Column and value of a row's entry.
    #[inline]
    fn entry(&self, row: usize) -> Option<(usize, f64)> {
        let code = match &self.codes {
            Some(codes) => *codes.get(row)? as usize,
            None => 0,
        };
        let column = (*self.columns.get(code)?)?;
        let mut value = 1.0;
        for numbers in &self.numbers {
            value *= numbers.get(row)?;
        }
        Some((column, value))
    }

    /// The same block with its columns at other places; those without a place are left out.
    fn placed(&self, place: &[Option<usize>]) -> Self {
        let new = |column: &Option<usize>| column.and_then(|column| place.get(column).copied().flatten());
        Self { columns: self.columns.iter().map(new).collect(), ..self.clone() }
    }
}

/// A matrix of `rows` rows and `width` columns.
#[derive(Debug, Clone, PartialEq)]
pub struct Columns {
    rows: usize,
    width: usize,
    blocks: Vec<Block>,
}

/// Entries of one row: column and value.
pub type Entries = Vec<(usize, f64)>;

impl Columns {
    /// A matrix of blocks.
    ///
    /// ```
    /// use std::sync::Arc;
    /// use rootling::math::columns::{Block, Columns};
    /// // An intercept and the second of two levels, for three rows.
    /// let level = Block::new(Some(Arc::new(vec![0, 1, 1])), vec![None, Some(1)], vec![]);
    /// let x = Columns::new(3, 2, vec![Block::new(None, vec![Some(0)], vec![]), level]);
    /// assert_eq!(x.times(&[2.0, 5.0]), [2.0, 7.0, 7.0]);
    /// ```
    #[must_use]
    pub fn new(rows: usize, width: usize, blocks: Vec<Block>) -> Self {
        Self { rows, width, blocks }
    }

    /// A matrix of plain columns.
    #[must_use]
    pub fn dense(x: &[Vec<f64>], rows: usize) -> Self {
        let block = |(at, column): (usize, &Vec<f64>)| Block::new(None, vec![Some(at)], vec![Arc::new(column.clone())]);
        Self { rows, width: x.len(), blocks: x.iter().enumerate().map(block).collect() }
    }

    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Number of columns.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// The matrix of some of the columns, in that order.
    #[must_use]
    pub fn kept(&self, columns: &[usize]) -> Self {
        let mut place = vec![None; self.width];
        for (new, old) in columns.iter().enumerate() {
            if let Some(slot) = place.get_mut(*old) {
                *slot = Some(new);
            }
        }
        let blocks = self.blocks.iter().map(|block| block.placed(&place));
        let blocks = blocks.filter(|block| block.columns.iter().any(Option::is_some)).collect();
        Self { rows: self.rows, width: columns.len(), blocks }
    }

    /// The entries of a row other than 0, into `out`.
    #[inline]
    pub fn entries(&self, row: usize, out: &mut Entries) {
        out.clear();
        out.extend(self.blocks.iter().filter_map(|block| block.entry(row)));
    }

    /// Plain columns.
    #[must_use]
    pub fn to_dense(&self) -> Vec<Vec<f64>> {
        let mut x = vec![vec![0.0; self.rows]; self.width];
        for block in &self.blocks {
            for row in 0..self.rows {
                if let Some((column, value)) = block.entry(row)
                    && let Some(place) = x.get_mut(column).and_then(|column| column.get_mut(row))
                {
                    *place += value;
                }
            }
        }
        x
    }

    /// `X b`.
    #[must_use]
    pub fn times(&self, b: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.rows];
        out.par_chunks_mut(ROWS_AT_ONCE).enumerate().for_each(|(chunk, out)| {
            for (place, row) in out.iter_mut().zip(chunk * ROWS_AT_ONCE..) {
                *place = self.row_times(row, b);
            }
        });
        out
    }

    #[inline]
    fn row_times(&self, row: usize, b: &[f64]) -> f64 {
        let part = |(column, value): (usize, f64)| b.get(column).map_or(0.0, |b| b * value);
        self.blocks.iter().filter_map(|block| block.entry(row)).map(part).sum()
    }

    /// No less than the largest entry of `X b` in size; the largest itself when that bound is above `enough`.
    #[must_use]
    pub fn longest(&self, b: &[f64], enough: f64) -> f64 {
        let size = |column: &Option<usize>| column.and_then(|at| b.get(at)).map_or(0.0, |b| b.abs());
        let most = |block: &Block| block.reach * block.columns.iter().map(size).fold(0.0, f64::max);
        let bound: f64 = self.blocks.iter().map(most).sum();
        if bound <= enough {
            return bound;
        }
        let over = |range: Range<usize>| range.map(|row| self.row_times(row, b).abs()).fold(0.0, f64::max);
        self.in_parts(over).into_iter().fold(0.0, f64::max)
    }

    /// What `sum` makes of each part of the rows, in order; parts run side by side.
    pub fn in_parts<T: Send>(&self, sum: impl Fn(Range<usize>) -> T + Sync) -> Vec<T> {
        let part = |start: usize| sum(start..(start + ROWS_AT_ONCE).min(self.rows));
        if self.rows <= ROWS_AT_ONCE {
            return vec![part(0)];
        }
        let starts: Vec<usize> = (0..self.rows).step_by(ROWS_AT_ONCE).collect();
        starts.into_par_iter().map(part).collect()
    }

    /// `X' X`, the lower triangle in rows.
    #[must_use]
    pub fn products(&self) -> Vec<Vec<f64>> {
        let parts = self.in_parts(|range| {
            let (mut sum, mut entries) = (Products::new(self.width), Entries::new());
            for row in range {
                self.entries(row, &mut entries);
                sum.add(1.0, &entries);
            }
            sum
        });
        let mut total = Products::new(self.width);
        parts.iter().for_each(|part| total.join(part));
        total.rows()
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

    /// Adds `w x x'`.
    #[inline]
    pub fn add(&mut self, w: f64, entries: &[(usize, f64)]) {
        for (at, (i, x)) in entries.iter().enumerate() {
            let scaled = w * x;
            for (j, y) in entries.iter().take(at + 1) {
                let (low, high) = if i < j { (i, j) } else { (j, i) };
                if let Some(sum) = self.sums.get_mut(high * self.width + low) {
                    *sum += scaled * y;
                }
            }
        }
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
