//! Days as tables and sentences write them, their weeks, months and seasons.

use chrono::{Datelike, NaiveDate};

use crate::trial::{DateOrder, Written, written};

/// A day as it is written in tables and sentences: 2026-03-31.
#[must_use]
pub fn shown_day(day: i32) -> String {
    NaiveDate::from_epoch_days(day).map_or_else(String::new, |date| date.format("%Y-%m-%d").to_string())
}

/// A day written year first; None where it is none.
#[must_use]
pub fn day_of(text: &str) -> Option<i32> {
    written(text).filter(|date| matches!(date, Written::YearFirst(..)))?.day(DateOrder::DayFirst)
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
