//! One entry of the user's table, before anything is believed about it, and how numbers are read from it.

use crate::error::Issue;
use crate::estimate::LARGEST_COUNT;

/// An entry as it came in.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cell {
    /// Nothing there.
    Missing,
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
    /// True or false.
    Flag(bool),
    /// Text.
    Text(String),
}

const MISSING_WORDS: [&str; 6] = ["", "na", "n/a", "nan", "null", "none"];

impl Cell {
    /// Text becomes [`Cell::Missing`] when it is blank or a usual word for "no value".
    #[must_use]
    pub(super) fn from_text(text: &str) -> Self {
        let trimmed = text.trim();
        let short = trimmed.len() <= 4;
        if short && MISSING_WORDS.iter().any(|word| trimmed.eq_ignore_ascii_case(word)) {
            Self::Missing
        } else {
            Self::Text(text.to_owned())
        }
    }

    /// The entry as the user would write it.
    #[must_use]
    pub(super) fn shown(&self) -> String {
        match self {
            Self::Missing => String::new(),
            Self::Whole(value) => value.to_string(),
            Self::Number(value) => value.to_string(),
            Self::Flag(value) => value.to_string(),
            Self::Text(text) => text.clone(),
        }
    }

    /// True when nothing is there.
    #[must_use]
    pub(super) fn is_missing(&self) -> bool {
        matches!(self, Self::Missing)
    }

    /// The entry as a number, if it is one beyond doubt.
    #[must_use]
    pub(super) fn as_number(&self) -> Option<f64> {
        match self {
            Self::Whole(value) => Some(*value as f64),
            Self::Number(value) => Some(*value),
            Self::Text(text) => text_number(text),
            Self::Missing | Self::Flag(_) => None,
        }
    }

    /// The entry as a number, a percent sign behind it left away.
    #[must_use]
    pub(super) fn as_share(&self) -> Option<f64> {
        match self {
            Self::Text(text) => text_number(text.trim_end().trim_end_matches('%')),
            other => other.as_number(),
        }
    }

    /// The entry as a number, if it is written as a plain one: no exponent, no zero in front, no more digits than are held exactly.
    #[must_use]
    pub(super) fn as_plain_number(&self) -> Option<f64> {
        match self {
            Self::Whole(value) => (value.unsigned_abs() <= 1 << 53).then_some(*value as f64),
            Self::Text(text) => {
                let body = text.trim().trim_start_matches('-');
                let plain = |byte: u8| byte.is_ascii_digit() || matches!(byte, b'.' | b',' | b' ') || !byte.is_ascii();
                let zero_first =
                    body.len() > 1 && body.starts_with('0') && !body.starts_with("0.") && !body.starts_with("0,");
                let digits = body.bytes().filter(u8::is_ascii_digit).count();
                if zero_first || digits > 15 || !body.bytes().all(plain) { None } else { text_number(text) }
            }
            Self::Number(_) | Self::Missing | Self::Flag(_) => self.as_number(),
        }
    }

    /// The entry as yes (true) or no (false): 1/0, true/false, yes/no, y/n, and yes/no in a few languages.
    #[must_use]
    pub(super) fn as_yes_no(&self) -> Option<bool> {
        match self {
            Self::Flag(value) => Some(*value),
            Self::Whole(1) => Some(true),
            Self::Whole(0) => Some(false),
            Self::Number(value) if *value == 1.0 => Some(true),
            Self::Number(value) if *value == 0.0 => Some(false),
            Self::Text(text) => match text.trim().to_ascii_lowercase().as_str() {
                "1" | "true" | "yes" | "y" | "ja" | "j" | "oui" | "si" | "s\u{ed}" => Some(true),
                "0" | "false" | "no" | "n" | "nein" | "non" | "nee" => Some(false),
                other => text_number(other).and_then(|value| Self::Number(value).as_yes_no()),
            },
            Self::Missing | Self::Whole(_) | Self::Number(_) => None,
        }
    }
}

/// True for text such as `2,500`, which one reader takes for 2500 and another for 2.5.
#[must_use]
pub(super) fn is_ambiguous_number(text: &str) -> bool {
    let text = text.trim().trim_start_matches(['-', '+']);
    let Some((head, tail)) = text.split_once(',') else { return false };
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    digits(head) && digits(tail) && head.len() <= 3 && tail.len() == 3 && !head.starts_with('0')
}

/// Reads a number with a decimal point or a decimal comma; ambiguous text is no number.
fn text_number(text: &str) -> Option<f64> {
    let text = text.trim();
    if is_ambiguous_number(text) || !text.bytes().any(|byte| byte.is_ascii_digit()) {
        return None;
    }
    if let Some(closed) = spaced_thousands(text) {
        return closed.parse().ok();
    }
    let commas = text.bytes().filter(|byte| *byte == b',').count();
    let number = match commas {
        0 => text.parse::<f64>(),
        1 if !text.contains('.') => text.replace(',', ".").parse::<f64>(),
        _ => return None,
    };
    number.ok().filter(|value| value.is_finite())
}

/// The digits of a whole number written with spaces between its thousands, which only spaces can be.
fn spaced_thousands(text: &str) -> Option<String> {
    let groups: Vec<&str> = text.split([' ', '\u{a0}', '\u{202f}']).collect();
    let digits = |group: &&str| group.bytes().all(|byte| byte.is_ascii_digit());
    let (first, rest) = groups.split_first()?;
    let first_fits = (1..=3).contains(&first.len()) && digits(first);
    (first_fits && !rest.is_empty() && rest.iter().all(|group| group.len() == 3 && digits(group)))
        .then(|| groups.concat())
}

/// Reads a whole number of cuttings.
///
/// # Errors
/// The issue (not yet placed in a row or column) when the entry is not a whole number from 0 to 2^53.
pub(super) fn read_count(cell: &Cell) -> Result<u64, Issue> {
    let issue =
        |code: &str, reason: String, hint: &str| Err(Issue::of_input(code, reason, hint).with_value(cell.shown()));
    if let Cell::Text(text) = cell {
        if text.trim_end().ends_with('%') {
            let reason = format!("{text:?} is a percentage without its count");
            return issue(
                "bare_percent",
                reason,
                "give whole numbers rooted and stuck; 3 of 4 and 75 of 100 are both 75 %",
            );
        }
        if is_ambiguous_number(text) {
            let reason = format!("{text:?} can be read as a thousand or as a decimal");
            let hint = "write it without the comma, or say which it is with thousands=\",\" or decimal=\",\"";
            return issue("ambiguous_number", reason, hint).map_err(|issue| issue.pasted("thousands=\",\""));
        }
        // Whole numbers are read as such: 2^53 + 1 would round to 2^53 on its way through a float.
        if let Ok(value) = text.trim().parse::<u128>() {
            return u64::try_from(value).map_or_else(|_| too_large(cell), |value| check_size(value, cell));
        }
    }
    match cell {
        Cell::Missing => issue("missing_value", "no value".to_owned(), "enter the count or remove the row"),
        Cell::Whole(value) if *value >= 0 => check_size(*value as u64, cell),
        _ => match cell.as_number() {
            Some(value) if value < 0.0 => {
                let reason = format!("{} is negative", cell.shown());
                issue("negative_count", reason, "a count is 0 or more; correct the entry")
            }
            Some(value) if value.is_nan() => {
                issue("missing_value", "no value".to_owned(), "enter the count or remove the row")
            }
            Some(value) if value > LARGEST_COUNT as f64 => too_large(cell),
            Some(value) if value.fract() != 0.0 => {
                let reason = format!("{} is not a whole number", cell.shown());
                issue("fractional_count", reason, "counts are whole cuttings; give counts, not rates or means")
            }
            Some(value) => check_size(value as u64, cell),
            None => {
                let reason = format!("{:?} is not a count", cell.shown());
                issue("text_in_count", reason, "enter a whole number and keep remarks in another column")
            }
        },
    }
}

fn check_size(value: u64, cell: &Cell) -> Result<u64, Issue> {
    if value > LARGEST_COUNT { too_large(cell) } else { Ok(value) }
}

fn too_large(cell: &Cell) -> Result<u64, Issue> {
    let reason = format!("{} is above {LARGEST_COUNT}, the largest count held exactly", cell.shown());
    Err(Issue::of_input("count_too_large", reason, "check the entry").with_value(cell.shown()))
}
