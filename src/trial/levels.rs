//! From entries to coded factors.

use rayon::prelude::*;

use crate::control::checkpoint;
use crate::trial::cell::Cell;
use crate::trial::coding::{Coded, MANY};
use crate::trial::columns::Factor;

/// Codes one column at the given lines. Levels that are amounts, all written as plain numbers, are ordered as numbers (`2500` and
/// `2500.0` are one level); other levels are kept letter for letter. Labels, such as tray codes, are never amounts: `12`, `012`
/// and `1.2E1` are three, and only their order is that of numbers.
#[must_use]
pub(super) fn factor(name: &str, column: &Coded, lines: &[usize], amount: bool) -> Factor {
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
    checkpoint();
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
    let mut labels: Vec<((u64, String), usize)> = found
        .map(|(at, cell)| {
            let label = cell.shown();
            ((beginning(&label), label), at)
        })
        .collect();
    checkpoint();
    if labels.len() < MANY {
        labels.sort_unstable();
    } else {
        labels.par_sort_unstable();
    }
    checkpoint();
    let order = places(&labels, |a, b| a == b);
    labels.dedup_by(|a, b| a.0 == b.0);
    (labels.into_iter().map(|((_, label), _)| label).collect(), None, order)
}

/// The first eight bytes as a number, which orders most labels as their letters do.
fn beginning(label: &str) -> u64 {
    let mut bytes = [0; 8];
    bytes.iter_mut().zip(label.bytes()).for_each(|(byte, own)| *byte = own);
    u64::from_be_bytes(bytes)
}

/// The same factor with its levels in a declared order; levels outside it follow in their own order.
#[must_use]
pub(super) fn reordered(factor: Factor, order: &[String]) -> Factor {
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
pub(super) fn shown(value: f64) -> String {
    let whole = value as i64;
    if whole as f64 == value && value.abs() <= 9_007_199_254_740_992.0 { whole.to_string() } else { value.to_string() }
}
