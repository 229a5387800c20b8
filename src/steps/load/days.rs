//! Days of start and steps: read in one order of day and month, and never earlier at a later step.

use super::cells::Cells;
use super::options::StepsOptions;
use crate::error::Issue;
use crate::trial::{DateOrder, Texts, order_of, written};

/// Columns of days along the chain.
pub(super) struct Days<'a> {
    order: DateOrder,
    /// The column of each step's day; None where a step has none.
    columns: Vec<Option<&'a str>>,
}

impl<'a> Days<'a> {
    pub(super) fn of(texts: &Texts, options: &'a StepsOptions, issues: &mut Vec<Issue>) -> Self {
        let along = options.steps.iter().chain(&options.last_step);
        let column = |step: &String| options.dates.iter().find(|one| one.step == *step).map(|one| one.column.as_str());
        let columns: Vec<Option<&str>> = along.map(column).collect();
        let named: Vec<&str> = columns.iter().copied().flatten().collect();
        let order =
            if named.is_empty() { DateOrder::DayFirst } else { order_of(texts, &named, options.day_first, issues) };
        Self { order, columns }
    }

    /// The days of one row, along the chain.
    pub(super) fn read(&self, cells: &Cells<'_>, issues: &mut Vec<Issue>) -> Vec<Option<i32>> {
        let mut found = Vec::new();
        let mut before: Option<(i32, &str)> = None;
        for column in &self.columns {
            let day = column.and_then(|column| Some((column, self.day(cells, column, issues)?)));
            if let (Some((earlier, of)), Some((column, day))) = (before, day)
                && day < earlier
            {
                let reason = format!(
                    "{} is before {} in {of:?}, a step earlier",
                    cells.cell(column).unwrap_or_default(),
                    cells.cell(of).unwrap_or_default()
                );
                issues.push(cells.issue("dates_out_of_order", column, reason, "correct one of the two dates"));
            }
            before = day.map(|(column, day)| (day, column)).or(before);
            found.push(day.map(|(_, day)| day));
        }
        found
    }

    fn day(&self, cells: &Cells<'_>, column: &str, issues: &mut Vec<Issue>) -> Option<i32> {
        let cell = cells.cell(column)?;
        let day = written(cell).and_then(|date| date.day(self.order));
        if day.is_none() {
            let reason = format!("{cell:?} is no date");
            issues.push(cells.issue("no_date", column, reason, "write it as 2026-03-31"));
        }
        day
    }
}
