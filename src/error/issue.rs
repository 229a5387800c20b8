//! One problem in a trial's data: where, what, why and what to do.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::error::shown;

/// Letters kept of an offending value.
const LONGEST_VALUE: usize = 200;

/// How much an issue matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// The row or column cannot be used as it stands.
    Problem,
    /// Only the user can tell; stops a strict load, is listed by a lenient one.
    Question,
    /// Worth knowing; never stops anything.
    Information,
}

/// A problem found while loading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Issue {
    /// Stable code, for example `rooted_above_stuck`.
    pub code: String,
    /// How much it matters.
    pub severity: Severity,
    /// Row as the user sees it (files: the spreadsheet row, header = 1; frames: counted from 1), when the issue has one.
    pub row: Option<u64>,
    /// The user's column name, when the issue has one.
    pub column: Option<String>,
    /// The offending value as it was given.
    pub value: Option<String>,
    /// What is wrong.
    pub reason: String,
    /// What to do about it.
    pub hint: String,
    /// The option that would answer it, as it is written in a call: `fill_down=["strength"]`.
    pub paste: Option<String>,
}

impl Issue {
    /// A problem with the whole input, without row or column.
    #[must_use]
    pub fn of_input(code: &str, reason: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            code: code.to_owned(),
            severity: Severity::Problem,
            row: None,
            column: None,
            value: None,
            reason: shown::sentence(reason.into()),
            hint: shown::sentence(hint.into()),
            paste: None,
        }
    }

    /// The same issue placed at a row.
    #[must_use]
    pub fn at_row(mut self, row: u64) -> Self {
        self.row = Some(row);
        self
    }

    /// The same issue placed in a column.
    #[must_use]
    pub fn in_column(mut self, column: &str) -> Self {
        self.column = Some(column.to_owned());
        self
    }

    /// The same issue with the offending value, cut where it is very long.
    #[must_use]
    pub fn with_value(mut self, value: impl Into<String>) -> Self {
        self.value = Some(shown::start(&value.into(), LONGEST_VALUE));
        self
    }

    /// The same issue with the option that would answer it, whose texts are quoted as `{:?}` does; signs that cannot be printed
    /// become escapes of Python, in the hint too.
    #[must_use]
    pub fn pasted(mut self, paste: &str) -> Self {
        let option = escaped(paste);
        if option != paste {
            self.hint = self.hint.replace(paste, &option);
        }
        self.paste = Some(option);
        self
    }

    /// The same issue as a question or an information.
    #[must_use]
    pub fn graded(mut self, severity: Severity) -> Self {
        self.severity = severity;
        self
    }
}

impl fmt::Display for Issue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.row, &self.column) {
            (Some(row), Some(column)) => write!(f, "row {row}, column {:?}: ", shown::name(column))?,
            (Some(row), None) => write!(f, "row {row}: ")?,
            (None, Some(column)) => write!(f, "column {:?}: ", shown::name(column))?,
            (None, None) => {}
        }
        write!(f, "{}; {}", self.reason, self.hint)
    }
}

/// Quoted text with the escapes of Python in place of those of Rust: a NUL is `\x00`, a letter by its number `\U0001f333`.
fn escaped(text: &str) -> String {
    let mut made = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\\') {
        made.push_str(before);
        let numbered = after.strip_prefix("u{").and_then(|after| after.split_once('}'));
        let value = numbered.and_then(|(number, _)| u32::from_str_radix(number, 16).ok());
        if let (Some(value), Some((_, after))) = (value, numbered) {
            made.push_str(&format!("\\U{value:08x}"));
            rest = after;
        } else if let Some(after) = after.strip_prefix('0') {
            made.push_str("\\x00");
            rest = after;
        } else {
            let next = after.chars().next().map_or(0, char::len_utf8);
            made.push('\\');
            made.push_str(after.get(..next).unwrap_or_default());
            rest = after.get(next..).unwrap_or_default();
        }
    }
    made.push_str(rest);
    made
}
