//! Grades of cuttings.

use pyo3::prelude::*;

use super::convert::{Name, from_python};
use super::records::to_python;
use super::trial::PyTrial;
use crate::responses::grade::GradeOptions;

/// The trial whose counts are cuttings that reach a grade.
#[pyfunction]
fn reaching(trial: &PyTrial, response: &str, at_least: i64, of: Name) -> PyResult<PyTrial> {
    Ok(PyTrial(trial.0.reaching(response, at_least, of.0.parse()?)?))
}

/// The grade whose share a trial counts, where it does.
#[pyfunction]
fn reached<'py>(py: Python<'py>, trial: &PyTrial) -> PyResult<Bound<'py, PyAny>> {
    to_python(py, &trial.0.reached())
}

#[pyfunction]
fn grades<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    treatment: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: GradeOptions = from_python(options)?;
    trial.asked(py, |trial, control| trial.grades(treatment, &options, control))
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(reaching, module)?)?;
    module.add_function(wrap_pyfunction!(reached, module)?)?;
    module.add_function(wrap_pyfunction!(grades, module)?)
}
