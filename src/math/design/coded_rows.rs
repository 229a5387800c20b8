//! Rows of a design whose entries are all 1: per row only the level it has in each block, packed for sums that are made many times.

use std::ops::Range;

use super::groups::Codes;
use super::products::Products;

/// Rows as slots: a block has a slot for each of its columns, and one for rows that enter none of them.
///
/// Rows that follow each other and have the same slots in all blocks but one (the inner block) are a run. What the rows of a run have in
/// common is worked out once, and the sums of their products go to the outer blocks once.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::math) struct CodedRows {
    width: usize,
    /// Columns that every row enters.
    always: Vec<usize>,
    /// Slots of each outer block, one block after the other.
    outer: Vec<Range<usize>>,
    /// The column of each outer slot.
    outer_columns: Vec<Option<usize>>,
    /// The column of each inner slot.
    inner_columns: Vec<Option<usize>>,
    /// The first row of each run, and the end of the last.
    starts: Vec<usize>,
    /// The outer slots of each run.
    run_slots: Vec<u32>,
    /// The inner slot of each row.
    row_slots: Vec<u32>,
}

/// One number per column of [`CodedRows`], laid out by slots; what the columns that every row enters have together stands first.
pub(in crate::math) struct Places {
    always: f64,
    outer: Vec<f64>,
    inner: Vec<f64>,
}

impl Places {
    #[inline]
    fn of_run(&self, slots: &[u32], join: impl Fn(f64, f64) -> f64) -> f64 {
        let value = |slot: &u32| self.outer.get(*slot as usize).copied().unwrap_or_default();
        slots.iter().map(value).fold(self.always, join)
    }

    /// The same with another number in every place.
    pub(in crate::math) fn map(mut self, change: impl Fn(f64) -> f64) -> Self {
        self.always = change(self.always);
        self.outer.iter_mut().chain(&mut self.inner).for_each(|number| *number = change(*number));
        self
    }
}

/// Sums of `w x x'` and of `u x` over coded rows.
pub(in crate::math) struct CodedSums {
    pub(in crate::math) products: Products,
    pub(in crate::math) score: Vec<f64>,
}

/// Rows of a run that are worked out together.
const AT_ONCE: usize = 16;

/// Codes of a block and the column of each code.
type Coded<'a> = (Option<&'a Codes>, &'a [Option<usize>]);

/// A block as slots: the slot of each code, and the column of each slot.
struct Slots<'a> {
    codes: &'a Codes,
    of_code: Vec<u32>,
    columns: Vec<Option<usize>>,
}

impl<'a> Slots<'a> {
    fn new(codes: &'a Codes, of_codes: &[Option<usize>]) -> Self {
        let (mut columns, mut none) = (Vec::with_capacity(of_codes.len()), None);
        let mut slot = |column: &Option<usize>| {
            let next = columns.len() as u32;
            if column.is_some() {
                columns.push(*column);
                return next;
            }
            *none.get_or_insert_with(|| {
                columns.push(None);
                next
            })
        };
        let of_code = of_codes.iter().map(&mut slot).collect();
        Self { codes, of_code, columns }
    }
}

impl CodedRows {
    /// Packs the blocks of a design of `rows` rows and `width` columns.
    pub(in crate::math) fn new<'a>(rows: usize, width: usize, blocks: impl Iterator<Item = Coded<'a>>) -> Self {
        let (mut always, mut coded) = (Vec::new(), Vec::new());
        for (codes, columns) in blocks {
            match codes {
                Some(codes) => coded.push(Slots::new(codes, columns)),
                None => always.extend(columns.first().copied().flatten()),
            }
        }
        // The block that changes most often from row to row lies inside.
        let changes = coded.iter().map(|slots| slots.codes.changes());
        let most = changes.enumerate().fold((0, 0), |most, (at, n)| if n >= most.1 { (at, n) } else { most });
        let inner = if coded.is_empty() { None } else { Some(coded.remove(most.0)) };
        let mut apart = vec![false; rows];
        coded.iter().for_each(|slots| slots.codes.mark_changes(&mut apart));
        let mut starts: Vec<usize> = vec![0];
        starts.extend(apart.iter().enumerate().filter(|(row, apart)| **apart && *row > 0).map(|(row, _)| row));
        let (mut outer, mut outer_columns) = (Vec::with_capacity(coded.len()), Vec::new());
        for slots in &coded {
            let first = outer_columns.len();
            outer_columns.extend(&slots.columns);
            outer.push(first..outer_columns.len());
        }
        let mut run_slots = Vec::with_capacity(starts.len() * outer.len());
        for start in &starts {
            for (slots, range) in coded.iter().zip(&outer) {
                let code = slots.codes.get(*start).unwrap_or_default() as usize;
                run_slots.push(slots.of_code.get(code).copied().unwrap_or_default() + range.start as u32);
            }
        }
        if outer.is_empty() {
            // Sums are kept by outer slots, so there is always one.
            outer.push(0..1);
            (outer_columns, run_slots) = (vec![None], vec![0]);
        }
        let (row_slots, inner_columns) = match inner {
            Some(slots) => (slots.codes.mapped(&slots.of_code), slots.columns),
            None => (vec![0; rows], vec![None]),
        };
        starts.push(rows);
        Self { width, always, outer, outer_columns, inner_columns, starts, run_slots, row_slots }
    }

    /// A number per column as slots; 0 for columns without a number.
    pub(in crate::math) fn places(&self, numbers: &[f64]) -> Places {
        let number = |column: &usize| numbers.get(*column).copied().unwrap_or(0.0);
        let spread =
            |columns: &[Option<usize>]| columns.iter().map(|column| column.as_ref().map_or(0.0, number)).collect();
        Places {
            always: self.always.iter().map(number).sum(),
            outer: spread(&self.outer_columns),
            inner: spread(&self.inner_columns),
        }
    }

    /// What `join` makes of the numbers of the columns that each row enters.
    pub(in crate::math) fn along(&self, places: &Places, join: impl Fn(f64, f64) -> f64) -> Vec<f64> {
        let mut out = Vec::with_capacity(self.row_slots.len());
        for (slots, ends) in self.run_slots.chunks_exact(self.outer.len()).zip(self.starts.windows(2)) {
            let [start, end] = *ends else { continue };
            let along = places.of_run(slots, &join);
            let inner = |slot: &u32| places.inner.get(*slot as usize).copied().unwrap_or_default();
            out.extend(self.row_slots.get(start..end).unwrap_or_default().iter().map(|slot| join(along, inner(slot))));
        }
        out
    }

    /// Sums of `w x x'` and `u x`. `join` puts together the numbers of the columns that a row enters, and `one` gives `w` and `u` of a
    /// row from what came out.
    #[inline]
    pub(in crate::math) fn sums(
        &self,
        places: &Places,
        join: impl Fn(f64, f64) -> f64,
        mut one: impl FnMut(usize, f64) -> (f64, f64),
    ) -> CodedSums {
        let mut table = Table::new(self);
        let blocks = self.outer.len();
        for (slots, ends) in self.run_slots.chunks_exact(blocks).zip(self.starts.windows(2)) {
            let [start, end] = *ends else { continue };
            let along = places.of_run(slots, &join);
            for (rows, inner) in
                (start..end).step_by(AT_ONCE).zip(self.row_slots.get(start..end).unwrap_or_default().chunks(AT_ONCE))
            {
                let (mut weights, mut scores) = ([0.0; AT_ONCE], [0.0; AT_ONCE]);
                let values = inner.iter().map(|slot| places.inner.get(*slot as usize).copied().unwrap_or_default());
                for (((w, u), value), row) in weights.iter_mut().zip(&mut scores).zip(values).zip(rows..) {
                    (*w, *u) = one(row, join(along, value));
                }
                table.add(slots, inner, &weights, &scores);
            }
        }
        table.gathered(self)
    }
}

/// Running sums by slots.
struct Table {
    inner: usize,
    outer: usize,
    /// `w` by outer slot and inner slot.
    across: Vec<f64>,
    /// `w` by two outer slots, the later block first.
    between: Vec<f64>,
    inner_scores: Vec<f64>,
    outer_scores: Vec<f64>,
    total: (f64, f64),
}

impl Table {
    fn new(rows: &CodedRows) -> Self {
        let (inner, outer) = (rows.inner_columns.len(), rows.outer_columns.len());
        Self {
            inner,
            outer,
            across: vec![0.0; outer * inner],
            between: vec![0.0; outer * outer],
            inner_scores: vec![0.0; inner],
            outer_scores: vec![0.0; outer],
            total: (0.0, 0.0),
        }
    }

    /// Adds rows of one run with their weights and scores.
    #[inline]
    fn add(&mut self, slots: &[u32], inner: &[u32], weights: &[f64], scores: &[f64]) {
        for (slot, u) in inner.iter().zip(scores) {
            if let Some(sum) = self.inner_scores.get_mut(*slot as usize) {
                *sum += u;
            }
        }
        let (w, u) = (weights.iter().sum::<f64>(), scores.iter().sum::<f64>());
        self.total = (self.total.0 + w, self.total.1 + u);
        for (at, slot) in slots.iter().enumerate() {
            let slot = *slot as usize;
            if let Some(line) = self.across.get_mut(slot * self.inner..(slot + 1) * self.inner) {
                for (inner, w) in inner.iter().zip(weights) {
                    if let Some(sum) = line.get_mut(*inner as usize) {
                        *sum += w;
                    }
                }
            }
            if let Some(sum) = self.outer_scores.get_mut(slot) {
                *sum += u;
            }
            for earlier in slots.iter().take(at) {
                if let Some(sum) = self.between.get_mut(slot * self.outer + *earlier as usize) {
                    *sum += w;
                }
            }
        }
    }

    /// The sums by columns.
    fn gathered(&self, rows: &CodedRows) -> CodedSums {
        let mut out = CodedSums { products: Products::new(rows.width), score: vec![0.0; rows.width] };
        for a in &rows.always {
            out.score_at(*a, self.total.1);
            rows.always.iter().filter(|b| *b <= a).for_each(|b| out.products.add(*a, *b, self.total.0));
        }
        let mut inner_totals = vec![0.0; self.inner];
        for (slot, line) in self.across.chunks_exact(self.inner).enumerate() {
            if rows.outer.first().is_some_and(|block| block.contains(&slot)) {
                inner_totals.iter_mut().zip(line).for_each(|(sum, w)| *sum += w);
            }
            let Some(Some(column)) = rows.outer_columns.get(slot) else { continue };
            let score = self.outer_scores.get(slot).copied().unwrap_or_default();
            out.column(&rows.always, *column, line.iter().sum(), score);
            let others = self.between.iter().skip(slot * self.outer).zip(&rows.outer_columns).take(self.outer);
            let cells = line.iter().zip(&rows.inner_columns).chain(others);
            cells
                .filter_map(|(w, other)| Some((w, (*other)?)))
                .for_each(|(w, other)| out.products.add(*column, other, *w));
        }
        for ((column, w), u) in rows.inner_columns.iter().zip(&inner_totals).zip(&self.inner_scores) {
            if let Some(column) = column {
                out.column(&rows.always, *column, *w, *u);
            }
        }
        out
    }
}

impl CodedSums {
    /// What a column has by itself and with the columns that every row enters.
    fn column(&mut self, always: &[usize], column: usize, w: f64, u: f64) {
        self.score_at(column, u);
        always.iter().chain([&column]).for_each(|other| self.products.add(column, *other, w));
    }

    fn score_at(&mut self, column: usize, u: f64) {
        if let Some(score) = self.score.get_mut(column) {
            *score += u;
        }
    }
}
