//! Responses of a trial.

use pyo3::prelude::*;

use super::convert::from_python;
use super::trial::PyTrial;
use crate::responses::{CompareResponseOptions, MeansOptions};

#[pyfunction]
fn means<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    by: Vec<String>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: MeansOptions = from_python(options)?;
    let by: Vec<&str> = by.iter().map(String::as_str).collect();
    trial.asked(py, |trial, _| trial.means(&by, &options))
}

#[pyfunction]
fn compare<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    first: &str,
    second: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: CompareResponseOptions = from_python(options)?;
    trial.asked(py, |trial, control| trial.compare_response(factor, (first, second), &options, control))
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(means, module)?)?;
    module.add_function(wrap_pyfunction!(compare, module)?)
}
