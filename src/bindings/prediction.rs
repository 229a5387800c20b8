//! Rows that a model is asked about.

use pyo3::prelude::*;
use pyo3::types::PyBytes;

use super::arrow::frame_from;
use crate::trial::{NewRows, Source};

/// The bytes of a csv file, or an object with an Arrow stream.
pub(super) fn new_rows(table: &Bound<'_, PyAny>) -> PyResult<NewRows> {
    match table.cast::<PyBytes>() {
        Ok(text) => Ok(NewRows::from_csv(text.as_bytes())?),
        Err(_) => Ok(NewRows::from_frame(&frame_from(table)?, Source::Frame)),
    }
}
