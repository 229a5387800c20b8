//! Tall design matrices held as blocks of columns of which a row enters one at most: factor levels by codes, covariates by numbers.

use std::ops::Range;
use std::sync::{Arc, OnceLock};

use rayon::prelude::*;

use super::coded_rows::CodedRows;
use super::groups::Codes;
use super::products::{Products, RunSums};

/// Rows that are summed up together. Sums over more rows are made in this fixed split and added in its order, so that they do
/// not depend on the number of threads.
const ROWS_AT_ONCE: usize = 16_384;

/// Columns of which every row enters one at most.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    codes: Option<Arc<Codes>>,
    columns: Vec<Option<usize>>,
    numbers: Vec<Arc<Vec<f64>>>,
    reach: f64,
}

impl Block {
    /// A block with one code per row (none: every row has code 0), the column of each code, and numbers that are multiplied to
    /// the entry of each row (none: the entry is 1).
    #[must_use]
    pub fn new(codes: Option<Arc<Codes>>, columns: Vec<Option<usize>>, numbers: Vec<Arc<Vec<f64>>>) -> Self {
        let largest = |numbers: &Arc<Vec<f64>>| numbers.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        let reach = numbers.iter().map(largest).product();
        Self { codes, columns, numbers, reach }
    }

    /// The column a row enters.
    #[inline]
    fn column(&self, row: usize) -> Option<usize> {
        let code = match &self.codes {
            Some(codes) => codes.get(row)? as usize,
            None => 0,
        };
        *self.columns.get(code)?
    }

    /// Column and value of a row's entry.
    #[inline]
    fn entry(&self, row: usize) -> Option<(usize, f64)> {
        let column = self.column(row)?;
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
    /// The kind of each block: blocks with the same numbers are of one kind.
    kinds: Vec<usize>,
    /// The numbers of each kind.
    numbers: Vec<Vec<Arc<Vec<f64>>>>,
    /// First rows of the runs of rows with the same codes in every block.
    starts: OnceLock<Arc<Vec<u32>>>,
    /// The rows packed, once they were asked for.
    coded: OnceLock<Option<CodedRows>>,
}

/// Entries of one row: column and value.
pub type Entries = Vec<(usize, f64)>;

/// The entries of a row that are not 0.
#[must_use]
pub fn entries_of(row: &[f64]) -> Entries {
    row.iter().copied().enumerate().filter(|(_, x)| *x != 0.0).collect()
}

/// `x . b` of a row by its entries.
#[inline]
#[must_use]
pub fn along(entries: &[(usize, f64)], b: &[f64]) -> f64 {
    entries.iter().map(|(at, x)| b.get(*at).map_or(0.0, |b| x * b)).sum()
}

/// `y += c x` for a row by its entries.
#[inline]
pub fn add_entries(y: &mut [f64], c: f64, entries: &[(usize, f64)]) {
    for (at, x) in entries {
        if let Some(y) = y.get_mut(*at) {
            *y += c * x;
        }
    }
}

impl Columns {
    /// A matrix of blocks.
    ///
    /// ```
    /// use std::sync::Arc;
    /// use rootling::math::design::{Block, Codes, Columns};
    /// // An intercept and the second of two levels, for three rows.
    /// let codes = Arc::new(Codes::of(&[0, 1, 1], 2));
    /// let level = Block::new(Some(codes), vec![None, Some(1)], vec![]);
    /// let x = Columns::new(3, 2, vec![Block::new(None, vec![Some(0)], vec![]), level]);
    /// assert_eq!(x.times(&[2.0, 5.0]), [2.0, 7.0, 7.0]);
    /// ```
    #[must_use]
    pub fn new(rows: usize, width: usize, blocks: Vec<Block>) -> Self {
        Self::with_runs(rows, width, blocks, OnceLock::new())
    }

    fn with_runs(rows: usize, width: usize, blocks: Vec<Block>, starts: OnceLock<Arc<Vec<u32>>>) -> Self {
        let same = |a: &[Arc<Vec<f64>>], b: &[Arc<Vec<f64>>]| {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| Arc::ptr_eq(a, b))
        };
        let (mut kinds, mut numbers) = (Vec::new(), Vec::<Vec<Arc<Vec<f64>>>>::new());
        for block in &blocks {
            let known = numbers.iter().position(|known| same(known, &block.numbers));
            kinds.push(known.unwrap_or(numbers.len()));
            if known.is_none() {
                numbers.push(block.numbers.clone());
            }
        }
        Self { rows, width, blocks, kinds, numbers, starts, coded: OnceLock::new() }
    }

    /// A matrix of plain columns.
    #[must_use]
    pub fn dense(x: &[Vec<f64>], rows: usize) -> Self {
        let block = |(at, column): (usize, &Vec<f64>)| Block::new(None, vec![Some(at)], vec![Arc::new(column.clone())]);
        Self::new(rows, x.len(), x.iter().enumerate().map(block).collect())
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
        if columns.iter().copied().eq(0..self.width) {
            return self.clone();
        }
        let mut place = vec![None; self.width];
        for (new, old) in columns.iter().enumerate() {
            if let Some(slot) = place.get_mut(*old) {
                *slot = Some(new);
            }
        }
        let blocks = self.blocks.iter().map(|block| block.placed(&place));
        let blocks = blocks.filter(|block| block.columns.iter().any(Option::is_some)).collect();
        Self::with_runs(self.rows, columns.len(), blocks, self.starts.clone())
    }

    /// The rows packed; none where rows have numbers or are so many that they are summed in parts.
    pub(in crate::math) fn coded(&self) -> Option<&CodedRows> {
        let pack = || {
            let plain = self.rows <= ROWS_AT_ONCE && self.blocks.iter().all(|block| block.numbers.is_empty());
            let blocks = self.blocks.iter().map(|block| (block.codes.as_deref(), block.columns.as_slice()));
            plain.then(|| CodedRows::new(self.rows, self.width, blocks))
        };
        self.coded.get_or_init(pack).as_ref()
    }

    /// How many kinds of numbers there are.
    #[must_use]
    pub fn kinds(&self) -> usize {
        self.numbers.len()
    }

    /// The runs of rows with the same codes within some rows.
    pub fn runs(&self, rows: Range<usize>) -> impl Iterator<Item = Range<usize>> + '_ {
        let starts = self.starts.get_or_init(|| Arc::new(run_starts(&self.blocks, self.rows)));
        let first = starts.partition_point(|start| *start as usize <= rows.start).saturating_sub(1);
        let starts = starts.get(first..).unwrap_or_default();
        let ends = starts.iter().skip(1).map(|end| *end as usize).chain([self.rows]);
        let within = move |(start, end): (&u32, usize)| (*start as usize).max(rows.start)..end.min(rows.end);
        starts.iter().zip(ends).map(within).take_while(|run| !run.is_empty())
    }

    /// Kind and column of every block that a row enters, into `out`.
    #[inline]
    pub fn active(&self, row: usize, out: &mut Vec<(usize, usize)>) {
        out.clear();
        let blocks = self.blocks.iter().zip(&self.kinds);
        out.extend(blocks.filter_map(|(block, kind)| block.column(row).map(|column| (*kind, column))));
    }

    /// The number of each kind in a row, into `out`.
    #[inline]
    pub fn numbers(&self, row: usize, out: &mut [f64]) {
        for (out, numbers) in out.iter_mut().zip(&self.numbers) {
            *out = numbers.iter().map(|numbers| numbers.get(row).copied().unwrap_or(0.0)).product();
        }
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
        if let Some(rows) = self.coded() {
            return rows.along(&rows.places(b), |a, b| a + b);
        }
        let mut out = vec![0.0; self.rows];
        if self.rows <= ROWS_AT_ONCE {
            out.iter_mut().enumerate().for_each(|(row, place)| *place = self.row_times(row, b));
            return out;
        }
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

    /// No less than the sum of the sizes of what an entry of `X b` is made of.
    pub(in crate::math) fn longest_parts(&self, b: &[f64]) -> f64 {
        let size = |column: &Option<usize>| column.and_then(|at| b.get(at)).map_or(0.0, |b| b.abs());
        let most = |block: &Block| block.reach * block.columns.iter().map(size).fold(0.0, f64::max);
        self.blocks.iter().map(most).sum()
    }

    /// No less than the largest entry of `X b` in size; the largest itself when that bound is above `enough`.
    #[must_use]
    pub fn longest(&self, b: &[f64], enough: f64) -> f64 {
        let bound = self.longest_parts(b);
        if bound <= enough {
            return bound;
        }
        if self.coded().is_some() {
            return self.times(b).into_iter().fold(0.0, |most, x| most.max(x.abs()));
        }
        let over = |range: Range<usize>| range.map(|row| self.row_times(row, b).abs()).fold(0.0, f64::max);
        self.in_parts(over).into_iter().fold(0.0, f64::max)
    }

    /// What `sum` makes of each part of the rows, in order; parts run side by side.
    pub fn in_parts<T: Send>(&self, sum: impl Fn(Range<usize>) -> T + Sync) -> Vec<T> {
        if self.rows <= ROWS_AT_ONCE {
            return vec![sum(0..self.rows)];
        }
        let parts: Vec<Range<usize>> = self.parts().collect();
        parts.into_par_iter().map(&sum).collect()
    }

    /// The sums of all parts of the rows, joined in order. Few are held at once, so that those of many columns find room.
    pub fn joined<T: Send>(
        &self,
        sum: impl Fn(Range<usize>) -> T + Sync,
        mut join: impl FnMut(&mut T, T),
    ) -> Option<T> {
        if self.rows <= ROWS_AT_ONCE {
            return Some(sum(0..self.rows));
        }
        let at_once = ((1 << 24) / (self.width * self.width).max(1)).clamp(1, 16);
        let (parts, mut total) = (self.parts().collect::<Vec<_>>(), None);
        for wave in parts.chunks(at_once) {
            let found: Vec<T> = wave.to_vec().into_par_iter().map(&sum).collect();
            for part in found {
                match &mut total {
                    None => total = Some(part),
                    Some(total) => join(total, part),
                }
            }
        }
        total
    }

    fn parts(&self) -> impl Iterator<Item = Range<usize>> + '_ {
        (0..self.rows).step_by(ROWS_AT_ONCE).map(|start| start..(start + ROWS_AT_ONCE).min(self.rows))
    }

    /// `X' X`.
    #[must_use]
    pub fn products(&self) -> Products {
        if let Some(rows) = self.coded() {
            return rows.sums(&rows.places(&[]), |a, b| a + b, |_, _| (1.0, 0.0)).products;
        }
        let total = |range: Range<usize>| {
            let (mut sum, mut score) = (Products::new(self.width), vec![0.0; self.width]);
            let (mut run, mut numbers) = (RunSums::new(self.kinds()), vec![0.0; self.kinds()]);
            let mut active = Vec::new();
            for rows in self.runs(range) {
                self.active(rows.start, &mut active);
                run.clear();
                for row in rows {
                    self.numbers(row, &mut numbers);
                    run.add(1.0, 0.0, &numbers);
                }
                run.hand_over(&active, &mut sum, &mut score);
            }
            sum
        };
        self.joined(total, |total, part| total.join(&part)).unwrap_or_else(|| Products::new(self.width))
    }
}

/// The first row of each run of rows with the same codes in every block.
fn run_starts(blocks: &[Block], rows: usize) -> Vec<u32> {
    let codes: Vec<&Arc<Codes>> = blocks.iter().filter_map(|block| block.codes.as_ref()).collect();
    let apart = |row: &usize| *row == 0 || codes.iter().any(|codes| codes.get(*row) != codes.get(*row - 1));
    (0..rows).filter(apart).map(|row| row as u32).collect()
}
