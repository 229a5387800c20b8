//! A trial that does not pass its checks: every issue, together.

use crate::trial::Issue;

/// All problems found in a file or frame.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", listing(.issues))]
pub struct DataError {
    /// Every issue, in row order.
    pub issues: Vec<Issue>,
}

const SHOWN: usize = 20;

fn listing(issues: &[Issue]) -> String {
    let mut text = match issues.len() {
        1 => "1 problem in the trial data:".to_owned(),
        n => format!("{n} problems in the trial data:"),
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
