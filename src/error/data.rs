//! A trial that does not pass its checks: every issue, together.

use std::collections::HashMap;

use crate::error::{Issue, Severity};

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

/// All problems found in a record of batches.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", listing(.issues, "the record of batches"))]
pub struct RecordError {
    /// Every issue, in row order.
    pub issues: Vec<Issue>,
}

const SHOWN: usize = 20;
/// Letters after which no further mistake is told.
const LONGEST: usize = 4000;
/// Rows named of one mistake.
const ROWS: usize = 5;

/// Each mistake once, with the rows it stands in.
fn listing(issues: &[Issue], place: &str) -> String {
    let told = |issue: &&Issue| issue.severity != Severity::Information || issue.code == "more_rows";
    let any = issues.iter().any(|issue| told(&issue));
    let mut groups: Vec<(&Issue, Vec<u64>)> = Vec::new();
    let mut at: HashMap<(&str, Option<&str>, Option<&str>), usize> = HashMap::new();
    // What is only worth knowing is no problem; it is in the list.
    for issue in issues.iter().filter(|issue| !any || told(issue)) {
        // Without a row an issue stands alone, and so does one whose answer is an option of its own.
        let option = issue.paste.as_deref().filter(|paste| !paste.starts_with("leave_out="));
        let known = issue.row.and_then(|_| at.get(&(issue.code.as_str(), issue.column.as_deref(), option)).copied());
        match (known.and_then(|group| groups.get_mut(group)), issue.row) {
            // A row of a wide sheet holds several trays: it is named once.
            (Some((_, rows)), Some(row)) if rows.last() == Some(&row) => {}
            (Some((_, rows)), Some(row)) => rows.push(row),
            _ => {
                at.insert((issue.code.as_str(), issue.column.as_deref(), option), groups.len());
                groups.push((issue, issue.row.into_iter().collect()));
            }
        }
    }
    let mut text = match groups.len() {
        1 => format!("1 problem in {place}:"),
        n => format!("{n} problems in {place}:"),
    };
    let mut told = 0;
    for (issue, rows) in groups.iter().take(SHOWN) {
        let line = told_once(issue, rows);
        if told > 0 && text.len() + line.len() > LONGEST {
            break;
        }
        told += 1;
        text.push_str("\n  ");
        text.push_str(&line);
    }
    if groups.len() > told {
        text.push_str(&format!("\n  ... and {} more in .issues", groups.len() - told));
    }
    text
}

/// The issue of the first row, with the others that have it too.
fn told_once(issue: &Issue, rows: &[u64]) -> String {
    let [_, others @ ..] = rows else { return issue.to_string() };
    if others.is_empty() {
        return issue.to_string();
    }
    let shown: Vec<String> = others.iter().take(ROWS).map(u64::to_string).collect();
    let more = others.len().saturating_sub(ROWS);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let noun = if others.len() == 1 { "row" } else { "rows" };
    format!("{issue} (likewise in {noun} {}{more})", shown.join(", "))
}
