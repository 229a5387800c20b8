//! One cell of a response as a number of the declared kind, or what is wrong with it.

use crate::error::Issue;
use crate::trial::cell::{Cell, is_ambiguous_number};
use crate::trial::responses::{Response, ResponseKind, ResponseUnit};

/// The largest entry that is taken for a measurement.
const LARGEST: f64 = 1e6;
/// Units that a cell may carry and no response is declared in.
const FOREIGN: [&str; 6] = ["inch", "inches", "in", "\"", "lb", "oz"];

/// The number of a cell; nothing where it is blank. Issues are not yet placed in a row or column.
pub(super) fn read(cell: &Cell, response: &Response) -> Result<Option<f64>, Issue> {
    if cell.is_missing() {
        return Ok(None);
    }
    let issue =
        |code: &str, reason: String, hint: String| Err(Issue::of_input(code, reason, hint).with_value(cell.shown()));
    let (body, unit) = parted(cell);
    if let Some(other) = unit.as_deref().filter(|unit| response.unit.is_none_or(|own| own.name() != *unit)) {
        return issue(
            "other_unit",
            format!("{:?} is in {other}, and {}", cell.shown(), declared(response)),
            converted(&body, other, response),
        );
    }
    if let Cell::Text(text) = &body
        && is_ambiguous_number(text)
    {
        let reason = format!("{text:?} can be read as a thousand or as a decimal");
        let hint = "write it without the comma, or say which it is with thousands=\",\" or decimal=\",\"";
        return issue("ambiguous_number", reason, hint.to_owned()).map_err(|issue| issue.pasted("decimal=\",\""));
    }
    let Some(value) = body.as_number().filter(|value| value.is_finite()) else {
        let reason = format!("{:?} is not a number", cell.shown());
        return issue("not_a_number", reason, "enter the number alone and keep remarks in another column".to_owned());
    };
    if let Some(wrong) = impossible(value, cell, response) {
        return Err(wrong.with_value(cell.shown()));
    }
    Ok(Some(value))
}

/// What is wrong with a number of the declared kind.
fn impossible(value: f64, cell: &Cell, response: &Response) -> Option<Issue> {
    let issue = |code: &str, reason: String, hint: String| Some(Issue::of_input(code, reason, hint));
    let means = response.means_of.is_some();
    match response.kind {
        ResponseKind::Grade => {
            let (low, high) = (response.lowest.unwrap_or(0) as f64, response.highest.unwrap_or(0) as f64);
            if value < low || value > high || value.fract() != 0.0 {
                let reason = format!("{} is no grade of the scale {low} to {high}", cell.shown());
                return issue(
                    "grade_off_scale",
                    reason,
                    "correct the entry, or declare the scale that was used".to_owned(),
                );
            }
        }
        _ if value < 0.0 => {
            let what = if response.kind == ResponseKind::Count { "a count" } else { "what was measured" };
            return issue(
                "negative_response",
                format!("{} is negative", cell.shown()),
                format!("{what} is 0 or more; correct the entry"),
            );
        }
        ResponseKind::Count if value.fract() != 0.0 && !means => {
            let reason = format!("{} is not a whole number", cell.shown());
            return issue(
                "fractional_response",
                reason,
                "a count of one cutting is whole; correct the entry".to_owned(),
            );
        }
        _ => {}
    }
    if value > LARGEST {
        let reason = format!("{} is above 1000000, more than any cutting has", cell.shown());
        return issue("response_too_large", reason, "correct the entry, or declare a larger unit".to_owned());
    }
    None
}

/// A cell without the unit behind its number, and that unit.
fn parted(cell: &Cell) -> (Cell, Option<String>) {
    let Cell::Text(text) = cell else { return (cell.clone(), None) };
    let text = text.trim();
    let end = text.rfind(|letter: char| letter.is_ascii_digit()).map_or(0, |at| at + 1);
    let (Some(head), Some(tail)) = (text.get(..end), text.get(end..)) else { return (cell.clone(), None) };
    let tail = tail.trim().trim_end_matches('.').to_lowercase();
    let known = ResponseUnit::ALL.iter().any(|unit| unit.name() == tail) || FOREIGN.contains(&tail.as_str());
    if head.is_empty() || !known {
        return (cell.clone(), None);
    }
    (Cell::Text(head.trim().to_owned()), Some(tail))
}

fn declared(response: &Response) -> String {
    match response.unit {
        Some(unit) => format!("the column is declared in {}", unit.name()),
        None => "the column is declared without a unit".to_owned(),
    }
}

/// What to write in place of a number in another unit.
fn converted(body: &Cell, other: &str, response: &Response) -> String {
    let from = ResponseUnit::ALL.into_iter().find(|unit| unit.name() == other);
    let value = body.as_number().zip(from).zip(response.unit).filter(|((_, from), to)| from.kind() == to.kind());
    match value {
        Some(((number, from), to)) => {
            let number = (number * from.size() / to.size() * 1e9).round() / 1e9;
            format!("write {number}, since all entries of a column are in one unit")
        }
        None => "write all entries of a column in the unit that is declared".to_owned(),
    }
}
