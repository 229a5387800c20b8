//! Laying out a trial.

use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use super::run::detached;
use crate::layout::{self as plans, Layout, LayoutOptions};

#[pyfunction]
fn layout<'py>(py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let options: LayoutOptions = from_python(options)?;
    to_python(py, &detached(py, |_| plans::layout(&options))?)
}

#[pyfunction]
fn check(numbers: &Bound<'_, PyAny>) -> PyResult<()> {
    let numbers: Layout = from_python(numbers)?;
    Ok(plans::check(&numbers)?)
}

#[pyfunction]
fn tray_code(written: &str) -> Option<String> {
    plans::tray_code(written)
}

#[pyfunction]
fn seal(plan: &str, tray: &str, entries: Vec<String>) -> String {
    plans::seal(plan, tray, &entries)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(layout, module)?)?;
    module.add_function(wrap_pyfunction!(check, module)?)?;
    module.add_function(wrap_pyfunction!(tray_code, module)?)?;
    module.add_function(wrap_pyfunction!(seal, module)?)
}
