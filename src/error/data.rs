//! A trial that does not pass its checks: every issue, together.

use crate::trial::Issue;

/// All problems found in a file or frame.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", listing(.issues, "the trial data"))]
pub struct DataError {
    /// Every issue, in row order.
    pub issues: Vec<Issue>,
}

/// All problems found in rows that a model is asked about; a single one is the whole message.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", if let [only] = .issues.as_slice() { only.to_string() } else { listing(.issues, "the rows to predict for") })]
pub struct RowsError {
    /// Every issue, in row order.
    pub issues: Vec<Issue>,
}

const SHOWN: usize = 20;

fn listing(issues: &[Issue], place: &str) -> String {
    let mut text = match issues.len() {
        1 => format!("1 problem in {place}:"),
        n => format!("{n} problems in {place}:"),
    };
    for issue in issues.iter().take(SHOWN) {
        text.push_str("\n  ");
        text.push_str(&issue.to_string());
    }
    if issues.len() > SHOWN {
        text.push_str(&format!("\n  ... and {} more in .issues", issues.len() - SHOWN));
    }
    text
}
