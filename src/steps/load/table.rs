//! A table of counts or of plants, before it is read.

use super::asked::of_batches;
use crate::answer::Note;
use crate::error::Result;
use crate::trial::{Frame, Lines, Source, Texts};

/// Text cells under their names, for [`read_with_plants`](super::read_with_plants).
#[derive(Debug, Clone)]
pub struct StepsTable {
    pub(super) texts: Texts,
    pub(super) notes: Vec<Note>,
}

impl StepsTable {
    /// Delimited text, whose row of names is found by the columns wanted.
    ///
    /// # Errors
    /// [`RecordError`](crate::error::RecordError) where it is no table.
    pub fn of_csv(bytes: &[u8], wanted: &[&str], header_row: Option<u64>) -> Result<Self> {
        let (texts, notes) = Texts::of_csv(bytes, wanted, header_row).map_err(of_batches)?;
        Ok(Self { texts, notes })
    }

    /// The cells of a sheet.
    ///
    /// # Errors
    /// As [`StepsTable::of_csv`].
    pub fn of_cells(lines: Lines, notes: Vec<Note>, wanted: &[&str], header_row: Option<u64>) -> Result<Self> {
        let (texts, more) = Texts::of_cells(lines, wanted, header_row).map_err(of_batches)?;
        Ok(Self { texts, notes: notes.into_iter().chain(more).collect() })
    }

    /// A frame.
    #[must_use]
    pub fn of_frame(frame: &Frame, source: Source) -> Self {
        Self { texts: Texts::of_frame(frame, source), notes: Vec::new() }
    }
}
