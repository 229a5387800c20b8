//! Planning trials.

use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use super::run::{detached, telling};
use super::trial::PyTrial;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::plan::{self, CurvePlanOptions, EndOptions, LooksOptions, PlanOptions, TraysToDraw};

/// One question about a plan: read, asked detached, handed over.
fn asked<'py, F: serde::Serialize + Send>(
    py: Python<'py>,
    (options, progress): (&Bound<'py, PyAny>, Option<&Py<PyAny>>),
    ask: impl Fn(&PlanOptions, &Control) -> Result<Answer<F>> + Send + Sync,
) -> PyResult<Bound<'py, PyAny>> {
    let options: PlanOptions = from_python(options)?;
    to_python(py, &telling(py, progress, |control| ask(&options, control))?)
}

#[pyfunction]
#[pyo3(signature = (options, progress = None))]
fn power<'py>(
    py: Python<'py>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    asked(py, (options, progress.as_ref()), plan::power)
}

#[pyfunction]
#[pyo3(signature = (options, progress = None))]
fn precision<'py>(
    py: Python<'py>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    asked(py, (options, progress.as_ref()), plan::precision)
}

#[pyfunction]
#[pyo3(signature = (options, progress = None))]
fn trays_needed<'py>(
    py: Python<'py>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    asked(py, (options, progress.as_ref()), plan::trays_needed)
}

#[pyfunction]
#[pyo3(signature = (options, progress = None))]
fn smallest_difference<'py>(
    py: Python<'py>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    asked(py, (options, progress.as_ref()), plan::smallest_difference)
}

#[pyfunction]
#[pyo3(signature = (options, progress = None))]
fn looks<'py>(
    py: Python<'py>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: LooksOptions = from_python(options)?;
    to_python(py, &telling(py, progress.as_ref(), |control| plan::looks(&options, control))?)
}

#[pyfunction]
#[pyo3(signature = (options, progress = None))]
fn best_strength<'py>(
    py: Python<'py>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: CurvePlanOptions = from_python(options)?;
    to_python(py, &telling(py, progress.as_ref(), |control| plan::best_strength(&options, control))?)
}

#[pyfunction]
#[pyo3(signature = (trial, treatment, levels, options, progress = None))]
fn chance_at_end<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    treatment: &str,
    levels: (String, String),
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: EndOptions = from_python(options)?;
    let (units, levels) = (trial.0.units(), (levels.0.as_str(), levels.1.as_str()));
    let ask = |control: &Control| plan::chance_at_end(units, treatment, levels, &options, control);
    to_python(py, &telling(py, progress.as_ref(), |control| ask(control))?)
}

/// The leading P values of drawn trials.
#[pyfunction]
fn p_values<'py>(py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyArray1<f64>>> {
    let options: PlanOptions = from_python(options)?;
    Ok(detached(py, |control| plan::p_values(&options, control))?.into_pyarray(py))
}

/// One drawn trial as columns: level, block, rooted and stuck of every tray.
#[pyfunction]
#[expect(clippy::type_complexity, reason = "four columns")]
fn draw_trial(
    py: Python<'_>,
    options: &Bound<'_, PyAny>,
    replicate: u64,
) -> PyResult<(Vec<usize>, Vec<u32>, Vec<u64>, Vec<u64>)> {
    let options: PlanOptions = from_python(options)?;
    let drawn = detached(py, |_| plan::draw_trial(&options, replicate))?;
    let level = drawn.arms.iter().enumerate().flat_map(|(at, arm)| vec![at; arm.stuck.len()]).collect();
    let of = |pick: fn(&crate::rates::Arm) -> &Vec<u64>| drawn.arms.iter().flat_map(pick).copied().collect();
    Ok((level, drawn.blocks.concat(), of(|arm| &arm.rooted), of(|arm| &arm.stuck)))
}

/// Invented counts for the trays of a layout.
#[pyfunction]
fn draw_counts(py: Python<'_>, trays: &Bound<'_, PyAny>, seed: u64, replicate: u64) -> PyResult<Vec<u64>> {
    let trays: TraysToDraw = from_python(trays)?;
    detached(py, |_| plan::draw_counts(&trays, seed, replicate))
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(power, module)?)?;
    module.add_function(wrap_pyfunction!(precision, module)?)?;
    module.add_function(wrap_pyfunction!(trays_needed, module)?)?;
    module.add_function(wrap_pyfunction!(smallest_difference, module)?)?;
    module.add_function(wrap_pyfunction!(looks, module)?)?;
    module.add_function(wrap_pyfunction!(best_strength, module)?)?;
    module.add_function(wrap_pyfunction!(chance_at_end, module)?)?;
    module.add_function(wrap_pyfunction!(p_values, module)?)?;
    module.add_function(wrap_pyfunction!(draw_counts, module)?)?;
    module.add_function(wrap_pyfunction!(draw_trial, module)?)
}
