//! What an error shows of a text that is no strength.

/// Longest text that is read; anything longer is no strength.
pub(super) const LONGEST: usize = 64;

/// The text as an error shows it: cut when long.
pub(super) fn shortened(text: &str) -> String {
    if text.chars().count() <= LONGEST {
        return text.to_owned();
    }
    let start: String = text.chars().take(LONGEST - 3).collect();
    format!("{start}...")
}
