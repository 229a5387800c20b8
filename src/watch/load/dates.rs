//! Days as people and spreadsheets write them.

use chrono::{Datelike, NaiveDate};

/// In what order day and month stand where the year comes last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    DayFirst,
    MonthFirst,
}

/// A date as three numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Written {
    /// Year, month, day.
    YearFirst(i32, u32, u32),
    /// Two numbers and a year, in one order or the other.
    YearLast(u32, u32, i32),
}

/// Reads three numbers; a time behind them is passed over.
pub(super) fn written(text: &str) -> Option<Written> {
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
    pub(super) fn shows(self) -> Option<Order> {
        match self {
            Self::YearLast(a, b, _) if a > 12 && b <= 12 => Some(Order::DayFirst),
            Self::YearLast(a, b, _) if b > 12 && a <= 12 => Some(Order::MonthFirst),
            _ => None,
        }
    }

    /// True where both orders give a date, and not the same.
    pub(super) fn is_open(self) -> bool {
        matches!(self, Self::YearLast(a, b, _) if a <= 12 && b <= 12 && a != b)
    }

    /// The day, counted from 1 January 1970.
    pub(super) fn day(self, order: Order) -> Option<i32> {
        let (year, month, day) = match (self, order) {
            (Self::YearFirst(year, month, day), _)
            | (Self::YearLast(day, month, year), Order::DayFirst)
            | (Self::YearLast(month, day, year), Order::MonthFirst) => (year, month, day),
        };
        if !(1900..=2200).contains(&year) {
            return None;
        }
        Some(NaiveDate::from_ymd_opt(year, month, day)?.to_epoch_days())
    }
}

/// A day as it is written in tables and sentences: 2026-03-31.
#[must_use]
pub fn shown_day(day: i32) -> String {
    NaiveDate::from_epoch_days(day).map_or_else(String::new, |date| date.format("%Y-%m-%d").to_string())
}

/// A day written year first; None where it is none.
#[must_use]
pub fn day_of(text: &str) -> Option<i32> {
    written(text).filter(|date| matches!(date, Written::YearFirst(..)))?.day(Order::DayFirst)
}

/// The year of a season that begins in this month: the one in which the day's season began.
pub(super) fn season_of(day: i32, begins: u32) -> i32 {
    let date = NaiveDate::from_epoch_days(day).unwrap_or_default();
    if date.month() >= begins { date.year() } else { date.year() - 1 }
}

/// The week of the year in which a day lies, as calendars number it: "week 14 of 2026".
#[must_use]
pub fn shown_week(day: i32) -> String {
    let week = NaiveDate::from_epoch_days(day).unwrap_or_default().iso_week();
    format!("week {} of {}", week.week(), week.year())
}

/// The month of a day, counted from 0.
#[must_use]
pub(crate) fn month_of(day: i32) -> usize {
    NaiveDate::from_epoch_days(day).unwrap_or_default().month0() as usize
}
