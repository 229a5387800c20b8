//! Days as people and spreadsheets write them.

use std::time::{SystemTime, UNIX_EPOCH};

use chrono::NaiveDate;

use super::texts::Texts;
use crate::error::{Issue, Severity};

const SECONDS_OF_A_DAY: u64 = 86_400;

/// The last day that can be past, counted from 1 January 1970: by the clock with a day added, since clocks of other places are ahead.
pub(crate) fn today() -> i32 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    (since.as_secs() / SECONDS_OF_A_DAY) as i32 + 1
}

/// In what order day and month stand where the year comes last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum DateOrder {
    DayFirst,
    MonthFirst,
}

/// A date as three numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Written {
    /// Year, month, day.
    YearFirst(i32, u32, u32),
    /// Two numbers and a year, in one order or the other.
    YearLast(u32, u32, i32),
}

/// Reads three numbers; a time behind them is passed over.
pub(crate) fn written(text: &str) -> Option<Written> {
    let day = text.trim().split(['T', ' ']).next()?;
    let mark = ['-', '/', '.'].into_iter().find(|mark| day.contains(*mark))?;
    let parts: Vec<&str> = day.split(mark).collect();
    let [a, b, c] = parts.as_slice() else { return None };
    match (a.len(), b.len(), c.len()) {
        (4, 1..=2, 1..=2) => Some(Written::YearFirst(a.parse().ok()?, b.parse().ok()?, c.parse().ok()?)),
        (1..=2, 1..=2, 4) => Some(Written::YearLast(a.parse().ok()?, b.parse().ok()?, c.parse().ok()?)),
        _ => None,
    }
}

impl Written {
    /// Which order this date shows by itself.
    pub(crate) fn shows(self) -> Option<DateOrder> {
        match self {
            Self::YearLast(a, b, _) if a > 12 && b <= 12 => Some(DateOrder::DayFirst),
            Self::YearLast(a, b, _) if b > 12 && a <= 12 => Some(DateOrder::MonthFirst),
            _ => None,
        }
    }

    /// True where both orders give a date, and not the same.
    pub(crate) fn is_open(self) -> bool {
        matches!(self, Self::YearLast(a, b, _) if a <= 12 && b <= 12 && a != b)
    }

    /// The day, counted from 1 January 1970.
    pub(crate) fn day(self, order: DateOrder) -> Option<i32> {
        let (year, month, day) = match (self, order) {
            (Self::YearFirst(year, month, day), _)
            | (Self::YearLast(day, month, year), DateOrder::DayFirst)
            | (Self::YearLast(month, day, year), DateOrder::MonthFirst) => (year, month, day),
        };
        if !(1900..=2200).contains(&year) {
            return None;
        }
        Some(NaiveDate::from_ymd_opt(year, month, day)?.to_epoch_days())
    }
}

/// The order of day and month: as said, or as the dates of all columns show it.
pub(crate) fn order_of(texts: &Texts, columns: &[&str], day_first: Option<bool>, issues: &mut Vec<Issue>) -> DateOrder {
    if let Some(day_first) = day_first {
        return if day_first { DateOrder::DayFirst } else { DateOrder::MonthFirst };
    }
    let dates = || {
        let cells = columns.iter().filter_map(|name| Some((*name, texts.column(name)?)));
        cells.flat_map(|(name, cells)| cells.iter().zip(texts.numbers()).map(move |(cell, row)| (name, cell, row)))
    };
    let shown = |order: DateOrder| dates().find(|(_, cell, _)| written(cell).and_then(Written::shows) == Some(order));
    match (shown(DateOrder::DayFirst), shown(DateOrder::MonthFirst)) {
        (Some((_, one, first)), Some((column, other, row))) => {
            let reason = format!("{other:?} has the month first and {one:?} in row {first} the day");
            let hint = "write all dates in one way, best as 2026-03-31";
            issues.push(Issue::of_input("mixed_dates", reason, hint).at_row(*row).in_column(column).with_value(other));
            DateOrder::DayFirst
        }
        (None, Some(_)) => DateOrder::MonthFirst,
        (Some(_), None) => DateOrder::DayFirst,
        (None, None) => {
            if let Some((column, cell, row)) = dates().find(|(_, cell, _)| written(cell).is_some_and(Written::is_open))
            {
                let reason = format!("nothing shows whether {cell:?} has the day or the month first");
                let hint = "say day_first=True or day_first=False, or write dates as 2026-03-31";
                let issue = Issue::of_input("day_or_month_first", reason, hint).at_row(*row).in_column(column);
                issues.push(issue.with_value(cell).graded(Severity::Question).pasted("day_first=True"));
            }
            DateOrder::DayFirst
        }
    }
}
