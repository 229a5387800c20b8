//! Laying out a trial.

use std::collections::BTreeMap;

use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use super::run::{detached, telling};
use crate::layout::{self as plans, AnewOptions, Layout, LayoutOptions};

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
#[pyo3(signature = (numbers, rates, options, progress = None))]
fn dealt_anew<'py>(
    py: Python<'py>,
    numbers: &Bound<'py, PyAny>,
    rates: BTreeMap<String, f64>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let (numbers, options): (Layout, AnewOptions) = (from_python(numbers)?, from_python(options)?);
    to_python(py, &telling(py, progress.as_ref(), |control| plans::dealt_anew(&numbers, &rates, &options, control))?)
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
    module.add_function(wrap_pyfunction!(dealt_anew, module)?)?;
    module.add_function(wrap_pyfunction!(tray_code, module)?)?;
    module.add_function(wrap_pyfunction!(seal, module)?)
}
