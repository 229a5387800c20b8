//! Responses of a trial.

use numpy::PyReadonlyArray1;
use pyo3::prelude::*;

use super::convert::{from_python, whole_numbers};
use super::records::to_python;
use super::run::detached;
use super::trial::PyTrial;
use crate::counts::{CountLawOptions, GivenColumn, GivenCounts, count_law};
use crate::responses::{CompareResponseOptions, MeanContrastOptions, MeanLevelOptions, MeanModelSpec, MeansOptions};

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

#[pyfunction]
fn mean_effects<'py>(py: Python<'py>, trial: &PyTrial, spec: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let spec: MeanModelSpec = from_python(spec)?;
    trial.asked(py, |trial, control| trial.mean_effects(&spec, control))
}

#[pyfunction]
fn adjusted_means<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    spec: &Bound<'py, PyAny>,
    by: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let spec: MeanModelSpec = from_python(spec)?;
    let options: MeanLevelOptions = from_python(options)?;
    trial.asked(py, |trial, _| trial.adjusted_means(&spec, by, &options))
}

#[pyfunction]
fn mean_contrasts<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    spec: &Bound<'py, PyAny>,
    by: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let spec: MeanModelSpec = from_python(spec)?;
    let options: MeanContrastOptions = from_python(options)?;
    trial.asked(py, |trial, control| trial.mean_contrasts(&spec, by, &options, control))
}

#[pyfunction]
fn mean_letters<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    spec: &Bound<'py, PyAny>,
    by: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let spec: MeanModelSpec = from_python(spec)?;
    let options: MeanContrastOptions = from_python(options)?;
    trial.asked(py, |trial, control| trial.mean_letters(&spec, by, &options, control))
}

#[pyfunction]
fn mean_checks<'py>(py: Python<'py>, trial: &PyTrial, spec: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let spec: MeanModelSpec = from_python(spec)?;
    trial.asked(py, |trial, control| trial.mean_checks(&spec, control))
}

#[pyfunction]
fn predict_means<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    spec: &Bound<'py, PyAny>,
    rows: Vec<Vec<String>>,
) -> PyResult<Bound<'py, PyAny>> {
    let spec: MeanModelSpec = from_python(spec)?;
    trial.asked(py, |trial, control| trial.predict_means(&spec, &rows, control))
}

/// Columns as given: name, level with the one it is set against, numbers.
type Column<'py> = (String, Option<(String, String)>, PyReadonlyArray1<'py, f64>);

#[pyfunction]
#[pyo3(name = "count_law")]
fn law_of_counts<'py>(
    py: Python<'py>,
    counts: PyReadonlyArray1<'py, i64>,
    groups: (PyReadonlyArray1<'py, u32>, Vec<String>),
    columns: Vec<Column<'py>>,
    offset: Option<PyReadonlyArray1<'py, f64>>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: CountLawOptions = from_python(options)?;
    let column = |(name, level, values): &Column<'py>| GivenColumn {
        name: name.clone(),
        level: level.clone(),
        values: values.as_array().to_vec(),
    };
    let given = GivenCounts {
        counts: whole_numbers(&counts)?,
        groups: groups.0.as_array().to_vec(),
        levels: groups.1,
        columns: columns.iter().map(column).collect(),
        offset: offset.map_or_else(Vec::new, |values| values.as_array().to_vec()),
    };
    to_python(py, &detached(py, |control| count_law(&given, &options, control))?)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(law_of_counts, module)?)?;
    module.add_function(wrap_pyfunction!(means, module)?)?;
    module.add_function(wrap_pyfunction!(mean_effects, module)?)?;
    module.add_function(wrap_pyfunction!(adjusted_means, module)?)?;
    module.add_function(wrap_pyfunction!(mean_contrasts, module)?)?;
    module.add_function(wrap_pyfunction!(mean_letters, module)?)?;
    module.add_function(wrap_pyfunction!(mean_checks, module)?)?;
    module.add_function(wrap_pyfunction!(predict_means, module)?)?;
    module.add_function(wrap_pyfunction!(compare, module)?)
}
