//! Combinations of codes in the order of the codes, so that sums by cell need no tree.

use super::groups::{Distinct, Key, distinct, tally};

/// Lines numbered by their combination of codes, in the order of the codes (first column first).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ranked {
    /// The combination's number of each line.
    pub numbers: Vec<u32>,
    /// The first line of each combination.
    pub firsts: Vec<usize>,
}

impl Ranked {
    /// Number of combinations.
    #[must_use]
    pub fn len(&self) -> usize {
        self.firsts.len()
    }

    /// True when there is no line.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.firsts.is_empty()
    }
}

/// Numbers the combinations of codes that are found in `lines` lines, in the order of the codes; without columns all lines are alike.
///
/// ```
/// use rootling::math::design::{Key, ranked};
/// let found = ranked(&[Key::new(&[1, 0, 1, 1], 2), Key::new(&[2, 0, 0, 2], 3)], 4);
/// assert_eq!((found.numbers, found.firsts), (vec![2, 0, 1, 2], vec![1, 2, 0]));
/// ```
#[must_use]
pub fn ranked(keys: &[Key<'_>], lines: usize) -> Ranked {
    let Distinct { mut numbers, firsts } = distinct(keys, lines);
    let codes = |at: &usize| firsts.get(*at).map(|line| keys.iter().map(|key| key.get(*line)));
    let mut order: Vec<usize> = (0..firsts.len()).collect();
    order.sort_unstable_by(|a, b| codes(a).into_iter().flatten().cmp(codes(b).into_iter().flatten()));
    let mut rank = vec![0_u32; order.len()];
    for (place, at) in order.iter().enumerate() {
        rank.get_mut(*at).into_iter().for_each(|rank| *rank = place as u32);
    }
    for number in &mut numbers {
        *number = rank.get(*number as usize).copied().unwrap_or_default();
    }
    let firsts = order.iter().filter_map(|at| firsts.get(*at).copied()).collect();
    Ranked { numbers, firsts }
}

/// How many different codes there are.
///
/// ```
/// assert_eq!(rootling::math::design::different(&[3, 0, 3, 9]), 3);
/// ```
#[must_use]
pub fn different(codes: &[u32]) -> usize {
    tally(&[Key::of(codes)], codes.len()).0.len()
}

/// True when all lines with the same outer code have the same inner code.
///
/// ```
/// use rootling::math::design::constant_within;
/// assert!(constant_within(&[5, 7, 5], &[0, 1, 0]) && !constant_within(&[5, 7, 6], &[0, 1, 0]));
/// ```
#[must_use]
pub fn constant_within<T: Copy + PartialEq>(inner: &[T], outer: &[u32]) -> bool {
    let lines = inner.len().min(outer.len());
    let outer = outer.get(..lines).unwrap_or_default();
    let size = outer.iter().max().map_or(0, |most| *most as usize + 1);
    let mut seen: Vec<Option<T>> = Vec::new();
    if size <= 2 * lines + 1024 {
        seen.resize(size, None);
        let mut same = |(own, code): (&T, &u32)| {
            seen.get_mut(*code as usize).is_some_and(|slot| *slot.get_or_insert(*own) == *own)
        };
        return inner.iter().zip(outer).all(&mut same);
    }
    let numbers = distinct(&[Key::of(outer)], lines).numbers;
    constant_within(inner, &numbers)
}
