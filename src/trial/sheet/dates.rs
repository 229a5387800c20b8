//! Entries that a spreadsheet or a hurried hand made of something else: dates, and crosses for "yes".

const MONTHS: [&str; 22] = [
    "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec", "mrz", "mai", "okt", "dez",
    "sept", "june", "july", "march", "april", "m\u{e4}r",
];

/// True for text such as 2026-03-01, 01.03.2026, 3/1/26 or 1-Mar: what a spreadsheet makes of "1-3".
#[must_use]
pub(crate) fn looks_like_a_date(text: &str) -> bool {
    let text = text.trim();
    let day = text.split([' ', 'T']).next().unwrap_or_default();
    for mark in ['-', '.', '/'] {
        let parts: Vec<&str> = day.trim_end_matches('.').split(mark).collect();
        let numbers: Vec<u32> = parts.iter().filter_map(|part| part.parse().ok()).collect();
        match (parts.len(), numbers.as_slice()) {
            (3, [a, b, c]) => {
                let year_first =
                    parts.first().is_some_and(|part| part.len() == 4) && (1..=12).contains(b) && (1..=31).contains(c);
                let year_last = (1..=31).contains(a) && (1..=31).contains(b) && (*a <= 12 || *b <= 12);
                let length = parts.last().map_or(0, |part| part.len());
                if year_first || year_last && matches!(length, 2 | 4) {
                    return true;
                }
            }
            (2 | 3, [_] | [_, _]) if parts.iter().any(|part| is_month(part)) => return true,
            _ => {}
        }
    }
    let words: Vec<&str> = text.split([' ', '.']).filter(|word| !word.is_empty()).collect();
    words.len() == 2 && words.iter().any(|word| is_month(word)) && words.iter().any(|word| word.parse::<u32>().is_ok())
}

fn is_month(word: &str) -> bool {
    MONTHS.contains(&word.to_lowercase().as_str())
}

/// True for a mark that says yes where the others are left blank.
#[must_use]
pub(crate) fn marks_yes(text: &str) -> bool {
    matches!(text.trim(), "x" | "X" | "+" | "\u{2713}" | "\u{2714}" | "\u{2717}" | "\u{d7}")
}
