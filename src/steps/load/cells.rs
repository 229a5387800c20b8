//! Cells of one row, and what is told of them.

use crate::error::Issue;
use crate::trial::{Texts, filled};

/// One row of a record.
pub(super) struct Cells<'a> {
    pub(super) texts: &'a Texts,
    pub(super) at: usize,
    pub(super) row: u64,
}

impl<'a> Cells<'a> {
    /// What is written in a column; None where nothing is.
    pub(super) fn cell(&self, column: &str) -> Option<&'a str> {
        filled(self.texts.column(column)?.get(self.at)?)
    }

    /// A problem in a column.
    pub(super) fn issue(&self, code: &str, column: &str, reason: String, hint: &str) -> Issue {
        let issue = Issue::of_input(code, reason, hint).at_row(self.row).in_column(column);
        match self.cell(column) {
            Some(cell) => issue.with_value(cell),
            None => issue,
        }
    }

    /// A level, which has to be written.
    pub(super) fn label(&self, column: &str, issues: &mut Vec<Issue>) -> String {
        if let Some(label) = self.cell(column) {
            return label.to_owned();
        }
        let hint = "write it in, or leave the row out";
        issues.push(self.issue("missing_level", column, "nothing is written here".to_owned(), hint));
        String::new()
    }
}

/// The names in a cell of what a part came from: one, or several joined by +.
pub(super) fn part_names(cell: &str) -> Vec<String> {
    cell.split('+').map(str::trim).filter(|name| !name.is_empty()).map(str::to_owned).collect()
}
