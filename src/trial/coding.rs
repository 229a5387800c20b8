//! Columns by their distinct entries: an entry is read and judged once, in however many rows it stands.

use std::borrow::Cow;
use std::collections::HashMap;
use std::hash::Hash;
use std::sync::Arc;

use ahash::RandomState;
use arrow_array::cast::AsArray;
use arrow_array::types::{
    Float32Type, Float64Type, Int8Type, Int16Type, Int32Type, Int64Type, UInt8Type, UInt16Type, UInt32Type, UInt64Type,
};
use arrow_array::{Array, StringViewArray};
use arrow_schema::DataType;
use rayon::prelude::*;

use crate::control::checkpoint;
use crate::math::design::{Codes, Key};
use crate::trial::cell::Cell;
use crate::trial::frame::{Column, Kind};

/// Entries from which on several threads look at them.
pub(super) const MANY: usize = 1 << 15;

/// A column as its distinct entries and one code per line. Entries are apart when the column holds them apart; two may
/// read alike (`"1"` and `"1.0"`), which only those who judge them need to know.
#[derive(Debug, Clone)]
pub(super) struct Coded {
    entries: Arc<Vec<Cell>>,
    codes: Codes,
}

impl Coded {
    /// Codes a column.
    #[must_use]
    pub(super) fn new(column: &Column) -> Self {
        match column.kind() {
            Kind::Whole => wholes(column),
            Kind::Number => numbers(column),
            Kind::Flag => {
                let trace = |value: Option<bool>| value.map_or(0, |flag| 1 + u64::from(flag));
                let flags = |piece: &dyn Array| match piece.as_boolean_opt() {
                    Some(flags) => flags.iter().collect(),
                    None => vec![None; piece.len()],
                };
                coded(each(column, flags), column.len(), trace, |value| value.map_or(Cell::Missing, Cell::Flag))
            }
            Kind::Text => texts(column),
            Kind::Nothing => coded((0..column.len()).map(|_| ()), column.len(), |()| 0, |()| Cell::Missing),
        }
    }

    /// The same column at the given lines only.
    #[must_use]
    pub(super) fn at(&self, lines: &[usize]) -> Self {
        Self { entries: Arc::clone(&self.entries), codes: self.codes.at(lines) }
    }

    /// The same column with its texts written anew.
    #[must_use]
    pub(super) fn respelled<'a>(&'a self, spell: impl Fn(&'a str) -> Cow<'a, str>) -> Self {
        let anew = |cell: &'a Cell| match cell {
            Cell::Text(text) => Cell::Text(spell(text).into_owned()),
            other => other.clone(),
        };
        Self { entries: Arc::new(self.entries.iter().map(anew).collect()), codes: self.codes.clone() }
    }

    /// True when some entry is text.
    #[must_use]
    pub(super) fn holds_text(&self) -> bool {
        self.entries.iter().any(|cell| matches!(cell, Cell::Text(_)))
    }

    /// The distinct entries.
    #[must_use]
    pub(super) fn entries(&self) -> &[Cell] {
        &self.entries
    }

    /// What is said of each entry with its place among them; long columns are looked through by several threads.
    #[must_use]
    pub(super) fn judged<'a, T: Send>(&'a self, judge: impl Fn(usize, &'a Cell) -> T + Sync) -> Vec<T> {
        if self.entries.len() < MANY {
            return self.entries.iter().enumerate().map(|(at, cell)| judge(at, cell)).collect();
        }
        checkpoint();
        self.entries.par_iter().enumerate().map(|(at, cell)| judge(at, cell)).collect()
    }

    /// The place of a line's entry among the entries.
    #[must_use]
    pub(super) fn code(&self, line: usize) -> Option<usize> {
        self.key().get(line).map(|code| code as usize)
    }

    /// The entry of a line.
    #[must_use]
    pub(super) fn get(&self, line: usize) -> Option<&Cell> {
        self.entries.get(self.code(line)?)
    }

    /// True when the line's entry is missing.
    #[must_use]
    pub(super) fn is_missing(&self, line: usize) -> bool {
        self.get(line).is_none_or(Cell::is_missing)
    }

    /// True when some entry is missing.
    #[must_use]
    pub(super) fn has_missing(&self) -> bool {
        self.entries.iter().any(Cell::is_missing)
    }

    /// The codes as a key to group by.
    #[must_use]
    pub(super) fn key(&self) -> Key<'_> {
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
    lines: usize,
    trace: impl Fn(K) -> u64,
    cell: impl Fn(K) -> Cell,
) -> Coded {
    let mut known: Map<K> = Map::default();
    let mut coder = Coder::new(lines);
    let mut lately = Lately::new();
    for value in values {
        let find = || *known.entry(value).or_insert_with(|| coder.list(cell(value)));
        let code = lately.code(value, trace(value), find);
        coder.push(code);
    }
    coder.done()
}

/// The entries of all pieces, one after another.
fn each<'a, T: 'a>(column: &'a Column, of: impl Fn(&dyn Array) -> Vec<T> + 'a) -> impl Iterator<Item = T> + 'a {
    column.pieces().iter().flat_map(move |piece| of(piece.as_ref()))
}

/// Whole numbers; a column in which some are too large for 64 bits with a sign is one of texts, so that codes keep their digits.
fn wholes(column: &Column) -> Coded {
    let too_large = |piece: &dyn Array| {
        let large = piece.as_primitive_opt::<UInt64Type>();
        large.is_some_and(|values| values.iter().flatten().any(|value| i64::try_from(value).is_err()))
    };
    if column.pieces().iter().any(|piece| too_large(piece.as_ref())) {
        return very_large(column);
    }
    let trace = |value: Option<i64>| value.unwrap_or(0) as u64;
    let cell = |value: Option<i64>| value.map_or(Cell::Missing, Cell::Whole);
    if let [piece] = column.pieces()
        && let Some(values) = piece.as_primitive_opt::<Int64Type>()
    {
        return coded(values.iter(), column.len(), trace, cell);
    }
    coded(each(column, whole), column.len(), trace, cell)
}

/// Whole numbers of which some have no place in 64 bits with a sign, as texts.
fn very_large(column: &Column) -> Coded {
    let wide = |piece: &dyn Array| -> Vec<Option<i128>> {
        match piece.as_primitive_opt::<UInt64Type>() {
            Some(values) => values.iter().map(|value| value.map(i128::from)).collect(),
            None => whole(piece).into_iter().map(|value| value.map(i128::from)).collect(),
        }
    };
    let cell = |value: Option<i128>| value.map_or(Cell::Missing, |value| Cell::from_text(&value.to_string()));
    coded(each(column, wide), column.len(), |value| value.unwrap_or(0) as u64, cell)
}

/// The whole numbers of a piece, whatever their width.
fn whole(piece: &dyn Array) -> Vec<Option<i64>> {
    macro_rules! widened {
        ($kind:ty) => {
            piece.as_primitive::<$kind>().iter().map(|value| value.map(i64::from)).collect()
        };
    }
    match piece.data_type() {
        DataType::Int64 => piece.as_primitive::<Int64Type>().iter().collect(),
        DataType::Int32 => widened!(Int32Type),
        DataType::Int16 => widened!(Int16Type),
        DataType::Int8 => widened!(Int8Type),
        DataType::UInt32 => widened!(UInt32Type),
        DataType::UInt16 => widened!(UInt16Type),
        DataType::UInt8 => widened!(UInt8Type),
        DataType::UInt64 => {
            let values = piece.as_primitive::<UInt64Type>().iter();
            values.map(|value| value.and_then(|value| i64::try_from(value).ok())).collect()
        }
        _ => vec![None; piece.len()],
    }
}

fn numbers(column: &Column) -> Coded {
    let number = |piece: &dyn Array| -> Vec<Option<u64>> {
        match piece.data_type() {
            DataType::Float64 => piece.as_primitive::<Float64Type>().iter().map(|one| one.map(f64::to_bits)).collect(),
            DataType::Float32 => {
                let wide = |one: Option<f32>| one.map(|one| f64::from(one).to_bits());
                piece.as_primitive::<Float32Type>().iter().map(wide).collect()
            }
            DataType::UInt64 => {
                let wide = |one: Option<u64>| one.map(|one| (one as f64).to_bits());
                piece.as_primitive::<UInt64Type>().iter().map(wide).collect()
            }
            _ => whole(piece).into_iter().map(|one| one.map(|one| (one as f64).to_bits())).collect(),
        }
    };
    let cell = |bits: Option<u64>| number_cell(bits.map(f64::from_bits));
    coded(each(column, number), column.len(), Option::unwrap_or_default, cell)
}

fn texts(column: &Column) -> Coded {
    let views: Option<Vec<&StringViewArray>> =
        column.pieces().iter().map(|piece| piece.as_string_view_opt().filter(|text| text.null_count() == 0)).collect();
    if let Some(views) = views {
        return full_text(&views, column.len());
    }
    let entries = column.pieces().iter().flat_map(|piece| -> Box<dyn Iterator<Item = Option<&str>>> {
        match piece.data_type() {
            DataType::Utf8View => Box::new(piece.as_string_view().iter()),
            DataType::Utf8 => Box::new(piece.as_string::<i32>().iter()),
            DataType::LargeUtf8 => Box::new(piece.as_string::<i64>().iter()),
            _ => Box::new((0..piece.len()).map(|_| None)),
        }
    });
    let trace = |value: Option<&str>| value.map_or(0, text_trace);
    coded(entries, column.len(), trace, |value| value.map_or(Cell::Missing, Cell::from_text))
}

type Map<K> = HashMap<K, u32, RandomState>;

/// Bytes of text that lie in the 16 bytes by which a row refers to it.
const INLINE: u32 = 12;

/// Codes text without gaps. Short text lies in the 16 bytes by which a row refers to it, so it is looked up as a number.
fn full_text(pieces: &[&StringViewArray], lines: usize) -> Coded {
    let mut short = Short::new();
    let mut long: Map<&str> = Map::default();
    let mut coder = Coder::new(lines);
    let mut lately = Lately::new();
    for piece in pieces {
        for (view, text) in piece.views().iter().zip(piece.iter()) {
            let text = text.unwrap_or_default();
            let code = if *view as u32 <= INLINE {
                let trace = (*view as u64) ^ ((*view >> 64) as u64).rotate_left(32);
                lately.code(*view, trace, || short.code(*view, trace, || coder.list(Cell::from_text(text))))
            } else {
                *long.entry(text).or_insert_with(|| coder.list(Cell::from_text(text)))
            };
            coder.push(code);
        }
    }
    coder.done()
}

/// Short texts with their codes: a table of places in a list, four bytes each, so that a million names stay near at hand.
struct Short {
    known: Vec<(u128, u32)>,
    /// The place among those known and 1; 0 where there is none.
    table: Vec<u32>,
}

impl Short {
    fn new() -> Self {
        Self { known: Vec::new(), table: vec![0; 1024] }
    }

    /// The code of a text, or a new one.
    fn code(&mut self, view: u128, trace: u64, new: impl FnOnce() -> u32) -> u32 {
        if 2 * self.known.len() >= self.table.len() {
            self.widen();
        }
        let mut at = self.first(trace);
        loop {
            match self.table.get(at).and_then(|place| self.known.get((*place as usize).checked_sub(1)?)) {
                Some((known, code)) if *known == view => return *code,
                Some(_) => at = (at + 1) & (self.table.len() - 1),
                None => break,
            }
        }
        let code = new();
        self.known.push((view, code));
        self.table.get_mut(at).into_iter().for_each(|place| *place = self.known.len() as u32);
        code
    }

    fn first(&self, trace: u64) -> usize {
        let mixed = u128::from(trace ^ 0x9E37_79B9_7F4A_7C15) * 0xD1B5_4A32_D192_ED03_u128;
        ((mixed as u64) ^ (mixed >> 64) as u64) as usize & (self.table.len() - 1)
    }

    fn widen(&mut self) {
        self.table = vec![0; 4 * self.table.len()];
        for (place, (view, _)) in (1..).zip(&self.known) {
            let mut at = self.first((*view as u64) ^ ((*view >> 64) as u64).rotate_left(32));
            while self.table.get(at).is_some_and(|known| *known > 0) {
                at = (at + 1) & (self.table.len() - 1);
            }
            self.table.get_mut(at).into_iter().for_each(|known| *known = place);
        }
    }
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
