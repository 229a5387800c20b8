//! A paragraph taken apart into its sentences, a fact a line.

/// The sentences of a paragraph.
///
/// A sentence ends where a full stop is followed by a space and a capital letter or a digit-free beginning in capitals; stops inside
/// numbers, brackets and abbreviations end nothing.
///
/// ```
/// use rootling::report::facts;
/// let told = facts("Takes run to 65.8 of 100 (95 % interval 51.2 to 77.9). Overlap of two intervals is not a test.");
/// assert_eq!(told.len(), 2);
/// assert!(facts("").is_empty());
/// ```
#[must_use]
pub fn facts(paragraph: &str) -> Vec<String> {
    let (mut found, mut start, mut depth) = (Vec::new(), 0_usize, 0_i32);
    let letters: Vec<(usize, char)> = paragraph.char_indices().collect();
    for window in letters.windows(3) {
        let [(_, stop), (space_at, space), (next_at, next)] = window else { continue };
        depth += match stop {
            '(' => 1,
            ')' => -1,
            _ => 0,
        };
        if *stop == '.' && *space == ' ' && next.is_uppercase() && depth <= 0 {
            found.extend(paragraph.get(start..*space_at).map(str::to_owned));
            start = *next_at;
        }
    }
    found.extend(paragraph.get(start..).filter(|rest| !rest.trim().is_empty()).map(str::to_owned));
    found
}
