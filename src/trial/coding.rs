//! Columns by their distinct entries: an entry is read and judged once, in however many rows it stands.

use std::borrow::Cow;
use std::hash::Hash;
use std::sync::Arc;

use polars::prelude::*;

use crate::control::checkpoint;
use crate::math::groups::{Codes, Key};
use crate::trial::cell::Cell;

/// A column as its distinct entries and one code per line. Entries are apart when the column holds them apart; two may
/// read alike (`"1"` and `"1.0"`), which only those who judge them need to know.
#[derive(Debug, Clone)]
pub struct Coded {
    entries: Arc<Vec<Cell>>,
    codes: Codes,
}

impl Coded {
    /// Codes a column.
    ///
    /// # Errors
    /// When the column cannot be read as numbers, true/false or text.
    pub fn new(column: &Column) -> PolarsResult<Self> {
        let dtype = column.dtype();
        if dtype.is_integer() {
            let whole = column.cast(&DataType::Int64)?;
            if whole.null_count() == column.null_count() {
                let trace = |value: Option<i64>| value.unwrap_or(0) as u64;
                return Ok(coded(whole.i64()?.iter(), trace, |value| value.map_or(Cell::Missing, Cell::Whole)));
            }
        }
        if dtype.is_integer() || dtype.is_float() {
            let number = column.cast(&DataType::Float64)?;
            let bits = number.f64()?.iter().map(|value| value.map(f64::to_bits));
            return Ok(coded(bits, Option::unwrap_or_default, |bits| number_cell(bits.map(f64::from_bits))));
        }
        if dtype.is_bool() {
            let trace = |value: Option<bool>| value.map_or(0, |flag| 1 + u64::from(flag));
            return Ok(coded(column.bool()?.iter(), trace, |value| value.map_or(Cell::Missing, Cell::Flag)));
        }
        if dtype.is_null() {
            return Ok(coded((0..column.len()).map(|_| ()), |()| 0, |()| Cell::Missing));
        }
        let text = column.cast(&DataType::String)?;
        let text = text.str()?;
        if text.null_count() > 0 {
            let trace = |value: Option<&str>| value.map_or(0, text_trace);
            return Ok(coded(text.iter(), trace, |value| value.map_or(Cell::Missing, Cell::from_text)));
        }
        Ok(full_text(text))
    }

    /// The same column at the given lines only.
    #[must_use]
    pub fn at(&self, lines: &[usize]) -> Self {
        Self { entries: Arc::clone(&self.entries), codes: self.codes.at(lines) }
    }

    /// The same column with its texts written anew.
    #[must_use]
    pub fn respelled<'a>(&'a self, spell: impl Fn(&'a str) -> Cow<'a, str>) -> Self {
        let anew = |cell: &'a Cell| match cell {
            Cell::Text(text) => Cell::Text(spell(text).into_owned()),
            other => other.clone(),
        };
        Self { entries: Arc::new(self.entries.iter().map(anew).collect()), codes: self.codes.clone() }
    }

    /// True when some entry is text.
    #[must_use]
    pub fn holds_text(&self) -> bool {
        self.entries.iter().any(|cell| matches!(cell, Cell::Text(_)))
    }

    /// The distinct entries.
    #[must_use]
    pub fn entries(&self) -> &[Cell] {
        &self.entries
    }

    /// The place of a line's entry among the entries.
    #[must_use]
    pub fn code(&self, line: usize) -> Option<usize> {
        self.key().get(line).map(|code| code as usize)
    }

    /// The entry of a line.
    #[must_use]
    pub fn get(&self, line: usize) -> Option<&Cell> {
        self.entries.get(self.code(line)?)
    }

    /// True when the line's entry is missing.
    #[must_use]
    pub fn is_missing(&self, line: usize) -> bool {
        self.get(line).is_none_or(Cell::is_missing)
    }

    /// True when some entry is missing.
    #[must_use]
    pub fn has_missing(&self) -> bool {
        self.entries.iter().any(Cell::is_missing)
    }

    /// The codes as a key to group by.
    #[must_use]
    pub fn key(&self) -> Key<'_> {
        self.codes.key(self.entries.len())
    }
}

/// Entries and codes as they are found; codes are laid down in blocks.
struct Coder {
    entries: Vec<Cell>,
    codes: Codes,
    block: Vec<u32>,
}

impl Coder {
    fn new(lines: usize) -> Self {
        Self { entries: Vec::new(), codes: Codes::with_capacity(lines), block: Vec::with_capacity(Self::BLOCK) }
    }

    const BLOCK: usize = 4096;

    fn list(&mut self, cell: Cell) -> u32 {
        self.entries.push(cell);
        self.entries.len() as u32 - 1
    }

    fn push(&mut self, code: u32) {
        self.block.push(code);
        if self.block.len() == Self::BLOCK {
            self.lay();
        }
    }

    fn lay(&mut self) {
        checkpoint();
        self.codes.extend(&self.block, self.entries.len());
        self.block.clear();
    }

    fn done(mut self) -> Coded {
        self.lay();
        Coded { entries: Arc::new(self.entries), codes: self.codes }
    }
}

/// Values seen lately with their codes, each in a place of its own: columns mostly repeat few values, and a look here is
/// much shorter than one into the map of all.
struct Lately<K>(Vec<Option<(K, u32)>>);

impl<K: Copy + Eq> Lately<K> {
    fn new() -> Self {
        Self(vec![None; 256])
    }

    fn code(&mut self, value: K, trace: u64, find: impl FnOnce() -> u32) -> u32 {
        let place = trace.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 56;
        match self.0.get_mut(place as usize) {
            Some(Some((same, code))) if *same == value => *code,
            Some(slot) => {
                let code = find();
                *slot = Some((value, code));
                code
            }
            None => find(),
        }
    }
}

/// Codes values; equal ones leave the same trace.
fn coded<K: Copy + Eq + Hash>(
    values: impl Iterator<Item = K>,
    trace: impl Fn(K) -> u64,
    cell: impl Fn(K) -> Cell,
) -> Coded {
    let mut known: PlHashMap<K, u32> = PlHashMap::default();
    let mut coder = Coder::new(values.size_hint().0);
    let mut lately = Lately::new();
    for value in values {
        let find = || *known.entry(value).or_insert_with(|| coder.list(cell(value)));
        let code = lately.code(value, trace(value), find);
        coder.push(code);
    }
    coder.done()
}

/// Codes text without gaps. Up to 12 bytes of text lie in the 16 bytes by which a row refers to it, so those are looked up
/// as a number.
fn full_text(text: &StringChunked) -> Coded {
    let mut short: PlHashMap<u128, u32> = PlHashMap::default();
    let mut long: PlHashMap<&str, u32> = PlHashMap::default();
    let mut coder = Coder::new(text.len());
    let mut lately = Lately::new();
    for array in text.downcast_iter() {
        for (at, view) in array.views().iter().enumerate() {
            let bits = view.as_u128();
            let code = if view.is_inline() {
                let new = || coder.list(Cell::from_text(array.value(at)));
                let trace = (bits as u64) ^ ((bits >> 64) as u64).rotate_left(32);
                lately.code(bits, trace, || *short.entry(bits).or_insert_with(new))
            } else {
                *long.entry(array.value(at)).or_insert_with(|| coder.list(Cell::from_text(array.value(at))))
            };
            coder.push(code);
        }
    }
    coder.done()
}

/// A trace of the last bytes, which tell numbered names apart.
fn text_trace(text: &str) -> u64 {
    text.bytes().rev().take(8).fold(1, |trace, byte| trace << 8 | u64::from(byte))
}

fn number_cell(value: Option<f64>) -> Cell {
    match value {
        None => Cell::Missing,
        Some(value) if value.is_nan() => Cell::Missing,
        Some(value) if value.fract() == 0.0 && value.abs() <= 9_007_199_254_740_992.0 => Cell::Whole(value as i64),
        Some(value) => Cell::Number(value),
    }
}
