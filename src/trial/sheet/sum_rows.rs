//! Rows that are sums by their counts alone. Trays of different sizes add up by chance now and then, two small ones most easily, so that
//! alone is no reason to stop: a sum stands at the end of the sheet or of its group, or without a label, or does not stand alone.

use super::totals::sums;

/// Rows that a sum holds to be believed by its place at the end of a group.
const ROWS: usize = 3;

/// The counts and labels of a sheet, by row.
#[derive(Debug)]
pub struct Counted<'a> {
    /// Rooted and stuck; none where a row has no counts.
    pub counts: &'a [Option<(u64, u64)>],
    /// The label columns, none where a cell is blank: equal numbers are equal labels.
    pub labels: &'a [Vec<Option<usize>>],
}

/// The rows that are sums of those above them, as far as that is believable: two or more of them, or one in which something besides the
/// counts says so.
///
/// Drawn trials of 2 to 6 treatments with 3 to 12 trays of 5 to 40 cuttings: `tests/rust/sum_rows.rs`.
#[must_use]
pub fn sum_rows(sheet: &Counted<'_>) -> Vec<usize> {
    let mut by_chance: Vec<usize> = Vec::new();
    loop {
        let found = sums(sheet.counts.iter().copied(), &by_chance);
        let [only] = found.as_slice() else { return found.into_iter().map(|one| one.row).collect() };
        if sheet.is_last(only.row) || sheet.lacks_a_label(only.row) || sheet.ends_a_group(only.row, only.from) {
            return vec![only.row];
        }
        by_chance.push(only.row);
    }
}

impl Counted<'_> {
    fn after(&self, row: usize) -> Option<usize> {
        (row + 1..self.counts.len()).find(|row| self.counts.get(*row).is_some_and(Option::is_some))
    }

    fn is_last(&self, row: usize) -> bool {
        self.after(row).is_none()
    }

    /// A blank label in a column that most rows have one in.
    fn lacks_a_label(&self, row: usize) -> bool {
        let blank = |column: &&Vec<Option<usize>>| column.get(row) == Some(&None);
        self.labels.iter().filter(blank).any(|column| 2 * column.iter().flatten().count() > column.len())
    }

    /// The rows that were summed have one label in some column, and the next row has another.
    fn ends_a_group(&self, row: usize, from: usize) -> bool {
        let summed: Vec<usize> = (from..row).filter(|row| self.counts.get(*row).is_some_and(Option::is_some)).collect();
        let (Some(after), Some(first)) = (self.after(row), summed.first()) else { return false };
        let ends = |column: &Vec<Option<usize>>| {
            let own = column.get(*first);
            summed.iter().all(|row| column.get(*row) == own) && column.get(after) != own
        };
        summed.len() >= ROWS && self.labels.iter().any(ends)
    }
}
