//! Days of start and steps: read in one order of day and month, never earlier at a later step, none still to come, years as those of the
//! record.

use chrono::NaiveDate;

use super::cells::Cells;
use super::options::StepsOptions;
use crate::error::{Issue, Severity};
use crate::trial::{DateOrder, Texts, order_of, today, written};

const DAYS_OF_A_YEAR: f64 = 365.25;
/// Years from most dates of the record within which a date is not asked about.
const RECORD: f64 = 20.0;
/// Years from one step of a batch to the next.
const STEP: f64 = 5.0;

/// Columns of days along the chain.
pub(super) struct Days<'a> {
    order: DateOrder,
    /// The column of each step's day; None where a step has none.
    columns: Vec<Option<&'a str>>,
    today: i32,
    /// The middle of all days; None where years were looked into.
    middle: Option<i32>,
}

impl<'a> Days<'a> {
    pub(super) fn of(texts: &Texts, options: &'a StepsOptions, issues: &mut Vec<Issue>) -> Self {
        let along = options.steps.iter().chain(&options.last_step);
        let column = |step: &String| options.dates.iter().find(|one| one.step == *step).map(|one| one.column.as_str());
        let columns: Vec<Option<&str>> = along.map(column).collect();
        let named: Vec<&str> = columns.iter().copied().flatten().collect();
        let order =
            if named.is_empty() { DateOrder::DayFirst } else { order_of(texts, &named, options.day_first, issues) };
        let cells = named.iter().filter_map(|name| texts.column(name)).flatten();
        let mut days: Vec<i32> = cells.filter_map(|cell| written(cell)?.day(order)).collect();
        days.sort_unstable();
        let middle = days.get(days.len() / 2).copied().filter(|_| !options.has_checked("odd_year"));
        Self { order, columns, today: today(), middle }
    }

    /// The days of one row, along the chain; `is_counted` tells at which columns plants were counted, since other days may be planned.
    pub(super) fn read(
        &self,
        cells: &Cells<'_>,
        is_counted: impl Fn(usize) -> bool,
        issues: &mut Vec<Issue>,
    ) -> Vec<Option<i32>> {
        let mut found = Vec::new();
        let mut before: Option<(i32, &str)> = None;
        for (at, column) in self.columns.iter().enumerate() {
            let day = column.and_then(|column| Some((column, self.day(cells, column, issues)?)));
            if let Some((column, day)) = day {
                issues.extend(self.odd(cells, (column, day), before, is_counted(at)));
            }
            before = day.map(|(column, day)| (day, column)).or(before);
            found.push(day.map(|(_, day)| day));
        }
        found
    }

    /// What is odd about a day.
    fn odd(
        &self,
        cells: &Cells<'_>,
        (column, day): (&str, i32),
        before: Option<(i32, &str)>,
        counted: bool,
    ) -> Option<Issue> {
        let shown = cells.cell(column).unwrap_or_default();
        if let Some((_, of)) = before.filter(|(earlier, _)| day < *earlier) {
            let reason = format!("{shown} is before {} in {of:?}, a step earlier", cells.cell(of).unwrap_or_default());
            return Some(cells.issue("dates_out_of_order", column, reason, "correct one of the two dates"));
        }
        if counted && day > self.today {
            let reason = format!("{shown} is still to come, though plants were counted then");
            return Some(cells.issue("future_date", column, reason, "correct the date"));
        }
        let years = |other: i32| f64::from(day.abs_diff(other)) / DAYS_OF_A_YEAR;
        let far = self.middle.map(years).filter(|far| *far > RECORD);
        let reason = match (far, before.map(|(earlier, of)| (years(earlier), of)).filter(|(gap, _)| *gap > STEP)) {
            (Some(far), _) => format!("{shown} lies {far:.0} years from most dates of the record"),
            (None, Some((gap, of))) if self.is_usual(before) => {
                format!("{shown} is {gap:.0} years after {} in {of:?}", cells.cell(of).unwrap_or_default())
            }
            _ => return None,
        };
        let hint = "correct the year; if it is right, say checked=[\"odd_year\"]";
        let issue = cells.issue("odd_year", column, reason, hint).graded(Severity::Question);
        Some(issue.pasted("checked=[\"odd_year\"]"))
    }

    /// True for a day that was not asked about itself, where years are asked about.
    fn is_usual(&self, day: Option<(i32, &str)>) -> bool {
        let far = |(day, _): (i32, &str), middle: i32| f64::from(day.abs_diff(middle)) / DAYS_OF_A_YEAR > RECORD;
        day.zip(self.middle).is_some_and(|(day, middle)| !far(day, middle))
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

/// A day as it is written: 2026-03-31.
pub(super) fn shown(day: i32) -> String {
    NaiveDate::from_epoch_days(day).map_or_else(String::new, |date| date.format("%Y-%m-%d").to_string())
}

/// Seasons that are years, of which one lies far from the others or is still to come; `seasons` with a row of each.
pub(super) fn odd_seasons(seasons: &[(&str, u64)], column: &str) -> Vec<Issue> {
    let year = |text: &str| text.parse::<i32>().ok().filter(|year| (1000..=9999).contains(year));
    let next = 1971 + (f64::from(today()) / DAYS_OF_A_YEAR) as i32;
    // A year that is still to come says nothing of where the others lie.
    let mut years: Vec<i32> = seasons.iter().filter_map(|(text, _)| year(text)).filter(|year| *year <= next).collect();
    years.sort_unstable();
    let middle = years.get(years.len() / 2).copied().unwrap_or(next);
    let issue = |(text, row): &(&str, u64)| {
        let year = year(text)?;
        let reason = if year > next {
            format!("season {text} is still to come")
        } else if f64::from(year.abs_diff(middle)) > RECORD {
            format!("season {text} lies {} years from most seasons of the record", year.abs_diff(middle))
        } else {
            return None;
        };
        let hint = "correct the year; if it is right, say checked=[\"odd_year\"]";
        let issue = Issue::of_input("odd_year", reason, hint).at_row(*row).in_column(column).with_value(*text);
        Some(issue.graded(Severity::Question).pasted("checked=[\"odd_year\"]"))
    };
    seasons.iter().filter_map(issue).collect()
}
