//! Cells of one row of visits: counts, days and levels, and what is told of them.

use super::options::VisitsOptions;
use crate::error::Issue;
use crate::trial::{Texts, filled, plants};

/// The last day that is believed.
const LAST_DAY: f64 = 20_000.0;

/// One row of a record.
pub(super) struct Row<'a> {
    pub(super) texts: &'a Texts,
    pub(super) options: &'a VisitsOptions,
    pub(super) at: usize,
    pub(super) row: u64,
}

/// What stands in a row beside counts and days.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Labels {
    pub(super) tray: String,
    pub(super) levels: Vec<String>,
    pub(super) block: String,
}

impl<'a> Row<'a> {
    /// The rows that are to be read.
    pub(super) fn all(texts: &'a Texts, options: &'a VisitsOptions) -> impl Iterator<Item = Self> + 'a {
        let there = texts.numbers().iter().enumerate();
        let there = there.filter(move |(at, row)| !texts.is_blank(*at) && !options.leave_out.contains(row));
        there.map(move |(at, row)| Self { texts, options, at, row: *row })
    }

    /// What is written in a column; None where nothing is.
    pub(super) fn cell(&self, column: &str) -> Option<&str> {
        filled(self.texts.column(column)?.get(self.at)?)
    }

    /// A problem in a column.
    pub(super) fn issue(&self, code: &str, column: &str, reason: String, hint: impl Into<String>) -> Issue {
        let issue = Issue::of_input(code, reason, hint).at_row(self.row).in_column(column);
        match self.cell(column) {
            Some(cell) => issue.with_value(cell),
            None => issue,
        }
    }

    /// The number of plants in a column.
    pub(super) fn count(&self, column: &str, issues: &mut Vec<Issue>) -> Option<u64> {
        let found = plants(self.cell(column).unwrap_or_default());
        found.map_err(|(code, reason, hint)| issues.push(self.issue(code, column, reason, hint))).ok()
    }

    /// The day in a column.
    pub(super) fn day(&self, column: &str, issues: &mut Vec<Issue>) -> Option<u64> {
        let hint = "write whole days since setting, as 28; of dates write how many days after setting they lie";
        let Some(cell) = self.cell(column) else {
            issues.push(self.issue("missing_day", column, "no day is written here".to_owned(), hint));
            return None;
        };
        let value = cell.parse::<f64>().ok().filter(|day| day.fract() == 0.0 && (0.0..=LAST_DAY).contains(day));
        if value.is_none() {
            let reason = match cell.parse::<f64>() {
                Ok(day) if day < 0.0 => format!("day {cell} lies before setting"),
                _ => format!("{cell:?} is no day since setting"),
            };
            issues.push(self.issue("no_day", column, reason, hint));
        }
        value.map(|day| day as u64)
    }

    /// Tray, levels and block, which have to be written.
    pub(super) fn labels(&self, issues: &mut Vec<Issue>) -> Labels {
        let mut label = |column: &String| match self.cell(column) {
            Some(label) => label.to_owned(),
            None => {
                let hint = "write it in, or leave the row out";
                issues.push(self.issue("missing_level", column, "nothing is written here".to_owned(), hint));
                String::new()
            }
        };
        Labels {
            tray: self.options.tray.as_ref().map(&mut label).unwrap_or_default(),
            levels: self.options.treatments.iter().map(&mut label).collect(),
            block: self.options.block.as_ref().map(&mut label).unwrap_or_default(),
        }
    }
}

/// What a tray that is told to be of two kinds is: the column, and both.
pub(super) fn at_odds(options: &VisitsOptions, one: &Labels, two: &Labels) -> Option<(String, String, String)> {
    let columns = options.treatments.iter().chain(&options.block);
    let pairs = one.levels.iter().chain([&one.block]).zip(two.levels.iter().chain([&two.block]));
    let (column, (first, second)) = columns.zip(pairs).find(|(_, (first, second))| first != second)?;
    Some((column.clone(), first.clone(), second.clone()))
}
