//! Rows that stand beside each other and are alike: one row of each, and how many they are. Whoever groups a long table has less to
//! look up then, where rows of a tray stand together.

use std::iter::zip;

use arrow_array::cast::AsArray;
use arrow_array::types::{
    ArrowPrimitiveType, Float32Type, Float64Type, Int8Type, Int16Type, Int32Type, Int64Type, UInt8Type, UInt16Type,
    UInt32Type, UInt64Type,
};
use arrow_array::{Array, ArrowNativeTypeOp};
use arrow_schema::DataType;

use crate::trial::frame::{Column, Frame};

/// Sets of entries that may take turns within a run, and rows by which a table is judged to have runs at all.
const TURNS: usize = 16;
const TRIED: usize = 4096;

/// Lines that stand for rows beside each other which are alike.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Runs {
    /// The first of the rows that a line stands for, counted from 0.
    pub rows: Vec<u32>,
    /// How many they are.
    pub times: Vec<i64>,
}

/// Lines for the rows of a table, run by run: a run ends where one of the first `labels` columns changes, and within a run entries of the
/// others may take turns. Rows that are alike may stand in several lines, those of a line are alike. `None` where that would hardly be fewer lines
/// than rows.
///
/// ```
/// use rootling::trial::{Column, Frame, runs};
/// let tray = Column::texts("tray", [Some("a"), Some("a"), Some("a"), Some("a"), Some("b")]);
/// let rooted = Column::flags("rooted", [Some(true), Some(false), Some(true), Some(true), Some(true)]);
/// let found = runs(&Frame::new(vec![tray, rooted])?, 1).unwrap_or_default();
/// assert_eq!((found.rows, found.times), (vec![0, 1, 4], vec![3, 1, 1]));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn runs(frame: &Frame, labels: usize) -> Option<Runs> {
    let mut ends = vec![false; frame.height()];
    let (outer, inner) = frame.columns().split_at_checked(labels)?;
    outer.iter().for_each(|column| mark(&mut ends, column));
    let mut codes = vec![0_u8; frame.height()];
    let mut kinds = 1;
    for column in inner {
        match distinct(column) {
            Some((own, many)) if kinds * many <= TURNS => {
                zip(&mut codes, own).for_each(|(code, own)| *code += own * kinds as u8);
                kinds *= many;
            }
            _ => mark(&mut ends, column),
        }
    }
    let tried = ends.len().min(TRIED);
    let begun = ends.iter().take(tried).filter(|begins| **begins).count();
    (2 * begun * kinds.min(2) <= tried).then(|| lines(&ends, &codes, kinds))
}

/// The lines of all runs. Rows are gone through from the last to the first, so that what is written last is the first of a line.
fn lines(begins: &[bool], codes: &[u8], kinds: usize) -> Runs {
    let mut found = Runs::default();
    let mut first = [0_u32; TURNS];
    let mut times = [0_i64; TURNS];
    for (row, (begins, code)) in zip(begins, codes).enumerate().rev() {
        let code = usize::from(*code) % TURNS;
        first[code] = row as u32;
        times[code] += 1;
        if *begins {
            for (first, times) in zip(&first, &mut times).take(kinds).filter(|(_, times)| **times > 0) {
                found.rows.push(*first);
                found.times.push(*times);
                *times = 0;
            }
        }
    }
    found.rows.reverse();
    found.times.reverse();
    found
}

/// Marks each row whose entry is not that of the row before; where a column begins a new piece, its first row.
fn mark(begins: &mut [bool], column: &Column) {
    let mut rest = begins;
    for piece in column.pieces() {
        let Some((here, after)) = rest.split_at_mut_checked(piece.len()) else { return };
        rest = after;
        mark_piece(here, piece.as_ref());
        if let Some(gaps) = piece.nulls().filter(|gaps| gaps.null_count() > 0) {
            changes(here, gaps.iter());
        }
        if let Some(first) = here.first_mut() {
            *first = true;
        }
    }
}

fn mark_piece(begins: &mut [bool], piece: &dyn Array) {
    macro_rules! primitive {
        ($kind:ty) => {
            changed(begins, piece.as_primitive::<$kind>().values(), |a, b| a.is_ne(*b))
        };
    }
    match piece.data_type() {
        DataType::Int64 => primitive!(Int64Type),
        DataType::Int32 => primitive!(Int32Type),
        DataType::Int16 => primitive!(Int16Type),
        DataType::Int8 => primitive!(Int8Type),
        DataType::UInt64 => primitive!(UInt64Type),
        DataType::UInt32 => primitive!(UInt32Type),
        DataType::UInt16 => primitive!(UInt16Type),
        DataType::UInt8 => primitive!(UInt8Type),
        // Bit by bit: numbers that are alike in value and not in sign are put together later.
        DataType::Float64 => primitive!(Float64Type),
        DataType::Float32 => primitive!(Float32Type),
        DataType::Boolean => changes(begins, piece.as_boolean().values().iter()),
        // Views of one array that are alike are of texts that are alike.
        DataType::Utf8View => changed(begins, piece.as_string_view().views(), |a, b| a != b),
        DataType::Utf8 => changes(begins, piece.as_string::<i32>().iter()),
        DataType::LargeUtf8 => changes(begins, piece.as_string::<i64>().iter()),
        DataType::Null => (),
        _ => begins.fill(true),
    }
}

/// Marks each place that differs from the one before.
fn changed<T>(begins: &mut [bool], values: &[T], differs: impl Fn(&T, &T) -> bool) {
    let (Some(begins), Some(next)) = (begins.get_mut(1..), values.get(1..)) else { return };
    for (begins, (before, here)) in zip(begins, zip(values, next)) {
        *begins |= differs(before, here);
    }
}

fn changes<T: PartialEq + Copy>(begins: &mut [bool], values: impl Iterator<Item = T>) {
    let mut before = None;
    for (begins, here) in zip(begins, values) {
        *begins |= before.is_some_and(|before| before != here);
        before = Some(here);
    }
}

/// A column as the places of its entries among those that are distinct, and how many these are; `None` where they are many.
fn distinct(column: &Column) -> Option<(Vec<u8>, usize)> {
    let mut known: Vec<Option<u128>> = Vec::new();
    let mut codes = Vec::with_capacity(column.len());
    for piece in column.pieces() {
        match piece.data_type() {
            DataType::Boolean if piece.null_count() == 0 => {
                let flags = piece.as_boolean().values();
                let [no, yes] = [0, 1].map(|flag| place(&mut known, Some(flag)));
                let (no, yes) = (no?, yes?);
                codes.extend(flags.iter().map(|flag| if flag { yes } else { no }));
            }
            DataType::Boolean => {
                list(piece.as_boolean().iter().map(|one| one.map(u128::from)), &mut known, &mut codes)?
            }
            DataType::Int64 => wholes::<Int64Type>(piece.as_ref(), &mut known, &mut codes)?,
            DataType::Int32 => wholes::<Int32Type>(piece.as_ref(), &mut known, &mut codes)?,
            DataType::Int16 => wholes::<Int16Type>(piece.as_ref(), &mut known, &mut codes)?,
            DataType::Int8 => wholes::<Int8Type>(piece.as_ref(), &mut known, &mut codes)?,
            DataType::UInt32 => wholes::<UInt32Type>(piece.as_ref(), &mut known, &mut codes)?,
            DataType::UInt16 => wholes::<UInt16Type>(piece.as_ref(), &mut known, &mut codes)?,
            DataType::UInt8 => wholes::<UInt8Type>(piece.as_ref(), &mut known, &mut codes)?,
            DataType::Utf8View => {
                let texts = piece.as_string_view();
                let short = zip(texts.views(), texts.iter()).map(|(view, text)| text.map(|_| *view));
                // Longer texts lie elsewhere, where those of another piece do not.
                if texts.iter().flatten().any(|text| text.len() > SHORT) {
                    return None;
                }
                list(short, &mut known, &mut codes)?;
            }
            DataType::Null => list((0..piece.len()).map(|_| None), &mut known, &mut codes)?,
            _ => return None,
        }
    }
    Some((codes, known.len().max(1)))
}

/// Bytes of text that lie in the 16 bytes by which a row refers to it.
const SHORT: usize = 12;

fn wholes<T: ArrowPrimitiveType>(piece: &dyn Array, known: &mut Vec<Option<u128>>, codes: &mut Vec<u8>) -> Option<()>
where
    T::Native: Into<i64>,
{
    let values = piece.as_primitive::<T>().iter();
    list(values.map(|value| value.map(|value| value.into().cast_unsigned().into())), known, codes)
}

fn list(values: impl Iterator<Item = Option<u128>>, known: &mut Vec<Option<u128>>, codes: &mut Vec<u8>) -> Option<()> {
    for value in values {
        codes.push(place(known, value)?);
    }
    Some(())
}

/// The place of an entry among those known, of which it may be a new one; `None` where they become many.
fn place(known: &mut Vec<Option<u128>>, value: Option<u128>) -> Option<u8> {
    let found = known.iter().position(|one| *one == value).unwrap_or_else(|| {
        known.push(value);
        known.len() - 1
    });
    (found < TURNS).then_some(found as u8)
}
