//! Counts as given: checked, and rows that are alike put together.

use ahash::{AHashMap, RandomState};

use super::numbers::{GivenColumn, GivenCounts, LawOfCounts};
use crate::error::{CountError, Result};
use crate::math::dense::Cholesky;
use crate::math::regression::counts::{CountCell, Zeros};

/// The largest count that is taken: more roots than any cutting has, and each count up to it is worked through.
const LARGEST: u64 = 1_000_000;
/// Patterns that are worked through in one go.
pub(super) const TOGETHER: usize = 2048;
/// Rows by which it is seen whether rows are alike at all.
const TRIED: usize = 1000;

/// A row of columns, and what is alike in all cuttings that share it.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Pattern {
    pub(super) group: usize,
    pub(super) columns: Vec<f64>,
    pub(super) offset: f64,
    /// Cuttings.
    pub(super) cuttings: f64,
}

/// What a group holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Held {
    pub(super) cuttings: u64,
    pub(super) any: u64,
    pub(super) total: u64,
    /// True where nobody has more than one.
    pub(super) ones: bool,
}

/// Counts put together.
#[derive(Debug, Clone)]
pub(super) struct Rows<'a> {
    pub(super) levels: &'a [String],
    pub(super) columns: &'a [GivenColumn],
    pub(super) patterns: Vec<Pattern>,
    pub(super) cells: Vec<CountCell>,
    pub(super) held: Vec<Held>,
    /// True with columns or an offset.
    pub(super) adjusted: bool,
}

impl<'a> Rows<'a> {
    pub(super) fn of(given: &'a GivenCounts) -> Result<Self> {
        check(given)?;
        let adjusted = !given.columns.is_empty() || !given.offset.is_empty();
        let mut held = vec![Held { ones: true, ..Held::default() }; given.levels.len()];
        for (count, group) in given.counts.iter().zip(&given.groups) {
            let Some(one) = held.get_mut(*group as usize) else { continue };
            one.cuttings += 1;
            one.any += u64::from(*count > 0);
            one.total += count;
            one.ones &= *count <= 1;
        }
        let (patterns, cells) = together(given);
        Ok(Self { levels: &given.levels, columns: &given.columns, patterns, cells, held, adjusted })
    }

    pub(super) fn cuttings(&self) -> u64 {
        self.held.iter().map(|one| one.cuttings).sum()
    }

    /// Refuses counts that a law has no number for.
    pub(super) fn check(&self, law: LawOfCounts) -> Result<()> {
        let (any, all) = self.held.iter().fold((0, 0), |(any, all), one| (any + one.any, all + one.cuttings));
        if any == 0 {
            return Err(CountError::NoneHasAny { cuttings: all }.into());
        }
        if law.zeros() == Zeros::Truncated && any < all {
            return Err(CountError::ZerosTruncated { zeros: all - any, cuttings: all }.into());
        }
        Ok(())
    }

    /// Names a column that groups and the columns before it make up.
    pub(super) fn check_columns(&self) -> Result<()> {
        let groups = self.held.len();
        let size = groups + self.columns.len();
        if self.columns.is_empty() {
            return Ok(());
        }
        let products = self.products(size);
        for (at, column) in self.columns.iter().enumerate() {
            let part: Vec<Vec<f64>> = products
                .iter()
                .take(groups + at + 1)
                .map(|row| row.iter().take(groups + at + 1).copied().collect())
                .collect();
            if Cholesky::new(&part).is_none_or(|root| root.smallest_share() < 1e-10) {
                return Err(CountError::ColumnNotApart { column: column.name.clone(), groups }.into());
            }
        }
        Ok(())
    }

    /// Products of groups and columns, each by its own length.
    fn products(&self, size: usize) -> Vec<Vec<f64>> {
        let groups = self.held.len();
        let mut products = vec![vec![0.0; size]; size];
        for pattern in &self.patterns {
            let own = pattern.columns.iter().enumerate().map(|(at, x)| (groups + at, *x));
            for (i, x) in std::iter::once((pattern.group, 1.0)).chain(own.clone()) {
                let Some(line) = products.get_mut(i) else { continue };
                for (j, y) in std::iter::once((pattern.group, 1.0)).chain(own.clone()) {
                    line.get_mut(j).into_iter().for_each(|slot| *slot += pattern.cuttings * x * y);
                }
            }
        }
        let length: Vec<f64> =
            products.iter().enumerate().filter_map(|(i, row)| row.get(i)).map(|x| x.sqrt()).collect();
        for (row, own) in products.iter_mut().zip(&length) {
            row.iter_mut().zip(&length).for_each(|(x, other)| *x /= own * other);
        }
        products
    }
}

fn check(given: &GivenCounts) -> Result<()> {
    let rows = given.counts.len();
    let of = |what: &'static str, found: usize| match found == rows {
        true => Ok(()),
        false => Err(CountError::UnmatchedList { what, found, of: "counts", expected: rows }),
    };
    if rows == 0 {
        return Err(CountError::NoCounts.into());
    }
    of("groups", given.groups.len())?;
    if !given.offset.is_empty() {
        of("offset", given.offset.len())?;
    }
    for column in &given.columns {
        if column.values.len() != rows {
            let (name, found) = (column.name.clone(), column.values.len());
            return Err(CountError::ColumnLength { name, found, expected: rows }.into());
        }
        if let Some(at) = column.values.iter().position(|x| !x.is_finite()) {
            return Err(CountError::NotANumber { name: column.name.clone(), index: at + 1 }.into());
        }
    }
    if let Some(at) = given.offset.iter().position(|x| !(x.is_finite() && x.abs() < 100.0)) {
        return Err(CountError::NotANumber { name: "offset".to_owned(), index: at + 1 }.into());
    }
    match given.counts.iter().enumerate().find(|(_, count)| **count > LARGEST) {
        Some((at, count)) => Err(CountError::CountTooLarge { index: at + 1, count: *count, most: LARGEST }.into()),
        None => Ok(()),
    }
}

/// Patterns and cells. Where hardly two rows are alike each stands for itself, which gives the same sums.
fn together(given: &GivenCounts) -> (Vec<Pattern>, Vec<CountCell>) {
    let key = |row: usize| -> Vec<u64> {
        let group = given.groups.get(row).copied().unwrap_or_default();
        let columns = given.columns.iter().filter_map(|column| column.values.get(row));
        // One 0, whatever its sign.
        let numbers = columns.chain(given.offset.get(row)).map(|x| (x + 0.0).to_bits());
        std::iter::once(u64::from(group)).chain(numbers).collect()
    };
    let made = |row: usize| Pattern {
        group: given.groups.get(row).copied().unwrap_or_default() as usize,
        columns: given.columns.iter().filter_map(|column| column.values.get(row)).copied().collect(),
        offset: given.offset.get(row).copied().unwrap_or_default(),
        cuttings: 0.0,
    };
    let rows = given.counts.len();
    let hashes = RandomState::with_seeds(1, 2, 3, 4);
    let mut tried: Vec<u64> = (0..rows.min(TRIED)).map(|row| hashes.hash_one(key(row))).collect();
    tried.sort_unstable();
    tried.dedup();
    if rows > 2 * TRIED && 10 * tried.len() > 9 * TRIED {
        let patterns = (0..rows).map(|row| Pattern { cuttings: 1.0, ..made(row) }).collect();
        let cell = |(pattern, count): (usize, &u64)| CountCell { pattern, count: *count, times: 1.0 };
        return (patterns, given.counts.iter().enumerate().map(cell).collect());
    }
    let mut places: AHashMap<Vec<u64>, usize> = AHashMap::new();
    let mut patterns: Vec<Pattern> = Vec::new();
    let mut times: AHashMap<(usize, u64), usize> = AHashMap::new();
    let mut cells: Vec<CountCell> = Vec::new();
    for (row, count) in given.counts.iter().enumerate() {
        let pattern = *places.entry(key(row)).or_insert_with(|| {
            patterns.push(made(row));
            patterns.len() - 1
        });
        patterns.get_mut(pattern).into_iter().for_each(|one| one.cuttings += 1.0);
        let cell = *times.entry((pattern, *count)).or_insert_with(|| {
            cells.push(CountCell { pattern, count: *count, times: 0.0 });
            cells.len() - 1
        });
        cells.get_mut(cell).into_iter().for_each(|one| one.times += 1.0);
    }
    (patterns, cells)
}
