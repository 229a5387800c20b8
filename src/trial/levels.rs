//! From entries to coded factors, and the look-alike levels that only the user can judge.

use std::collections::{BTreeMap, HashSet};

use crate::trial::cell::Cell;
use crate::trial::coding::Coded;
use crate::trial::columns::Factor;

/// Codes one column at the given lines. Levels that are amounts, all written as plain numbers, are ordered as numbers (`2500` and
/// `2500.0` are one level); other levels are kept letter for letter. Labels, such as tray codes, are never amounts: `12`, `012`
/// and `1.2E1` are three, and only their order is that of numbers.
#[must_use]
pub fn factor(name: &str, column: &Coded, lines: &[usize], amount: bool) -> Factor {
    let codes = || lines.iter().filter_map(|line| column.code(*line));
    let mut used = vec![false; column.entries().len()];
    for code in codes() {
        if let Some(used) = used.get_mut(code) {
            *used = true;
        }
    }
    let found = || column.entries().iter().enumerate().zip(&used).filter(|(_, used)| **used).map(|(entry, _)| entry);
    // Adding zero turns -0 into 0, so that both are one level.
    let number = |(at, cell): (usize, &Cell)| cell.as_plain_number().map(|value| (value + 0.0, at));
    let numbers = found().map(number).collect::<Option<Vec<(f64, usize)>>>().filter(|numbers| !numbers.is_empty());
    let (levels, numbers, order) = match numbers {
        Some(numbers) => match by_number(numbers, amount.then_some(()), column) {
            Some(ordered) => ordered,
            None => by_text(found()),
        },
        None => by_text(found()),
    };
    let mut level_of = vec![0_u32; column.entries().len()];
    for (entry, level) in order {
        if let Some(place) = level_of.get_mut(entry) {
            *place = level;
        }
    }
    let codes = codes().filter_map(|code| level_of.get(code).copied()).collect();
    Factor { name: name.to_owned(), levels, numbers, codes }
}

type Ordered = (Vec<String>, Option<Vec<f64>>, Vec<(usize, u32)>);

/// Levels in the order of their numbers; none where labels that differ are one number.
fn by_number(mut numbers: Vec<(f64, usize)>, amounts: Option<()>, column: &Coded) -> Option<Ordered> {
    numbers.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let order = places(&numbers, |a, b| a.total_cmp(b).is_eq());
    let text = |at: usize| column.entries().get(at).map(Cell::shown);
    let alike = |pair: &[(f64, usize)]| match pair {
        [a, b] if a.0.total_cmp(&b.0).is_eq() => text(a.1) == text(b.1),
        _ => true,
    };
    if amounts.is_none() && !numbers.windows(2).all(alike) {
        return None;
    }
    numbers.dedup_by(|a, b| a.0.total_cmp(&b.0).is_eq());
    let values: Vec<f64> = numbers.iter().map(|(value, _)| *value).collect();
    let label = |(value, at): &(f64, usize)| match amounts {
        Some(()) => shown(*value),
        None => text(*at).unwrap_or_default(),
    };
    Some((numbers.iter().map(label).collect(), Some(values), order))
}

/// Levels letter for letter, in the order of the alphabet.
fn by_text<'a>(found: impl Iterator<Item = (usize, &'a Cell)>) -> Ordered {
    let mut labels: Vec<(String, usize)> = found.map(|(at, cell)| (cell.shown(), at)).collect();
    labels.sort_unstable();
    let order = places(&labels, |a, b| a == b);
    labels.dedup_by(|a, b| a.0 == b.0);
    (labels.into_iter().map(|(label, _)| label).collect(), None, order)
}

/// Neighbours among ordered numbers that only arithmetic can have parted, such as 0.3 and 0.30000000000000004.
#[must_use]
pub fn rounded_apart(numbers: &[f64]) -> Option<(f64, f64)> {
    let mut pairs = numbers.windows(2).filter_map(|pair| if let [a, b] = pair { Some((*a, *b)) } else { None });
    pairs.find(|(a, b)| a != b && (a - b).abs() <= 1e-12 * a.abs().max(b.abs()))
}

/// The same factor with its levels in a declared order; levels outside it follow in their own order.
#[must_use]
pub fn reordered(factor: Factor, order: &[String]) -> Factor {
    let declared = |level: &String| order.iter().position(|other| other == level).unwrap_or(usize::MAX);
    let mut places: Vec<usize> = (0..factor.levels.len()).collect();
    places.sort_by_key(|at| factor.levels.get(*at).map(declared));
    let mut new = vec![0_u32; places.len()];
    for (place, old) in places.iter().enumerate() {
        if let Some(slot) = new.get_mut(*old) {
            *slot = place as u32;
        }
    }
    let levels = places.iter().filter_map(|at| factor.levels.get(*at).cloned()).collect();
    let numbers = factor.numbers.map(|numbers| places.iter().filter_map(|at| numbers.get(*at).copied()).collect());
    let codes = factor.codes.iter().filter_map(|code| new.get(*code as usize).copied()).collect();
    Factor { name: factor.name, levels, numbers, codes }
}

/// The level of each entry, from the entries in the order of their levels.
fn places<T>(ordered: &[(T, usize)], same: impl Fn(&T, &T) -> bool) -> Vec<(usize, u32)> {
    let mut level = 0;
    let mut last: Option<&T> = None;
    let mut places = Vec::with_capacity(ordered.len());
    for (value, entry) in ordered {
        if last.is_some_and(|last| !same(last, value)) {
            level += 1;
        }
        last = Some(value);
        places.push((*entry, level));
    }
    places
}

/// A number as text; whole ones take the shorter way to the same digits.
fn shown(value: f64) -> String {
    let whole = value as i64;
    if whole as f64 == value && value.abs() <= 9_007_199_254_740_992.0 { whole.to_string() } else { value.to_string() }
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
#[must_use]
pub fn look_alikes(levels: &[String]) -> Vec<Vec<String>> {
    let plain = |level: &str| -> String {
        if let Some(digits) = as_digits(level) {
            return digits;
        }
        level.chars().filter(|letter| !letter.is_whitespace()).flat_map(char::to_lowercase).collect()
    };
    // Most columns have none, which a set of short codes tells at once.
    let mut seen = HashSet::with_capacity(levels.len());
    if levels.iter().all(|level| seen.insert(trace(level))) {
        return Vec::new();
    }
    let mut sets: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for level in levels {
        sets.entry(plain(level)).or_default().push(level.clone());
    }
    sets.into_values().filter(|set| set.len() > 1).collect()
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
