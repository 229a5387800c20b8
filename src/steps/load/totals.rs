//! Rows that are no batch: sums, totals and averages below them, by the words that a trial knows them by.

use std::collections::HashSet;

use super::cells::Cells;
use super::options::StepsOptions;
use crate::error::Issue;
use crate::trial::label_word;

/// Looks for such rows; what was looked at once is not looked at again.
pub(super) struct Totals<'a> {
    /// Columns of batches and levels.
    columns: Vec<&'a str>,
    cleared: HashSet<(usize, &'a str)>,
}

impl<'a> Totals<'a> {
    pub(super) fn of(options: &'a StepsOptions) -> Self {
        let columns = options.batch.iter().map(String::as_str);
        let columns = columns.chain(options.levels().into_iter().map(|(_, column)| column));
        let columns = if options.has_checked("total_row") { Vec::new() } else { columns.collect() };
        Self { columns, cleared: HashSet::new() }
    }

    /// The issue of a row that says of itself that it is a sum or an average.
    pub(super) fn issue(&mut self, cells: &Cells<'a>) -> Option<Issue> {
        for (at, column) in self.columns.iter().enumerate() {
            let Some(cell) = cells.cell(column).filter(|cell| !self.cleared.contains(&(at, *cell))) else { continue };
            let Some(word) = label_word(cell, false).or_else(|| mark(cells, column, cell)) else {
                self.cleared.insert((at, cell));
                continue;
            };
            let reason =
                format!("{cell:?} says {word:?}, so the row looks like a sum or an average and not like a batch");
            let hint = "leave the row out; if it is a batch, say so with checked=[\"total_row\"]";
            let issue = cells.issue("total_row", column, reason, hint);
            return Some(issue.pasted(&format!("leave_out=[{}]", cells.row)));
        }
        None
    }
}

/// A mark such as "Av." or "all", which says so where it stands in one row alone.
fn mark(cells: &Cells<'_>, column: &str, cell: &str) -> Option<&'static str> {
    let word = label_word(cell, true)?;
    let same = cells.texts.column(column)?.iter().filter(|other| other.trim() == cell).count();
    (same == 1).then_some(word)
}
