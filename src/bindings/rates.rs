//! Take rates and intervals.

use numpy::{IntoPyArray, PyArray1, PyReadonlyArray1};
use pyo3::prelude::*;

use super::convert::{Confidence, Name, Whole, count, from_python, whole_numbers};
use super::records::to_python;
use super::run::detached;
use super::trial::PyTrial;
use crate::rates;

type Triple<'py> = (Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<f64>>);

#[pyfunction]
#[pyo3(signature = (rooted, stuck, method, confidence, sides))]
fn interval(
    py: Python<'_>,
    rooted: Whole,
    stuck: Whole,
    method: Name,
    confidence: Confidence,
    sides: Name,
) -> PyResult<Bound<'_, PyAny>> {
    let (count, method, sides) = (count(&rooted, &stuck)?, method.0.parse()?, sides.0.parse()?);
    let found = match sides {
        rates::Sides::Both => rates::interval(count, method, confidence.0)?,
        _ => rates::bound(count, method, confidence.0, sides)?,
    };
    to_python(py, &rates::interval_answer(count, found, sides))
}

#[pyfunction]
#[pyo3(signature = (rooted, stuck, method, confidence, sides))]
fn interval_many<'py>(
    py: Python<'py>,
    rooted: PyReadonlyArray1<'py, i64>,
    stuck: PyReadonlyArray1<'py, i64>,
    method: Name,
    confidence: Confidence,
    sides: Name,
) -> PyResult<Triple<'py>> {
    let (rooted, stuck) = (whole_numbers(&rooted)?, whole_numbers(&stuck)?);
    let (method, sides) = (method.0.parse()?, sides.0.parse()?);
    let found = detached(py, |control| rates::interval_many(&rooted, &stuck, method, confidence.0, sides, control))?;
    Ok((found.value.into_pyarray(py), found.low.into_pyarray(py), found.high.into_pyarray(py)))
}

/// What holds for every interval of one method: notes, methods, references.
#[pyfunction]
fn interval_faces(py: Python<'_>, method: Name, confidence: f64, sides: Name) -> PyResult<Bound<'_, PyAny>> {
    let (method, sides): (rates::IntervalMethod, _) = (method.0.parse()?, sides.0.parse()?);
    to_python(py, &rates::interval_faces(method, confidence, sides))
}

#[pyfunction]
fn against_target(
    py: Python<'_>,
    rooted: Whole,
    stuck: Whole,
    target: f64,
    method: Name,
) -> PyResult<Bound<'_, PyAny>> {
    let count = count(&rooted, &stuck)?;
    let found = rates::against_target(count, target, method.0.parse()?)?;
    to_python(py, &rates::target_answer(count, found)?)
}

#[pyfunction]
fn against_target_many<'py>(
    py: Python<'py>,
    rooted: PyReadonlyArray1<'py, i64>,
    stuck: PyReadonlyArray1<'py, i64>,
    target: PyReadonlyArray1<'py, f64>,
    method: Name,
) -> PyResult<Triple<'py>> {
    let (rooted, stuck, target) = (whole_numbers(&rooted)?, whole_numbers(&stuck)?, target.as_array().to_vec());
    let method = method.0.parse()?;
    let found = detached(py, |control| rates::against_target_many(&rooted, &stuck, &target, method, control))?;
    let column = |place: usize| {
        let values: Vec<f64> = found.iter().filter_map(|row| row.get(place)).copied().collect();
        values.into_pyarray(py)
    };
    Ok((column(0), column(1), column(2)))
}

#[pyfunction]
fn take_rates<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    by: Vec<String>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: rates::TakeRatesOptions = from_python(options)?;
    let by: Vec<&str> = by.iter().map(String::as_str).collect();
    trial.asked(py, |trial, _| trial.take_rates(&by, &options))
}

#[pyfunction]
#[pyo3(signature = (rooted, stuck, treatment, options))]
fn tray_correlation<'py>(
    py: Python<'py>,
    rooted: PyReadonlyArray1<'py, i64>,
    stuck: PyReadonlyArray1<'py, i64>,
    treatment: Option<Vec<String>>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: rates::CorrelationOptions = from_python(options)?;
    let (rooted, stuck) = (whole_numbers(&rooted)?, whole_numbers(&stuck)?);
    let found = detached(py, |control| {
        let arms = rates::arms_of_lists(&rooted, &stuck, treatment.as_deref(), control)?;
        rates::tray_correlation(&arms, &options, control)
    })?;
    to_python(py, &found)
}

#[pyfunction]
fn trial_correlation<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: rates::CorrelationOptions = from_python(options)?;
    trial.asked(py, |trial, control| trial.tray_correlation(&options, control))
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(interval, module)?)?;
    module.add_function(wrap_pyfunction!(interval_many, module)?)?;
    module.add_function(wrap_pyfunction!(interval_faces, module)?)?;
    module.add_function(wrap_pyfunction!(against_target, module)?)?;
    module.add_function(wrap_pyfunction!(against_target_many, module)?)?;
    module.add_function(wrap_pyfunction!(take_rates, module)?)?;
    module.add_function(wrap_pyfunction!(tray_correlation, module)?)?;
    module.add_function(wrap_pyfunction!(trial_correlation, module)?)
}
