//! Rows without counts, for which a fitted model is asked: entries are read as a trial's are, and judged by the model.

use crate::error::Result;
use crate::trial::Source;
use crate::trial::cell::Cell;
use crate::trial::frame::Frame;
use crate::trial::read::read_csv;
use crate::trial::table::{Rows, Table};

/// The columns of some rows, entry by entry.
#[derive(Debug, Clone)]
pub struct NewRows {
    table: Table,
    first_row: u64,
}

impl NewRows {
    /// Reads every column of a frame.
    #[must_use]
    pub fn from_frame(frame: &Frame, source: Source) -> Self {
        let names: Vec<String> = frame.names().into_iter().map(str::to_owned).collect();
        Self { table: Rows::read(frame, &names, None).each(), first_row: source.first_row() }
    }

    /// Reads delimited text with a header.
    ///
    /// # Errors
    /// As [`crate::trial::read_csv`].
    ///
    /// ```
    /// let rows = rootling::trial::NewRows::from_csv(b"strength,rootstock\n2500,K12\n5000,K17\n")?;
    /// assert_eq!((rows.len(), rows.row_number(0)), (2, 2)); // the header is row 1
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn from_csv(bytes: &[u8]) -> Result<Self> {
        Ok(Self::from_frame(&read_csv(bytes)?, Source::File))
    }

    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.table.len()
    }

    /// True when there is no row.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Names of the columns.
    #[must_use]
    pub fn columns(&self) -> &[String] {
        &self.table.names
    }

    /// The row's number as the user sees it.
    #[must_use]
    pub fn row_number(&self, row: usize) -> u64 {
        self.first_row + row as u64
    }

    /// True when there is a column of that name.
    #[must_use]
    pub fn has(&self, column: &str) -> bool {
        self.table.column(column).is_some()
    }

    /// The entry as the user would write it; none when nothing is there.
    #[must_use]
    pub fn text(&self, column: &str, row: usize) -> Option<String> {
        self.cell(column, row).map(Cell::shown)
    }

    /// The entry as a number, if it is one beyond doubt.
    #[must_use]
    pub fn number(&self, column: &str, row: usize) -> Option<f64> {
        self.cell(column, row).and_then(Cell::as_number)
    }

    fn cell(&self, column: &str, row: usize) -> Option<&Cell> {
        self.table.column(column)?.get(row).filter(|cell| !cell.is_missing())
    }
}
