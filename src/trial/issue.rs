//! One problem in a trial's data: where, what, why and what to do.

use std::fmt;

use serde::{Deserialize, Serialize};

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
            reason: reason.into(),
            hint: hint.into(),
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

    /// The same issue with the offending value.
    #[must_use]
    pub fn with_value(mut self, value: impl Into<String>) -> Self {
        self.value = Some(value.into());
        self
    }

    /// The same issue with the option that would answer it.
    #[must_use]
    pub fn pasted(mut self, paste: &str) -> Self {
        self.paste = Some(paste.to_owned());
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
            (Some(row), Some(column)) => write!(f, "row {row}, column {column:?}: ")?,
            (Some(row), None) => write!(f, "row {row}: ")?,
            (None, Some(column)) => write!(f, "column {column:?}: ")?,
            (None, None) => {}
        }
        write!(f, "{}; {}", self.reason, self.hint)
    }
}
