//! Grouping of lines by coded columns, without a vector or a tree per group.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// A column of codes, each below `size`.
#[derive(Debug, Clone, Copy)]
pub struct Key<'a> {
    /// One code per line.
    pub codes: &'a [u32],
    /// Number of possible codes.
    pub size: usize,
}

/// Lines that share a combination of codes bear the same number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Distinct {
    /// The combination's number of each line, counted 0, 1, ... in order of first appearance.
    pub numbers: Vec<u32>,
    /// The first line of each combination.
    pub firsts: Vec<usize>,
}

impl Distinct {
    /// How many lines each combination has.
    #[must_use]
    pub fn sizes(&self) -> Vec<u64> {
        let mut sizes = vec![0; self.firsts.len()];
        for number in &self.numbers {
            if let Some(size) = sizes.get_mut(*number as usize) {
                *size += 1;
            }
        }
        sizes
    }
}

/// Numbers the combinations of codes found in `lines` lines (fewer than 2^32); without columns all lines are alike.
///
/// ```
/// use rootling::math::groups::{Key, distinct};
/// let keys = [Key { codes: &[1, 0, 1, 1], size: 2 }, Key { codes: &[0, 0, 0, 2], size: 3 }];
/// let found = distinct(&keys, 4);
/// assert_eq!((found.numbers, found.firsts), (vec![0, 1, 0, 2], vec![0, 1, 3]));
/// ```
#[must_use]
pub fn distinct(keys: &[Key<'_>], lines: usize) -> Distinct {
    let mut found = Distinct { numbers: vec![0; lines], firsts: if lines > 0 { vec![0] } else { Vec::new() } };
    let mut rest = keys;
    while !rest.is_empty() {
        // As many columns at a time as one 64-bit number holds; a number and one column always fit.
        let (mut span, mut taken) = (found.firsts.len() as u64, 0);
        for key in rest {
            let Some(wider) = span.checked_mul(key.size as u64) else { break };
            (span, taken) = (wider, taken + 1);
        }
        let (now, later) = rest.split_at(taken.max(1));
        found.firsts = join(&mut found.numbers, now, span);
        rest = later;
    }
    found
}

/// Numbers for combined codes below `span`: a table where it is not much longer than the lines, else a hash map.
enum Numbering {
    Table(Vec<u32>),
    Map(HashMap<u64, u32, BuildHasherDefault<Fold>>),
}

const NONE: u32 = u32::MAX;

impl Numbering {
    /// The number of a combination, or `fresh` when it is new.
    fn get(&mut self, combined: u64, fresh: u32) -> u32 {
        match self {
            Self::Table(table) => match table.get_mut(combined as usize) {
                Some(number) if *number == NONE => {
                    *number = fresh;
                    fresh
                }
                Some(number) => *number,
                None => fresh,
            },
            Self::Map(map) => *map.entry(combined).or_insert(fresh),
        }
    }
}

/// Refines the numbering by further columns; returns the new first lines.
fn join(numbers: &mut [u32], keys: &[Key<'_>], span: u64) -> Vec<usize> {
    const BLOCK: usize = 1024;
    let mut numbering = if span <= 4 * numbers.len() as u64 + 1024 {
        Numbering::Table(vec![NONE; span as usize])
    } else {
        Numbering::Map(HashMap::default())
    };
    let mut firsts = Vec::new();
    let mut combined = [0_u64; BLOCK];
    for (block, numbers) in numbers.chunks_mut(BLOCK).enumerate() {
        let start = block * BLOCK;
        for (combined, number) in combined.iter_mut().zip(numbers.iter()) {
            *combined = u64::from(*number);
        }
        for key in keys {
            let codes = key.codes.get(start..).unwrap_or_default();
            for (combined, code) in combined.iter_mut().zip(codes) {
                *combined = *combined * key.size as u64 + u64::from(*code);
            }
        }
        for (at, (number, combined)) in numbers.iter_mut().zip(&combined).enumerate() {
            let fresh = firsts.len() as u32;
            *number = numbering.get(*combined, fresh);
            if *number == fresh {
                firsts.push(start + at);
            }
        }
    }
    firsts
}

/// A hash for whole numbers: multiply and fold the two halves.
#[derive(Default)]
struct Fold(u64);

impl Hasher for Fold {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }

    fn write_u64(&mut self, value: u64) {
        let wide = u128::from(self.0 ^ value ^ 0x9E37_79B9_7F4A_7C15) * 0xD1B5_4A32_D192_ED03_u128;
        self.0 = (wide as u64) ^ (wide >> 64) as u64;
    }
}

/// Lines grouped by codes, groups in the order of their codes (first column first), lines in their own order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sorted {
    order: Vec<usize>,
    starts: Vec<usize>,
}

impl Sorted {
    /// Number of groups.
    #[must_use]
    pub fn len(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    /// True when there is no line.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The lines of each group.
    pub fn groups(&self) -> impl Iterator<Item = &[usize]> {
        self.starts.windows(2).map(|ends| match ends {
            [start, end] => self.order.get(*start..*end).unwrap_or_default(),
            _ => &[],
        })
    }
}

/// Groups and orders `lines` lines by codes: a stable counting sort, last column first.
///
/// ```
/// use rootling::math::groups::{Key, sorted};
/// let found = sorted(&[Key { codes: &[1, 0, 1, 1], size: 2 }, Key { codes: &[2, 0, 0, 2], size: 3 }], 4);
/// assert_eq!(found.groups().collect::<Vec<_>>(), [&[1][..], &[2], &[0, 3]]);
/// ```
#[must_use]
pub fn sorted(keys: &[Key<'_>], lines: usize) -> Sorted {
    let mut order: Vec<usize> = (0..lines).collect();
    for key in keys.iter().rev() {
        order = pass(key, &order);
    }
    let alike = |a: usize, b: usize| keys.iter().all(|key| key.codes.get(a) == key.codes.get(b));
    let mut starts: Vec<usize> = if lines > 0 { vec![0] } else { Vec::new() };
    for (at, pair) in order.windows(2).enumerate() {
        if let [a, b] = pair
            && !alike(*a, *b)
        {
            starts.push(at + 1);
        }
    }
    starts.push(lines);
    Sorted { order, starts }
}

fn pass(key: &Key<'_>, order: &[usize]) -> Vec<usize> {
    let mut slots = vec![0_usize; key.size + 1];
    for line in order {
        if let Some(slot) = key.codes.get(*line).and_then(|code| slots.get_mut(*code as usize + 1)) {
            *slot += 1;
        }
    }
    let mut sum = 0;
    for slot in &mut slots {
        sum += *slot;
        *slot = sum;
    }
    let mut next = vec![0; order.len()];
    for line in order {
        let slot = key.codes.get(*line).and_then(|code| slots.get_mut(*code as usize));
        if let Some(slot) = slot
            && let Some(place) = next.get_mut(*slot)
        {
            *place = *line;
            *slot += 1;
        }
    }
    next
}
