//! The line that says how sure a decision is: how it begins, and its level.

/// How the line begins, by which a report and a notebook know it.
pub(crate) const HOW_SURE: &str = "How sure: ";

/// "with 95 % confidence".
pub(crate) fn with_confidence(level: f64) -> String {
    format!("with {} confidence", super::confidence(level))
}
