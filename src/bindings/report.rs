//! Tables as they are read, and the words of cautions.

use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use crate::answer::{Scale, Sheet};
use crate::report;

#[pyfunction]
fn cells<'py>(py: Python<'py>, table: &Bound<'py, PyAny>, format: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let sheet: Sheet = from_python(table)?;
    to_python(py, &report::cells(&sheet, from_python(format)?))
}

#[pyfunction]
fn laid_out(table: &Bound<'_, PyAny>, format: &Bound<'_, PyAny>) -> PyResult<String> {
    let sheet: Sheet = from_python(table)?;
    Ok(report::rendered(&sheet, from_python(format)?))
}

#[pyfunction]
fn written(value: f64, scale: String) -> String {
    report::written(value, Scale::from(scale))
}

#[pyfunction]
#[expect(clippy::needless_pass_by_value, reason = "the names were taken over from Python")]
fn own_names(names: Vec<String>) -> Vec<String> {
    report::own_names(&names)
}

#[pyfunction]
fn working_cautions(py: Python<'_>) -> PyResult<Bound<'_, PyAny>> {
    to_python(py, &[report::cautions::best_strength(), report::cautions::chemical()])
}

#[pyfunction]
fn doi_of(reference: &str) -> Option<&'static str> {
    report::doi_of(reference)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(cells, module)?)?;
    module.add_function(wrap_pyfunction!(laid_out, module)?)?;
    module.add_function(wrap_pyfunction!(written, module)?)?;
    module.add_function(wrap_pyfunction!(own_names, module)?)?;
    module.add_function(wrap_pyfunction!(doi_of, module)?)?;
    module.add_function(wrap_pyfunction!(working_cautions, module)?)
}
