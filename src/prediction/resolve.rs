//! From the entries of new rows to values of the model's variables; every problem is collected.

use crate::control::checkpoint_at;
use crate::effects::averaging::{self, is_outside, range};
use crate::error::Issue;
use crate::error::{ChoiceError, Result, RowsError, shown};
use crate::models::{Frame, Variable};
use crate::report::numbers::join;
use crate::trial::Value;
use crate::trial::{Listed, NewRows};

/// One new row as the model sees it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Resolved {
    /// One value per variable; none for a block that is not given, over whose levels the rate is averaged.
    pub(super) values: Vec<Option<Value>>,
    /// The offset, where the model has one.
    pub(super) offset: Option<f64>,
    /// Covariates outside the range of the trial.
    pub(super) outside: Vec<String>,
}

/// True when rows may leave the variable out: the block stays in every model, but nobody knows the block of trees to come.
pub(super) fn is_optional(frame: &Frame, variable: usize) -> bool {
    !frame.terms.iter().any(|term| term.asked && term.variables.contains(&variable))
}

/// Resolves every row.
///
/// # Errors
/// [`RowsError`] with every column that is missing, or every entry that is no level or number of the model.
pub(super) fn resolve(frame: &Frame, rows: &NewRows, offset: Option<&str>) -> Result<Vec<Resolved>> {
    let mut issues = Vec::new();
    if rows.is_empty() {
        issues.push(Issue::of_input("no_rows", "there are no rows to predict for", "give at least one"));
    }
    for (index, variable) in frame.variables.iter().enumerate() {
        if !rows.has(&variable.name) && !is_optional(frame, index) {
            issues.push(missing_column(&variable.name, rows.columns()));
        }
    }
    issues.extend(offset.filter(|name| !rows.has(name)).map(|name| missing_column(name, rows.columns())));
    if !issues.is_empty() {
        return Err(RowsError { issues }.into());
    }
    let mut listed = Listed::default();
    let mut wrong = |issue: Issue, column: &str, row: usize| {
        let issue = issue.in_column(column);
        if listed.has_room(&issue) {
            issues.push(issue.at_row(rows.row_number(row)));
        }
    };
    let ranges: Vec<(f64, f64)> = frame.variables.iter().map(range).collect();
    let mut out = Vec::with_capacity(rows.len());
    for row in 0..rows.len() {
        checkpoint_at(row as u64);
        let mut resolved = Resolved { values: Vec::new(), offset: None, outside: Vec::new() };
        for (variable, range) in frame.variables.iter().zip(&ranges) {
            if !rows.has(&variable.name) {
                resolved.values.push(None);
                continue;
            }
            match value(variable, rows, row) {
                Ok(found) => {
                    if is_outside(*range, found) {
                        resolved.outside.push(variable.name.clone());
                    }
                    resolved.values.push(Some(found));
                }
                Err(issue) => wrong(issue, &variable.name, row),
            }
        }
        if let Some(name) = offset {
            match finite(name, rows, row) {
                Ok(found) => resolved.offset = Some(found),
                Err(issue) => wrong(issue, name, row),
            }
        }
        out.push(resolved);
    }
    issues.extend(listed.beyond());
    if issues.is_empty() { Ok(out) } else { Err(RowsError { issues }.into()) }
}

fn missing_column(name: &str, columns: &[String]) -> Issue {
    let known = ChoiceError::new("column", name, columns);
    let list = shown::names(columns);
    let hint = match &known.nearest {
        Some(near) => format!("did you mean {near:?}? The columns are {list}"),
        None => format!("add it; the columns are {list}"),
    };
    Issue::of_input("unknown_column", format!("there is no column {name:?}, which the model needs"), hint)
}

/// A finite number.
fn finite(name: &str, rows: &NewRows, row: usize) -> std::result::Result<f64, Issue> {
    let problem = |code: &str, reason: String, hint: &str| Err(Issue::of_input(code, reason, hint));
    let Some(text) = rows.text(name, row) else {
        return problem("missing_value", "no value".to_owned(), "enter a number");
    };
    match rows.number(name, row) {
        Some(x) if x.is_finite() => Ok(x),
        Some(_) => problem("not_finite", format!("{text} is not a finite number"), "correct it"),
        None => problem("not_a_number", format!("{text:?} is not a number"), "enter one"),
    }
}

fn value(variable: &Variable, rows: &NewRows, row: usize) -> std::result::Result<Value, Issue> {
    let problem = |code: &str, reason: String, hint: String| Err(Issue::of_input(code, reason, hint));
    if variable.is_covariate() {
        return finite(&variable.name, rows, row).map(|x| Value::Number((x - variable.centre) / variable.scale));
    }
    let text = rows.text(&variable.name, row);
    let levels = &variable.levels;
    let Some(text) = text else {
        return problem("missing_value", "no value".to_owned(), format!("the model knows {}", listing(levels)));
    };
    let given = rows.number(&variable.name, row);
    #[expect(clippy::float_cmp, reason = "2500 and 2500.0 are one level, other numbers are others")]
    let same = |level: &String| *level == text || given.is_some_and(|x| level.parse::<f64>().is_ok_and(|own| own == x));
    if let Some(code) = levels.iter().position(same) {
        return Ok(Value::Level(code));
    }
    let hint = match nearest(levels, &text, given) {
        Some(near) => format!("the nearest it knows is {near:?}, of {}", listing(levels)),
        None => format!("it knows {}", listing(levels)),
    };
    problem("unknown_level", format!("the model does not know {:?}", text.trim()), hint)
}

/// The level nearest in value, or in spelling where levels are not numbers.
fn nearest(levels: &[String], text: &str, given: Option<f64>) -> Option<String> {
    let numbers: Option<Vec<f64>> = levels.iter().map(|level| level.parse().ok()).collect();
    match (numbers, given.filter(|x| x.is_finite())) {
        (Some(numbers), Some(x)) => {
            let by_distance = numbers.iter().zip(levels).min_by(|a, b| (a.0 - x).abs().total_cmp(&(b.0 - x).abs()));
            by_distance.map(|(_, level)| level.clone())
        }
        _ => crate::error::nearest(text, levels),
    }
}

/// At most twelve levels by name.
fn listing(levels: &[String]) -> String {
    const SHOWN: usize = 12;
    let mut shown: Vec<String> = levels.iter().take(SHOWN).cloned().collect();
    if levels.len() > SHOWN {
        shown.push(format!("{} more", levels.len() - SHOWN));
    }
    join(&shown)
}

/// The range of a covariate in the trial, in the user's units: "4 to 12".
pub(super) fn tested_range(frame: &Frame, name: &str) -> Option<String> {
    frame.variables.iter().find(|variable| variable.name == name).map(averaging::tested_range)
}
