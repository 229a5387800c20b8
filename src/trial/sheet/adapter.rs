//! Text cells out of a frame, and a frame of text out of cells.

use super::cells::Sheet;
use crate::error::Result;
use crate::trial::cell::Cell;
use crate::trial::coding::Coded;
use crate::trial::frame::{Column, Frame};

/// The cells of a frame as text; its rows are counted from `first_row`.
#[must_use]
pub(crate) fn sheet_of(frame: &Frame, first_row: u64) -> Sheet {
    let mut sheet =
        Sheet { numbers: (0..frame.height() as u64).map(|row| row + first_row).collect(), ..Sheet::default() };
    for column in frame.columns() {
        let coded = Coded::new(column);
        let texts: Vec<String> = coded.entries().iter().map(text_of).collect();
        let cell = |row: usize| coded.code(row).and_then(|code| texts.get(code)).cloned().unwrap_or_default();
        sheet.add(column.name(), (0..frame.height()).map(cell).collect());
    }
    sheet
}

/// A typed entry as text. A number with three decimals gets a fourth, so that none takes its point for a thousands mark.
fn text_of(cell: &Cell) -> String {
    let text = cell.shown();
    let three = text.rsplit_once('.').is_some_and(|(_, tail)| tail.len() == 3);
    if three && matches!(cell, Cell::Number(_)) { text + "0" } else { text }
}

/// A frame of text columns; an empty cell is missing.
///
/// # Errors
/// When two columns have one name.
pub(crate) fn frame_of(sheet: &Sheet) -> Result<Frame> {
    let cell = |cell: &String| (!cell.trim().is_empty()).then(|| cell.clone());
    let column = |(name, cells): (&String, &Vec<String>)| Column::texts(name, cells.iter().map(cell));
    Frame::new(sheet.names.iter().zip(&sheet.columns).map(column).collect())
}
