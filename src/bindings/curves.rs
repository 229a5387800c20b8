//! Strength curves: fit, strengths for a take, curves compared.

use pyo3::prelude::*;
use serde::Serialize;

use super::convert::{from_python, to_python};
use super::run::detached;
use super::trial::PyTrial;
use crate::answer::Answer;
use crate::control::Control;
use crate::curves::{self, CurveInput, CurveOptions, DamageOptions, NextOptions, SurfaceOptions};
use crate::error::{CurveError, Result};

#[pyfunction]
fn strength_curve<'py>(py: Python<'py>, trial: &PyTrial, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let options: CurveOptions = from_python(options)?;
    trial.asked(py, |trial, control| curves::strength_curve_of_trial(trial, &options, control))
}

#[pyfunction]
fn damage_threshold<'py>(py: Python<'py>, trial: &PyTrial, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let options: DamageOptions = from_python(options)?;
    let strength = trial.0.options().strength.as_ref();
    trial.answer(py, |units, control| {
        let dead = trial.0.dead().ok_or(CurveError::NoDeaths)?;
        curves::damage_threshold(units, dead, strength, &options, control)
    })
}

#[pyfunction]
fn response_surface<'py>(py: Python<'py>, trial: &PyTrial, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let options: SurfaceOptions = from_python(options)?;
    let strength = trial.0.options().strength.as_ref();
    trial.answer(py, |units, control| curves::response_surface(units, strength, &options, control))
}

/// Runs `work` on what a curve was made from, and hands its answer over with the fingerprint of the data.
fn again<'py, F: Serialize + Send>(
    py: Python<'py>,
    input: &Bound<'py, PyAny>,
    fingerprint: Option<String>,
    work: impl FnOnce(&CurveInput, &Control) -> Result<Answer<F>> + Send,
) -> PyResult<Bound<'py, PyAny>> {
    let input: CurveInput = from_python(input)?;
    let mut answer = detached(py, |control| work(&input, control))?;
    answer.made_with.data_fingerprint = fingerprint;
    to_python(py, &answer)
}

#[pyfunction]
fn strengths_for<'py>(
    py: Python<'py>,
    input: &Bound<'py, PyAny>,
    fingerprint: Option<String>,
    take: f64,
) -> PyResult<Bound<'py, PyAny>> {
    again(py, input, fingerprint, |input, control| curves::strengths_for(input, take, control))
}

#[pyfunction]
fn next_strengths<'py>(
    py: Python<'py>,
    input: &Bound<'py, PyAny>,
    fingerprint: Option<String>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: NextOptions = from_python(options)?;
    again(py, input, fingerprint, |input, control| curves::next_strengths(input, &options, control))
}

#[pyfunction]
fn differences<'py>(
    py: Python<'py>,
    input: &Bound<'py, PyAny>,
    fingerprint: Option<String>,
) -> PyResult<Bound<'py, PyAny>> {
    again(py, input, fingerprint, curves::compare_curves)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(strength_curve, module)?)?;
    module.add_function(wrap_pyfunction!(damage_threshold, module)?)?;
    module.add_function(wrap_pyfunction!(response_surface, module)?)?;
    module.add_function(wrap_pyfunction!(strengths_for, module)?)?;
    module.add_function(wrap_pyfunction!(next_strengths, module)?)?;
    module.add_function(wrap_pyfunction!(differences, module)?)
}
