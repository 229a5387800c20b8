//! A table of any kind as text cells under its names, for records that are no trials.

use crate::answer::Note;
use crate::error::{DataError, Result};
use crate::trial::frame::Frame;
use crate::trial::read::{Text, read_text};
use crate::trial::roles::{LoadOptions, Source};
use crate::trial::sheet::{Lines, Sheet, named, sheet_of};

/// Text cells under their names, with the number each row has for the user.
#[derive(Debug, Clone, Default)]
pub(crate) struct Texts {
    sheet: Sheet,
}

impl Texts {
    /// Delimited text, whose row of names is found by the columns wanted.
    ///
    /// # Errors
    /// [`DataError`] where it is no table.
    pub(crate) fn of_csv(bytes: &[u8], wanted: &[&str], header_row: Option<u64>) -> Result<(Self, Vec<Note>)> {
        match read_text(bytes, wanted, true)? {
            Text::Plain(frame) => Ok((Self::of_frame(&frame, Source::File), Vec::new())),
            Text::Sheet(lines) => Self::of_cells(lines, wanted, header_row),
        }
    }

    /// The cells of a sheet.
    ///
    /// # Errors
    /// As [`Texts::of_csv`].
    pub(crate) fn of_cells(lines: Lines, wanted: &[&str], header_row: Option<u64>) -> Result<(Self, Vec<Note>)> {
        let covariates = wanted.iter().map(|name| (*name).to_owned()).collect();
        let options = LoadOptions { covariates, header_row, ..LoadOptions::default() };
        let mut notes = Vec::new();
        let sheet = named(lines, &options, &mut notes).map_err(|issues| DataError { issues })?;
        Ok((Self { sheet }, notes))
    }

    /// A frame.
    pub(crate) fn of_frame(frame: &Frame, source: Source) -> Self {
        Self { sheet: sheet_of(frame, source.first_row()) }
    }

    /// Names of the columns.
    pub(crate) fn names(&self) -> &[String] {
        &self.sheet.names
    }

    /// The cells of a column.
    pub(crate) fn column(&self, name: &str) -> Option<&[String]> {
        self.sheet.column(name)
    }

    /// The number of each row.
    pub(crate) fn numbers(&self) -> &[u64] {
        &self.sheet.numbers
    }

    /// True where the row has no entry.
    pub(crate) fn is_blank(&self, row: usize) -> bool {
        self.sheet.is_blank(row)
    }
}
