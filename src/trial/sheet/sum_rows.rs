//! Rows that are sums by their counts alone. Trays of different sizes add up by chance now and then, two small ones most easily, so that
//! alone is no reason to stop: a sum stands at the end of the sheet or of its group, or without a label, or does not stand alone.

use std::ops::Range;

use super::totals::sums;

/// Rows that a sum holds to be believed by its place at the end of a group.
const ROWS: usize = 3;

/// The counts and labels of a sheet, by row.
#[derive(Debug)]
pub(crate) struct Counted<'a> {
    /// Rooted and stuck; none where a row has no counts.
    pub counts: &'a [Option<(u64, u64)>],
    /// The label columns, none where a cell is blank: equal numbers are equal labels.
    pub labels: &'a [Vec<Option<usize>>],
}

/// The rows that are sums of those above them, as far as that is believable: sums of different rows, or one (with its repeats) in which
/// something besides the counts says so.
///
/// Drawn trials of 2 to 6 treatments with 3 to 12 trays of 5 to 40 cuttings: `tests/rust/sum_rows.rs`.
#[must_use]
pub(crate) fn sum_rows(sheet: &Counted<'_>) -> Vec<usize> {
    let mut by_chance: Vec<usize> = Vec::new();
    loop {
        let found = sums(sheet.counts.iter().copied(), &by_chance);
        let rows: Vec<usize> = found.iter().map(|one| one.row).collect();
        let (Some(first), Some(last)) = (found.first(), rows.last()) else { return rows };
        let believed = sheet.holds_trays(first.row..*last, &rows)
            || sheet.is_last(*last)
            || rows.iter().any(|row| sheet.lacks_a_label(*row))
            || sheet.ends_a_group(first.from..first.row, *last);
        if believed {
            return rows;
        }
        by_chance.extend(rows);
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

    /// Trays stand between sums: these do not all sum the same rows.
    fn holds_trays(&self, between: Range<usize>, sums: &[usize]) -> bool {
        self.counted(between).iter().any(|row| !sums.contains(row))
    }

    fn counted(&self, rows: Range<usize>) -> Vec<usize> {
        rows.filter(|row| self.counts.get(*row).is_some_and(Option::is_some)).collect()
    }

    /// The rows that were summed have one label in some column, and the row after the sum has another.
    fn ends_a_group(&self, summed: Range<usize>, sum: usize) -> bool {
        let summed = self.counted(summed);
        let (Some(after), Some(first)) = (self.after(sum), summed.first()) else { return false };
        let ends = |column: &Vec<Option<usize>>| {
            let own = column.get(*first);
            summed.iter().all(|row| column.get(*row) == own) && column.get(after) != own
        };
        summed.len() >= ROWS && self.labels.iter().any(ends)
    }
}
