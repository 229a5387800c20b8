//! Rows that a model is asked about.

use pyo3::prelude::*;
use pyo3::types::PyBytes;

use super::arrow::frame_from;
use super::run::quietly;
use crate::trial::{NewRows, Source};

/// The bytes of a csv file, or an object with an Arrow stream.
pub(super) fn new_rows(table: &Bound<'_, PyAny>) -> PyResult<NewRows> {
    let py = table.py();
    if let Ok(text) = table.cast::<PyBytes>() {
        let text = text.as_bytes();
        return quietly(py, || NewRows::from_csv(text));
    }
    let frame = frame_from(table)?;
    quietly(py, || Ok(NewRows::from_frame(&frame, Source::Frame)))
}
