//! Checked tables of one shape.

use crate::error::{CountError, Result};
use crate::estimate::LARGEST_COUNT;

/// Tables of the same shape, at least 2 x 2, one of them informative.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strata {
    tables: Vec<Vec<Vec<u64>>>,
}

/// The counts `[a, b, c, d]` of a 2 x 2 table, rows `a b` and `c d`.
pub(super) type FourCells = [f64; 4];

impl Strata {
    /// Checks `tables[stratum][row][column]`.
    ///
    /// # Errors
    /// [`CountError::NotDefined`] without an informative stratum, [`CountError::UnequalStrata`], [`CountError::RaggedTable`],
    /// [`CountError::TableTooSmall`], [`CountError::TooLarge`].
    ///
    /// ```
    /// use rootling::counts::Strata;
    /// assert!(Strata::new(vec![vec![vec![3, 1], vec![0, 0]]]).is_err());
    /// ```
    pub fn new(tables: Vec<Vec<Vec<u64>>>) -> Result<Self> {
        let (rows, columns) = tables.first().map_or((0, 0), |first| (first.len(), first.first().map_or(0, Vec::len)));
        let mut total = 0_u64;
        for (at, table) in tables.iter().enumerate() {
            let found = table.first().map_or(0, Vec::len);
            if (table.len(), found) != (rows, columns) {
                return Err(CountError::UnequalStrata {
                    index: at + 1,
                    rows: table.len(),
                    columns: found,
                    expected_rows: rows,
                    expected_columns: columns,
                }
                .into());
            }
            if let Some(row) = table.iter().position(|row| row.len() != columns) {
                let found = table.get(row).map_or(0, Vec::len);
                let problem = CountError::RaggedTable { row: row + 1, found, expected: columns };
                return Err(CountError::Entry { index: at + 1, problem: Box::new(problem) }.into());
            }
            total = table.iter().flatten().fold(total, |sum, count| sum.saturating_add(*count));
        }
        if rows < 2 || columns < 2 {
            return Err(CountError::TableTooSmall { rows, columns }.into());
        }
        if total > LARGEST_COUNT {
            return Err(CountError::TooLarge { value: total }.into());
        }
        let strata = Self { tables };
        if strata.uninformative().len() == strata.tables.len() {
            return Err(CountError::NotDefined {
                what: "an association within strata",
                why: "in every stratum all plants are in one row or in one column; compare groups that share a stratum",
            }
            .into());
        }
        Ok(strata)
    }

    /// The tables.
    #[must_use]
    pub fn tables(&self) -> &[Vec<Vec<u64>>] {
        &self.tables
    }

    /// Strata, counted from 1, with plants in fewer than two rows or two columns.
    #[must_use]
    pub fn uninformative(&self) -> Vec<u64> {
        self.tables.iter().zip(1..).filter(|(table, _)| !informative(table)).map(|(_, place)| place).collect()
    }

    /// The tables as `[a, b, c, d]` when they are 2 x 2.
    #[must_use]
    pub fn four_cells(&self) -> Option<Vec<FourCells>> {
        self.tables
            .iter()
            .map(|table| match table.as_slice() {
                [first, second] => match (first.as_slice(), second.as_slice()) {
                    ([a, b], [c, d]) => Some([*a as f64, *b as f64, *c as f64, *d as f64]),
                    _ => None,
                },
                _ => None,
            })
            .collect()
    }
}

fn informative(table: &[Vec<u64>]) -> bool {
    let rows = table.iter().filter(|row| row.iter().any(|count| *count > 0)).count();
    let columns = table.first().map_or(0, Vec::len);
    let used = (0..columns).filter(|at| table.iter().any(|row| row.get(*at).is_some_and(|count| *count > 0))).count();
    rows > 1 && used > 1
}

/// Whether a 2 x 2 table has plants in both rows and both columns.
pub(super) fn is_informative([a, b, c, d]: FourCells) -> bool {
    a + b > 0.0 && c + d > 0.0 && a + c > 0.0 && b + d > 0.0
}
