//! The frame's named columns as plain cells, either one line per row or one per set of identical rows.

use polars::prelude::*;

use crate::error::{DataError, Result};
use crate::trial::Issue;
use crate::trial::cell::Cell;

/// Lines of cells; `rows` holds the 0-based frame row each line stands for, `weights` how many identical rows it covers.
#[derive(Debug, Clone)]
pub struct Table {
    /// Column names.
    pub names: Vec<String>,
    /// One vector of cells per column.
    pub columns: Vec<Vec<Cell>>,
    /// Frame row of each line (the first of its set).
    pub rows: Vec<u64>,
    /// Number of identical rows.
    pub weights: Vec<u64>,
}

impl Table {
    /// One line per set of identical rows. One group-by: the only pass over the full frame.
    ///
    /// # Errors
    /// [`DataError`] when a column has a type that cannot be read.
    pub fn grouped(frame: &DataFrame, names: &[String]) -> Result<Self> {
        let (rows, weights) = {
            let groups = frame.group_by(names.iter().map(String::as_str)).map_err(|error| unreadable(&error))?;
            let groups = groups.get_groups();
            (0..groups.len())
                .map(|at| match groups.get(at) {
                    GroupsIndicator::Idx((first, all)) => (u64::from(first), all.len() as u64),
                    GroupsIndicator::Slice([first, length]) => (u64::from(first), u64::from(length)),
                })
                .unzip::<u64, u64, Vec<u64>, Vec<u64>>()
        };
        let firsts = IdxCa::from_vec("row".into(), rows.iter().map(|row| *row as IdxSize).collect());
        let picked = frame.select(names.iter().map(String::as_str)).map_err(|error| unreadable(&error))?;
        let picked = picked.take(&firsts).map_err(|error| unreadable(&error))?;
        Ok(Self { names: names.to_vec(), columns: cells(&picked)?, rows, weights })
    }

    /// One line per row, for messages that need every row number.
    ///
    /// # Errors
    /// As [`Table::grouped`].
    pub fn by_row(frame: &DataFrame, names: &[String]) -> Result<Self> {
        let picked = frame.select(names.iter().map(String::as_str)).map_err(|error| unreadable(&error))?;
        let height = picked.height();
        Ok(Self {
            names: names.to_vec(),
            columns: cells(&picked)?,
            rows: (0..height as u64).collect(),
            weights: vec![1; height],
        })
    }

    /// Number of lines.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// The column of that name.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&[Cell]> {
        let at = self.names.iter().position(|known| known == name)?;
        self.columns.get(at).map(Vec::as_slice)
    }
}

fn unreadable(error: &PolarsError) -> DataError {
    let reason = format!("the table cannot be read ({error})");
    DataError {
        issues: vec![Issue::of_input("unreadable", reason, "turn its columns into numbers, text or true/false first")],
    }
}

fn cells(frame: &DataFrame) -> Result<Vec<Vec<Cell>>> {
    frame.columns().iter().map(|column| column_cells(column).map_err(|error| unreadable(&error).into())).collect()
}

fn column_cells(column: &Column) -> PolarsResult<Vec<Cell>> {
    let dtype = column.dtype();
    if dtype.is_integer() {
        let whole = column.cast(&DataType::Int64)?;
        if whole.null_count() == column.null_count() {
            return Ok(whole.i64()?.iter().map(|value| value.map_or(Cell::Missing, Cell::Whole)).collect());
        }
    }
    if dtype.is_integer() || dtype.is_float() {
        let number = column.cast(&DataType::Float64)?;
        return Ok(number.f64()?.iter().map(number_cell).collect());
    }
    if dtype.is_bool() {
        return Ok(column.bool()?.iter().map(|value| value.map_or(Cell::Missing, Cell::Flag)).collect());
    }
    if dtype.is_null() {
        return Ok(vec![Cell::Missing; column.len()]);
    }
    let text = column.cast(&DataType::String)?;
    Ok(text.str()?.iter().map(|value| value.map_or(Cell::Missing, Cell::from_text)).collect())
}

fn number_cell(value: Option<f64>) -> Cell {
    match value {
        None => Cell::Missing,
        Some(value) if value.is_nan() => Cell::Missing,
        Some(value) if value.fract() == 0.0 && value.abs() <= 9_007_199_254_740_992.0 => Cell::Whole(value as i64),
        Some(value) => Cell::Number(value),
    }
}
