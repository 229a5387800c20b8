//! Frames of polars as tables of our own: the one file that knows polars, for those who use the crate from Rust.

use polars::prelude::{DataFrame, DataType, PolarsResult, Series};

use crate::error::Issue;
use crate::error::{DataError, Error};
use crate::trial::frame::{Column, Frame};

impl TryFrom<&DataFrame> for Frame {
    type Error = Error;

    /// Copies the columns: whole numbers, numbers, true/false, and everything else as text (categories, dates).
    fn try_from(frame: &DataFrame) -> Result<Self, Error> {
        let columns = frame.columns().iter().map(|column| {
            taken(column.as_materialized_series()).map_err(|error| {
                let reason = format!("entries of type {} cannot be read ({error})", column.dtype());
                let hint = "turn the column into numbers, text or true/false first";
                let issue = Issue::of_input("unreadable_column", reason, hint).in_column(column.name());
                Error::from(DataError { issues: vec![issue] })
            })
        });
        Self::new(columns.collect::<Result<Vec<_>, _>>()?)
    }
}

fn taken(series: &Series) -> PolarsResult<Column> {
    let (name, dtype) = (series.name().as_str(), series.dtype());
    if dtype.is_integer() {
        let whole = series.cast(&DataType::Int64)?;
        if whole.null_count() == series.null_count() {
            return Ok(Column::whole(name, whole.i64()?.iter()));
        }
    }
    // Whole numbers beyond 64 bits are codes: as numbers several would be one.
    if dtype.is_float() {
        return Ok(Column::numbers(name, series.cast(&DataType::Float64)?.f64()?.iter()));
    }
    if dtype.is_bool() {
        return Ok(Column::flags(name, series.bool()?.iter()));
    }
    let text = series.cast(&DataType::String)?;
    Ok(Column::texts(name, text.str()?.iter()))
}
