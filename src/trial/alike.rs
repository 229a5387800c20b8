//! Levels that look the same and are not: only the user can say whether they are one.

use std::collections::BTreeMap;

use rayon::prelude::*;
use unicode_script::{Script, UnicodeScript};
use unicode_security::skeleton;

use crate::control::checkpoint;
use crate::error::Issue;
use crate::trial::coding::MANY;
use crate::trial::levels::shown;

/// Questions about levels that look the same: by case, spaces, the spelling of a number, its last digit, characters that cannot be
/// seen, accents of their own, letters of another alphabet. Numbers are apart unless only rounding parted them.
///
/// # References
/// Unicode Technical Standard 39, section 4 (skeletons of confusable text).
#[must_use]
pub(crate) fn similar_levels(levels: &[String], numbers: Option<&[f64]>) -> Vec<Issue> {
    if let Some(numbers) = numbers {
        let text = |pair: (f64, f64)| asked(&[pair.0.to_string(), pair.1.to_string()], "differ only by rounding");
        return rounded_apart(numbers).map(text).into_iter().collect();
    }
    let quoted = |set: &[String]| set.iter().map(|level| format!("{level:?}")).collect::<Vec<_>>();
    let number = |level: &String| level.trim().parse::<f64>().is_ok();
    let alike = look_alikes(levels);
    let spelled = alike.iter().map(|set| {
        let how = if set.iter().all(number) { "how a number is written" } else { "case or spaces" };
        asked(&quoted(set), &format!("differ only by {how}"))
    });
    let seen = confusable(levels).into_iter().filter(|set| !alike.contains(set)).map(|set| {
        let how = format!("look the same and are written with different characters ({})", odd_characters(&set));
        asked(&quoted(&set), &how)
    });
    let rounded = text_rounded_apart(levels).map(|set| asked(&quoted(&set), "differ only by rounding"));
    spelled.chain(seen).chain(rounded).collect()
}

fn asked(shown: &[String], how: &str) -> Issue {
    let reason = format!("{} {how}", shown.join(" and "));
    let hint = "write them alike if they are the same; if they really differ, load with distinct_levels=True";
    // No option to paste: where they are one level, as mostly, it would make two of it.
    Issue::of_input("similar_levels", reason, hint).with_value(shown.join(", "))
}

/// Neighbours among ordered numbers that only arithmetic can have parted, such as 0.3 and 0.30000000000000004. Whole numbers are
/// what they are.
fn rounded_apart(numbers: &[f64]) -> Option<(f64, f64)> {
    let mut pairs = numbers.windows(2).filter_map(|pair| if let [a, b] = pair { Some((*a, *b)) } else { None });
    let whole = |value: f64| value.fract() == 0.0;
    pairs.find(|(a, b)| a != b && !(whole(*a) && whole(*b)) && (a - b).abs() <= 1e-12 * a.abs().max(b.abs()))
}

/// The same among levels kept as text.
fn text_rounded_apart(levels: &[String]) -> Option<Vec<String>> {
    let long = |level: &String| level.len() > 15 && level.contains(['.', ',']);
    if !levels.iter().any(long) {
        return None;
    }
    let number = |level: &String| {
        let value = level.trim().replace(',', ".").parse::<f64>().ok()?;
        value.is_finite().then_some(value)
    };
    let mut numbers: Vec<(f64, &String)> = levels.iter().filter_map(|level| Some((number(level)?, level))).collect();
    numbers.sort_by(|a, b| a.0.total_cmp(&b.0));
    let values: Vec<f64> = numbers.iter().map(|(value, _)| *value).collect();
    let (a, b) = rounded_apart(&values)?;
    let text = |wanted: f64| numbers.iter().find(|(value, _)| *value == wanted).map(|(_, level)| (*level).clone());
    Some(vec![text(a)?, text(b)?])
}

/// A label as a number where it is one in another spelling (`012`, `1E2`), in plain digits; long codes are no numbers.
fn as_digits(level: &str) -> Option<String> {
    let level = level.trim();
    let begins = level.bytes().next().is_some_and(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+'));
    if !begins || level.len() > 15 {
        return None;
    }
    level.parse::<f64>().ok().filter(|value| value.is_finite()).map(shown)
}

/// Sets of levels that differ only by case, spaces or the spelling of a number.
fn look_alikes(levels: &[String]) -> Vec<Vec<String>> {
    // Most columns have none, which a set of short codes tells at once.
    let many = levels.len() >= MANY;
    let mut codes: Vec<u64> = if many {
        levels.par_iter().map(|level| trace(level)).collect()
    } else {
        levels.iter().map(|one| trace(one)).collect()
    };
    checkpoint();
    if many {
        codes.par_sort_unstable();
    } else {
        codes.sort_unstable();
    }
    if codes.iter().zip(codes.iter().skip(1)).all(|(one, next)| one != next) {
        return Vec::new();
    }
    sets(levels, |level| as_digits(level).unwrap_or_else(|| plain(level.chars())))
}

/// Sets of levels that differ but in what the eye does not see, at least one of them not plain ASCII: of those that are, `K1` and
/// `Kl` or `0` and `O` are told apart by who writes them.
fn confusable(levels: &[String]) -> Vec<Vec<String>> {
    if levels.iter().all(|level| level.is_ascii()) {
        return Vec::new();
    }
    let foreign = |set: &Vec<String>| set.iter().any(|level| !level.is_ascii());
    // In either order: capitals of two alphabets may look alike where their small letters do not, and the other way round.
    let mut found = sets(levels, |level| plain(skeleton(level)));
    for set in sets(levels, |level| plain(skeleton(&plain(level.chars())))) {
        let known = |other: &Vec<String>| set.iter().all(|level| other.contains(level));
        if !found.iter().any(known) {
            found.push(set);
        }
    }
    found.retain(foreign);
    found
}

fn sets(levels: &[String], key: impl Fn(&str) -> String) -> Vec<Vec<String>> {
    let mut sets: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for level in levels {
        checkpoint();
        sets.entry(key(level)).or_default().push(level.clone());
    }
    sets.into_values().filter(|set| set.len() > 1).collect()
}

/// Without case and spaces.
fn plain(letters: impl Iterator<Item = char>) -> String {
    letters.filter(|letter| !letter.is_whitespace()).flat_map(char::to_lowercase).collect()
}

/// The characters outside ASCII that not all levels hold, the first few.
fn odd_characters(set: &[String]) -> String {
    let mut told: Vec<String> = Vec::new();
    for letter in set.iter().flat_map(|level| level.chars()).filter(|letter| !letter.is_ascii()) {
        if set.iter().all(|level| level.contains(letter)) {
            continue;
        }
        let code = format!("U+{:04X}", u32::from(letter));
        let what = match letter.script() {
            _ if skeleton(letter.encode_utf8(&mut [0; 4])).next().is_none() => ", which cannot be seen".to_owned(),
            Script::Latin | Script::Common | Script::Unknown => String::new(),
            Script::Inherited => ", a mark of its own".to_owned(),
            other => format!(", {}", other.full_name()),
        };
        let one = code + &what;
        if !told.contains(&one) {
            told.push(one);
        }
    }
    let more = told.len().saturating_sub(3);
    told.truncate(3);
    let shown = told.join("; ");
    if more > 0 { format!("{shown} and {more} more") } else { shown }
}

/// A code of the level without case and spaces: look-alikes share it, others nearly never do.
fn trace(level: &str) -> u64 {
    if let Some(digits) = as_digits(level) {
        return trace_of(&digits);
    }
    trace_of(level)
}

fn trace_of(level: &str) -> u64 {
    let mix = |code: u64, letter: char| (code ^ u64::from(letter)).wrapping_mul(0x0100_0000_01b3).rotate_left(23);
    let start = 0xcbf2_9ce4_8422_2325;
    if level.is_ascii() {
        let letters = level.bytes().map(|byte| byte.to_ascii_lowercase() as char);
        return letters.filter(|letter| !letter.is_whitespace()).fold(start, mix);
    }
    level.chars().filter(|letter| !letter.is_whitespace()).flat_map(char::to_lowercase).fold(start, mix)
}
