//! The frame's named columns, either one line per row or one per set of identical rows.

use polars::prelude::{DataFrame, PolarsError};
use rayon::prelude::*;

use crate::error::{DataError, Result};
use crate::math::groups::{Key, tally};
use crate::trial::Issue;
use crate::trial::coding::Coded;

/// Lines of entries; `rows` holds the 0-based frame row each line stands for, `weights` how many identical rows it covers.
#[derive(Debug, Clone)]
pub struct Table {
    /// Column names.
    pub names: Vec<String>,
    /// The columns.
    pub columns: Vec<Coded>,
    /// Frame row of each line (the first of its set).
    pub rows: Vec<usize>,
    /// Number of identical rows.
    pub weights: Vec<u64>,
}

impl Table {
    /// Number of lines.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// The column of that name.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&Coded> {
        let at = self.names.iter().position(|known| known == name)?;
        self.columns.get(at)
    }
}

/// The columns of all rows.
#[derive(Debug, Clone)]
pub struct Rows {
    names: Vec<String>,
    columns: Vec<Coded>,
    height: usize,
}

impl Rows {
    /// Reads the named columns: the only pass over the full frame.
    ///
    /// # Errors
    /// [`DataError`] when a column has a type that cannot be read.
    pub fn read(frame: &DataFrame, names: &[String]) -> Result<Self> {
        let read = |name: &String| frame.column(name).and_then(Coded::new);
        let columns: Vec<_> = names.par_iter().map(read).collect();
        let columns = columns.into_iter().collect::<std::result::Result<_, _>>().map_err(|error| unreadable(&error))?;
        Ok(Self { names: names.to_vec(), columns, height: frame.height() })
    }

    /// One line per set of identical rows.
    #[must_use]
    pub fn grouped(&self) -> Table {
        let keys: Vec<Key<'_>> = self.columns.iter().map(Coded::key).collect();
        let (rows, weights) = tally(&keys, self.height);
        let columns = self.columns.iter().map(|column| column.at(&rows)).collect();
        Table { names: self.names.clone(), columns, rows, weights }
    }

    /// One line per row, for messages that need every row number.
    #[must_use]
    pub fn each(self) -> Table {
        let (rows, weights) = ((0..self.height).collect(), vec![1; self.height]);
        Table { names: self.names, columns: self.columns, rows, weights }
    }
}

fn unreadable(error: &PolarsError) -> DataError {
    let reason = format!("the table cannot be read ({error})");
    DataError {
        issues: vec![Issue::of_input("unreadable", reason, "turn its columns into numbers, text or true/false first")],
    }
}
