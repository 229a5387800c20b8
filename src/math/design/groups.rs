//! Grouping of lines by coded columns, without a vector or a tree per group.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use crate::control::checkpoint;

/// Codes in as few bytes as they need.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Codes {
    /// Up to 256 codes.
    Byte(Vec<u8>),
    /// Up to 65,536 codes.
    Short(Vec<u16>),
    /// More.
    Long(Vec<u32>),
}

impl Codes {
    /// No code yet, room for `lines`.
    #[must_use]
    pub fn with_capacity(lines: usize) -> Self {
        Self::Byte(Vec::with_capacity(lines))
    }

    /// Codes below `size`, in as few bytes as they need.
    #[must_use]
    pub fn of(codes: &[u32], size: usize) -> Self {
        let mut narrow = Self::with_capacity(codes.len());
        narrow.extend(codes, size);
        narrow
    }

    /// Number of lines.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Self::Byte(codes) => codes.len(),
            Self::Short(codes) => codes.len(),
            Self::Long(codes) => codes.len(),
        }
    }

    /// True when there is no line.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The code of a line.
    #[inline]
    #[must_use]
    pub fn get(&self, line: usize) -> Option<u32> {
        self.key(0).get(line)
    }

    /// Adds codes, each below `size`; earlier ones are widened when the new need it.
    pub fn extend(&mut self, codes: &[u32], size: usize) {
        if size > 1 << 16 {
            self.widen();
        }
        match self {
            Self::Byte(narrow) if size > 1 << 8 => {
                let mut wider = Vec::with_capacity(narrow.capacity());
                wider.extend(narrow.iter().map(|code| u16::from(*code)));
                wider.extend(codes.iter().map(|code| *code as u16));
                *self = Self::Short(wider);
            }
            Self::Byte(narrow) => narrow.extend(codes.iter().map(|code| *code as u8)),
            Self::Short(short) => short.extend(codes.iter().map(|code| *code as u16)),
            Self::Long(long) => long.extend(codes),
        }
    }

    fn widen(&mut self) {
        let mut long = match self {
            Self::Byte(narrow) => Vec::with_capacity(narrow.capacity()),
            Self::Short(short) => Vec::with_capacity(short.capacity()),
            Self::Long(_) => return,
        };
        match self {
            Self::Byte(narrow) => long.extend(narrow.iter().map(|code| u32::from(*code))),
            Self::Short(short) => long.extend(short.iter().map(|code| u32::from(*code))),
            Self::Long(_) => {}
        }
        *self = Self::Long(long);
    }

    /// The same codes at some lines.
    #[must_use]
    pub fn at(&self, lines: &[usize]) -> Self {
        fn pick<T: Copy>(codes: &[T], lines: &[usize]) -> Vec<T> {
            lines.iter().filter_map(|line| codes.get(*line).copied()).collect()
        }
        match self {
            Self::Byte(codes) => Self::Byte(pick(codes, lines)),
            Self::Short(codes) => Self::Short(pick(codes, lines)),
            Self::Long(codes) => Self::Long(pick(codes, lines)),
        }
    }

    /// How many lines have another code than the line before.
    #[must_use]
    pub fn changes(&self) -> usize {
        fn count<T: PartialEq>(codes: &[T]) -> usize {
            codes.iter().zip(codes.iter().skip(1)).filter(|(a, b)| a != b).count()
        }
        match self {
            Self::Byte(codes) => count(codes),
            Self::Short(codes) => count(codes),
            Self::Long(codes) => count(codes),
        }
    }

    /// Marks the lines that have another code than the line before; other marks stay.
    pub fn mark_changes(&self, marks: &mut [bool]) {
        fn mark<T: PartialEq>(codes: &[T], marks: &mut [bool]) {
            let pairs = codes.iter().zip(codes.iter().skip(1));
            marks.iter_mut().skip(1).zip(pairs).for_each(|(mark, (a, b))| *mark |= a != b);
        }
        match self {
            Self::Byte(codes) => mark(codes, marks),
            Self::Short(codes) => mark(codes, marks),
            Self::Long(codes) => mark(codes, marks),
        }
    }

    /// What `table` has for the code of each line; 0 for codes beyond it.
    #[must_use]
    pub fn mapped(&self, table: &[u32]) -> Vec<u32> {
        fn map<T: Copy + Into<u32>>(codes: &[T], table: &[u32]) -> Vec<u32> {
            let one = |code: &T| table.get((*code).into() as usize).copied().unwrap_or_default();
            codes.iter().map(one).collect()
        }
        match self {
            Self::Byte(codes) => map(codes, table),
            Self::Short(codes) => map(codes, table),
            Self::Long(codes) => map(codes, table),
        }
    }

    /// The codes as a key with `size` possible codes.
    #[must_use]
    pub fn key(&self, size: usize) -> Key<'_> {
        let codes = match self {
            Self::Byte(codes) => View::Byte(codes),
            Self::Short(codes) => View::Short(codes),
            Self::Long(codes) => View::Long(codes),
        };
        Key { codes, size }
    }
}

#[derive(Debug, Clone, Copy)]
enum View<'a> {
    Byte(&'a [u8]),
    Short(&'a [u16]),
    Long(&'a [u32]),
}

/// A column of codes, each below its size.
#[derive(Debug, Clone, Copy)]
pub struct Key<'a> {
    codes: View<'a>,
    size: usize,
}

impl<'a> Key<'a> {
    /// A key of one code per line, each below `size`.
    #[must_use]
    pub fn new(codes: &'a [u32], size: usize) -> Self {
        Self { codes: View::Long(codes), size }
    }

    /// A key of codes whose size is seen from them.
    #[must_use]
    pub fn of(codes: &'a [u32]) -> Self {
        Self::new(codes, codes.iter().max().map_or(0, |most| *most as usize + 1))
    }

    /// Every number becomes itself times the size of this key plus the code of its line.
    fn combine(&self, numbers: &mut [u32]) {
        fn add<T: Copy + Into<u32>>(codes: &[T], size: u32, numbers: &mut [u32]) {
            numbers.iter_mut().zip(codes).for_each(|(number, code)| *number = *number * size + (*code).into());
        }
        let size = self.size as u32;
        match self.codes {
            View::Byte(codes) => add(codes, size, numbers),
            View::Short(codes) => add(codes, size, numbers),
            View::Long(codes) => add(codes, size, numbers),
        }
    }

    /// The code of a line.
    #[must_use]
    pub fn get(&self, line: usize) -> Option<u32> {
        match self.codes {
            View::Byte(codes) => codes.get(line).map(|code| u32::from(*code)),
            View::Short(codes) => codes.get(line).map(|code| u32::from(*code)),
            View::Long(codes) => codes.get(line).copied(),
        }
    }

    /// Takes the codes from line `start` on as the next digit of combined codes.
    fn append(&self, start: usize, combined: &mut [u64]) {
        fn digit<T: Copy + Into<u64>>(codes: &[T], start: usize, size: usize, combined: &mut [u64]) {
            for (combined, code) in combined.iter_mut().zip(codes.get(start..).unwrap_or_default()) {
                *combined = *combined * size as u64 + (*code).into();
            }
        }
        match self.codes {
            View::Byte(codes) => digit(codes, start, self.size, combined),
            View::Short(codes) => digit(codes, start, self.size, combined),
            View::Long(codes) => digit(codes, start, self.size, combined),
        }
    }
}

/// Lines that share a combination of codes bear the same number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Distinct {
    /// The combination's number of each line, counted 0, 1, ... in order of first appearance.
    pub numbers: Vec<u32>,
    /// The first line of each combination.
    pub firsts: Vec<usize>,
}

/// Numbers the combinations of codes found in `lines` lines (fewer than 2^32); without columns all lines are alike.
///
/// ```
/// use rootling::math::design::{Key, distinct};
/// let found = distinct(&[Key::new(&[1, 0, 1, 1], 2), Key::new(&[0, 0, 0, 2], 3)], 4);
/// assert_eq!((found.numbers, found.firsts), (vec![0, 1, 0, 2], vec![0, 1, 3]));
/// ```
#[must_use]
pub fn distinct(keys: &[Key<'_>], lines: usize) -> Distinct {
    let (joined, last) = all_but_last(keys, lines);
    let mut numbers = Vec::with_capacity(lines);
    let firsts = joined.join(last, lines, |number| numbers.push(number));
    Distinct { numbers, firsts }
}

/// The first line of each combination of codes, in order of appearance, and how many lines it has.
#[must_use]
pub fn tally(keys: &[Key<'_>], lines: usize) -> (Vec<usize>, Vec<u64>) {
    let (joined, last) = all_but_last(keys, lines);
    let mut sizes: Vec<u64> = Vec::new();
    let firsts = joined.join(last, lines, |number| match sizes.get_mut(number as usize) {
        Some(size) => *size += 1,
        None => sizes.push(1),
    });
    (firsts, sizes)
}

/// Combinations numbered so far; none yet stands for one combination.
struct Joined {
    numbers: Option<Vec<u32>>,
    count: u64,
}

/// Numbers the combinations of the first columns, as long as the rest does not fit into one 64-bit number with them.
fn all_but_last<'k, 'a>(keys: &'k [Key<'a>], lines: usize) -> (Joined, &'k [Key<'a>]) {
    let mut joined = Joined { numbers: None, count: 1 };
    let mut rest = keys;
    loop {
        let (mut span, mut taken) = (joined.count, 0);
        for key in rest {
            let Some(wider) = span.checked_mul(key.size as u64) else { break };
            (span, taken) = (wider, taken + 1);
        }
        if taken == rest.len() {
            return (joined, rest);
        }
        // A number and one column always fit.
        let (now, later) = rest.split_at(taken.max(1));
        let mut numbers = Vec::with_capacity(lines);
        let count = joined.join(now, lines, |number| numbers.push(number)).len() as u64;
        joined = Joined { numbers: Some(numbers), count };
        rest = later;
    }
}

impl Joined {
    /// Joins further columns: shows every line's new number and returns the first line of each.
    fn join(&self, keys: &[Key<'_>], lines: usize, mut see: impl FnMut(u32)) -> Vec<usize> {
        const BLOCK: usize = 1024;
        let span = keys.iter().fold(self.count, |span, key| span.saturating_mul(key.size as u64));
        let mut numbering = if span <= 2 * lines as u64 + 1024 {
            Numbering::Table(vec![NONE; span as usize])
        } else {
            Numbering::Map(HashMap::default())
        };
        let mut firsts = Vec::new();
        let mut combined = [0_u64; BLOCK];
        for start in (0..lines).step_by(BLOCK) {
            checkpoint();
            combined.fill(0);
            if let Some(numbers) = &self.numbers {
                Key::new(numbers, 1).append(start, &mut combined);
            }
            keys.iter().for_each(|key| key.append(start, &mut combined));
            for (line, combined) in (start..lines).zip(&combined) {
                let fresh = firsts.len() as u32;
                let number = numbering.get(*combined, fresh);
                if number == fresh {
                    firsts.push(line);
                }
                see(number);
            }
        }
        firsts
    }
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
/// use rootling::math::design::{Key, sorted};
/// let found = sorted(&[Key::new(&[1, 0, 1, 1], 2), Key::new(&[2, 0, 0, 2], 3)], 4);
/// assert_eq!(found.groups().collect::<Vec<_>>(), [&[1][..], &[2], &[0, 3]]);
/// ```
#[must_use]
pub fn sorted(keys: &[Key<'_>], lines: usize) -> Sorted {
    // Few combinations are one code, which is sorted by at once.
    let combinations = keys.iter().fold(1_usize, |product, key| product.saturating_mul(key.size));
    if keys.len() > 1 && combinations <= (4 * lines).min(1 << 20) {
        let mut combined = vec![0; lines];
        keys.iter().for_each(|key| key.combine(&mut combined));
        return sorted(&[Key::new(&combined, combinations)], lines);
    }
    // Neighbours with few combinations are one column as well: a pass over all lines less for each.
    let mut columns: Vec<(Vec<u32>, usize)> = Vec::new();
    for key in keys {
        match columns.last_mut() {
            Some((codes, size)) if size.saturating_mul(key.size) <= (4 * lines).min(1 << 16) => {
                key.combine(codes);
                *size *= key.size;
            }
            _ => {
                let mut codes = vec![0; lines];
                key.combine(&mut codes);
                columns.push((codes, key.size));
            }
        }
    }
    let keys: Vec<Key<'_>> = columns.iter().map(|(codes, size)| Key::new(codes, *size)).collect();
    let mut order: Vec<usize> = (0..lines).collect();
    for key in keys.iter().rev() {
        order = pass(key, &order);
    }
    let alike = |a: usize, b: usize| keys.iter().all(|key| key.get(a) == key.get(b));
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
    checkpoint();
    let mut slots = vec![0_usize; key.size + 1];
    for line in order {
        if let Some(slot) = key.get(*line).and_then(|code| slots.get_mut(code as usize + 1)) {
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
        let slot = key.get(*line).and_then(|code| slots.get_mut(code as usize));
        if let Some(slot) = slot
            && let Some(place) = next.get_mut(*slot)
        {
            *place = *line;
            *slot += 1;
        }
    }
    next
}
