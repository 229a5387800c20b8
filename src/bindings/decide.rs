//! A choice in money.

use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use super::run::detached;
use super::trial::PyTrial;
use crate::decide::{self, ChooseOptions};

#[pyfunction]
fn choose<'py>(
    py: Python<'py>,
    trial: &Bound<'py, PyTrial>,
    treatment: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: ChooseOptions = from_python(options)?;
    let held = trial.get();
    to_python(py, &detached(py, |control| decide::choose(&held.0, treatment, &options, control))?)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(choose, module)?)
}
