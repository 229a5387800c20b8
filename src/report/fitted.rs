//! A decision line of at most thirty words, with what else finds room.

/// The most words of a decision line.
pub const MOST_WORDS: usize = 30;

/// The words of a text.
#[must_use]
pub fn words(text: &str) -> usize {
    text.split_whitespace().count()
}

/// `lead`, then each of `tails` for which there is room, then a full stop. What finds none is left to the details.
///
/// ```
/// use rootling::report::fitted;
/// assert_eq!(fitted("Too few trays to tell", &["; 12 trays each would do".to_owned()]), "Too few trays to tell; 12 trays each would do.");
/// let long = "word ".repeat(28);
/// assert_eq!(fitted(long.trim(), &["; three more words".to_owned()]), format!("{}.", long.trim()));
/// ```
#[must_use]
pub fn fitted(lead: &str, tails: &[String]) -> String {
    let mut line = lead.to_owned();
    for tail in tails {
        let longer = format!("{line}{tail}");
        if words(&longer) <= MOST_WORDS {
            line = longer;
        }
    }
    format!("{line}.")
}
