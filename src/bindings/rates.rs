//! Take rates and intervals.

use numpy::{PyArray1, PyReadonlyArray1, ToPyArray};
use pyo3::prelude::*;

use super::convert::{Level, Name, Whole, count, from_python, to_python};
use super::errors::CountError;
use super::run::{detached, quietly};
use super::trial::PyTrial;
use crate::rates;

type Triple<'py> = (Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<f64>>);

#[pyfunction]
fn interval<'py>(
    py: Python<'py>,
    rooted: Whole,
    stuck: Whole,
    method: Name,
    level: Level,
) -> PyResult<Bound<'py, PyAny>> {
    let found = rates::interval(count(&rooted, &stuck)?, method.0.parse()?, level.0)?;
    to_python(py, &found)
}

#[pyfunction]
fn interval_many<'py>(
    py: Python<'py>,
    rooted: PyReadonlyArray1<'py, i64>,
    stuck: PyReadonlyArray1<'py, i64>,
    method: Name,
    level: Level,
) -> PyResult<Triple<'py>> {
    let (rooted, stuck) = (whole_numbers(&rooted)?, whole_numbers(&stuck)?);
    let method = method.0.parse()?;
    let found = quietly(py, || rates::interval_many(&rooted, &stuck, method, level.0))?;
    Ok((found.value.to_pyarray(py), found.conf_low.to_pyarray(py), found.conf_high.to_pyarray(py)))
}

fn whole_numbers(given: &PyReadonlyArray1<'_, i64>) -> PyResult<Vec<u64>> {
    let refuse = |at: usize, value: i64| {
        CountError::new_err(format!("entry {}: count {value} is negative; a count is 0 or more", at + 1))
    };
    given
        .as_array()
        .iter()
        .enumerate()
        .map(|(at, value)| u64::try_from(*value).map_err(|_| refuse(at, *value)))
        .collect()
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
    let mut answer = quietly(py, || rates::take_rates(trial.0.units(), &by, &options))?;
    answer.provenance.data_fingerprint = Some(trial.0.fingerprint().to_owned());
    to_python(py, &answer)
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
    let arms = rates::arms_of_lists(&whole_numbers(&rooted)?, &whole_numbers(&stuck)?, treatment.as_deref())?;
    to_python(py, &detached(py, |control| rates::tray_correlation(&arms, &options, control))?)
}

#[pyfunction]
fn trial_correlation<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: rates::CorrelationOptions = from_python(options)?;
    let mut answer = detached(py, |control| rates::trial_correlation(trial.0.units(), &options, control))?;
    answer.provenance.data_fingerprint = Some(trial.0.fingerprint().to_owned());
    to_python(py, &answer)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(interval, module)?)?;
    module.add_function(wrap_pyfunction!(interval_many, module)?)?;
    module.add_function(wrap_pyfunction!(take_rates, module)?)?;
    module.add_function(wrap_pyfunction!(tray_correlation, module)?)?;
    module.add_function(wrap_pyfunction!(trial_correlation, module)?)
}
