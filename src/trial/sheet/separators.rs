//! Points and commas in numbers: which marks thousands and which decimals, as told or as asked.

use std::borrow::Cow;

/// What the user said about the marks within numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Marks {
    /// The mark between thousands.
    pub thousands: Option<char>,
    /// The mark before decimals.
    pub decimal: Option<char>,
}

impl Marks {
    /// True when nothing was said.
    #[must_use]
    pub(crate) fn is_silent(self) -> bool {
        self.thousands.is_none() && self.decimal.is_none()
    }

    /// The text of a number with its thousands closed up and a decimal point; other text as it is.
    #[must_use]
    pub(crate) fn plain(self, text: &str) -> Cow<'_, str> {
        let trimmed = text.trim();
        let numeric =
            |letter: char| letter.is_ascii_digit() || matches!(letter, '.' | ',' | ' ' | '\u{a0}' | '\u{202f}' | '\'');
        let body = trimmed.trim_start_matches(['-', '+']);
        if self.is_silent() || body.is_empty() || !body.chars().all(numeric) {
            return Cow::Borrowed(text);
        }
        let thousands = self.thousands.or(match self.decimal {
            Some(',') => Some('.'),
            Some('.') => Some(','),
            _ => None,
        });
        let decimal = self.decimal.or(match self.thousands {
            Some(',') => Some('.'),
            Some('.') => Some(','),
            _ => None,
        });
        let (whole, rest) = match decimal.and_then(|mark| body.split_once(mark)) {
            Some((whole, rest)) => (whole, Some(rest)),
            None => (body, None),
        };
        let closed = thousands.and_then(|mark| closed(whole, mark)).unwrap_or_else(|| whole.to_owned());
        let sign = if trimmed.starts_with('-') { "-" } else { "" };
        Cow::Owned(match rest {
            // Four decimals at least: a point before three digits is asked about.
            Some(rest) if rest.len() == 3 && rest.bytes().all(|byte| byte.is_ascii_digit()) => {
                format!("{sign}{closed}.{rest}0")
            }
            Some(rest) => format!("{sign}{closed}.{rest}"),
            None => format!("{sign}{closed}"),
        })
    }
}

/// Groups of three digits without the mark between them.
fn closed(text: &str, mark: char) -> Option<String> {
    let mut groups = text.split(mark);
    let first = groups.next().filter(|first| (1..=3).contains(&first.len()) && digits(first))?;
    let rest: Vec<&str> = groups.collect();
    rest.iter().all(|group| group.len() == 3 && digits(group)).then(|| first.to_owned() + &rest.concat())
}

fn digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
}

/// Points all of which stand before exactly three digits ("1.000", "2.500") may be thousands or decimals. They are decimals
/// beyond doubt where another entry of the column has a point elsewhere or begins with "0.", and only then. Gives two examples.
#[must_use]
pub(crate) fn thousands_or_decimals<'a>(texts: impl Iterator<Item = &'a str>) -> Option<Vec<String>> {
    let mut found = Vec::new();
    for text in texts {
        let text = text.trim().trim_start_matches(['-', '+']);
        if !text.contains('.') || text.chars().any(|letter| !letter.is_ascii_digit() && letter != '.') {
            continue;
        }
        if text.starts_with('0') || closed(text, '.').is_none() {
            return None;
        }
        // Two points or more can only be thousands, and no number is read from them.
        if found.len() < 2 {
            found.push(text.to_owned());
        }
    }
    (!found.is_empty()).then_some(found)
}
