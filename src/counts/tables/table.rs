//! A checked table of counts.

use serde::{Deserialize, Serialize};

use crate::error::{CountError, Result};
use crate::estimate::LARGEST_COUNT;

/// A table of at least 2 x 2 counts in which no row is all zero, and no column but where a single one holds everything (nothing rooted, or
/// all did): there nothing can differ, and tests say P = 1.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Vec<Vec<u64>>", into = "Vec<Vec<u64>>")]
pub struct ContingencyTable {
    cells: Vec<Vec<u64>>,
    row_totals: Vec<u64>,
    column_totals: Vec<u64>,
    total: u64,
}

impl ContingencyTable {
    /// Checks `cells[row][column]` and builds the table.
    ///
    /// # Errors
    /// [`CountError::TableTooSmall`], [`CountError::RaggedTable`], [`CountError::TooLarge`] (the sum is above 2^53),
    /// [`CountError::EmptyMargin`].
    ///
    /// ```
    /// use rootling::counts::ContingencyTable;
    /// let table = ContingencyTable::new(vec![vec![156, 84], vec![84, 156]])?;
    /// assert_eq!(table.total(), 480);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn new(cells: Vec<Vec<u64>>) -> Result<Self> {
        let columns = cells.first().map_or(0, Vec::len);
        for (place, row) in cells.iter().enumerate() {
            if row.len() != columns {
                return Err(CountError::RaggedTable { row: place + 1, found: row.len(), expected: columns }.into());
            }
        }
        if cells.len() < 2 || columns < 2 {
            return Err(CountError::TableTooSmall { rows: cells.len(), columns }.into());
        }
        let total = cells.iter().flatten().fold(0_u64, |sum, count| sum.saturating_add(*count));
        if total > LARGEST_COUNT {
            return Err(CountError::TooLarge { value: total }.into());
        }
        let row_totals: Vec<u64> = cells.iter().map(|row| row.iter().sum()).collect();
        let mut column_totals = vec![0_u64; columns];
        for row in &cells {
            for (sum, count) in column_totals.iter_mut().zip(row) {
                *sum += count;
            }
        }
        refuse_empty("row", &row_totals)?;
        if column_totals.iter().filter(|sum| **sum > 0).count() > 1 {
            refuse_empty("column", &column_totals)?;
        }
        Ok(Self { cells, row_totals, column_totals, total })
    }

    /// Counts, row by row.
    #[must_use]
    pub fn cells(&self) -> &[Vec<u64>] {
        &self.cells
    }

    /// Sum of each row.
    #[must_use]
    pub fn row_totals(&self) -> &[u64] {
        &self.row_totals
    }

    /// Sum of each column.
    #[must_use]
    pub fn column_totals(&self) -> &[u64] {
        &self.column_totals
    }

    /// Sum of all cells.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.total
    }

    /// True when a single column holds everything, so that there is one table only with these margins.
    #[must_use]
    pub fn is_fixed(&self) -> bool {
        self.column_totals.iter().filter(|sum| **sum > 0).count() < 2
    }

    /// The four counts `[a, b, c, d]` of a 2 x 2 table, `None` for larger ones.
    #[must_use]
    pub fn four_cells(&self) -> Option<[u64; 4]> {
        match self.cells.as_slice() {
            [first, second] => match (first.as_slice(), second.as_slice()) {
                ([a, b], [c, d]) => Some([*a, *b, *c, *d]),
                _ => None,
            },
            _ => None,
        }
    }
}

impl TryFrom<Vec<Vec<u64>>> for ContingencyTable {
    type Error = crate::error::Error;

    fn try_from(cells: Vec<Vec<u64>>) -> Result<Self> {
        Self::new(cells)
    }
}

impl From<ContingencyTable> for Vec<Vec<u64>> {
    fn from(table: ContingencyTable) -> Self {
        table.cells
    }
}

fn refuse_empty(axis: &'static str, totals: &[u64]) -> Result<()> {
    match totals.iter().position(|sum| *sum == 0) {
        Some(place) => Err(CountError::EmptyMargin { axis, index: place + 1 }.into()),
        None => Ok(()),
    }
}
