//! What users wrote, as a message shows it: cut where it is very long, with marks for what cannot be seen.

/// Letters shown of one name or entry.
const LONGEST: usize = 80;
/// Letters shown of all names together.
const ALL: usize = 400;
/// Letters of a sentence.
const SENTENCE: usize = 1200;

/// The start of a text that is too long for a message, the text itself otherwise.
pub(crate) fn start(text: &str, longest: usize) -> String {
    match text.char_indices().nth(longest) {
        Some((end, _)) => format!("{}...", text.get(..end).unwrap_or_default()),
        None => text.to_owned(),
    }
}

/// One name or entry.
pub(crate) fn name(text: &str) -> String {
    start(text, LONGEST)
}

/// Names one after another, as far as a message has room for them.
pub(crate) fn names<S: AsRef<str>>(all: &[S]) -> String {
    let mut shown = String::new();
    for (at, one) in all.iter().enumerate() {
        let next = marked(&name(one.as_ref()));
        if at > 0 && shown.len() + next.len() > ALL {
            return format!("{shown} and {} more", all.len() - at);
        }
        if at > 0 {
            shown.push_str(", ");
        }
        shown.push_str(&next);
    }
    shown
}

/// A sentence whose words, names among them, may be very long.
pub(crate) fn sentence(text: String) -> String {
    if text.len() <= LONGEST {
        return text;
    }
    let whole = |word: &str| word.len() <= 2 * LONGEST;
    let cut = if text.split(' ').all(whole) {
        text
    } else {
        text.split(' ').map(|word| if whole(word) { word.to_owned() } else { name(word) }).collect::<Vec<_>>().join(" ")
    };
    if cut.len() <= SENTENCE { cut } else { start(&cut, SENTENCE) }
}

/// Control and direction signs, which would break a line or hide, as marks.
pub(crate) fn marked(text: &str) -> String {
    let unseen = |letter: char| {
        letter.is_control()
            || matches!(letter, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
    };
    if !text.contains(unseen) {
        return text.to_owned();
    }
    text.chars()
        .map(|letter| if unseen(letter) { format!("<U+{:04X}>", u32::from(letter)) } else { letter.to_string() })
        .collect()
}
