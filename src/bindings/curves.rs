//! Strength curves: fit, strengths for a take, curves compared.

use pyo3::prelude::*;
use serde::Serialize;

use super::convert::{from_python, to_python};
use super::run::detached;
use super::trial::PyTrial;
use crate::answer::Answer;
use crate::control::Control;
use crate::curves::{self, CurveInput, CurveOptions, DamageOptions, FittedCurves, NextOptions, SurfaceOptions};
use crate::error::{CurveError, Result};

/// Fitted curves and the fingerprint of their data.
#[pyclass(frozen, name = "Curves", module = "rootling._core.curves")]
struct PyCurves {
    curves: FittedCurves,
    fingerprint: Option<String>,
}

impl PyCurves {
    /// Runs `work` on the curves and hands its answer over, with the fingerprint of the data.
    fn answer<'py, F: Serialize + Send>(
        &self,
        py: Python<'py>,
        work: impl FnOnce(&FittedCurves, &Control) -> Result<Answer<F>> + Send,
    ) -> PyResult<Bound<'py, PyAny>> {
        let mut answer = detached(py, |control| work(&self.curves, control))?;
        answer.made_with.data_fingerprint.clone_from(&self.fingerprint);
        to_python(py, &answer)
    }
}

#[pymethods]
impl PyCurves {
    fn strengths_for<'py>(&self, py: Python<'py>, take: f64) -> PyResult<Bound<'py, PyAny>> {
        self.answer(py, |curves, control| curves.strengths_for(take, control))
    }

    fn next_strengths<'py>(&self, py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options: NextOptions = from_python(options)?;
        self.answer(py, |curves, control| curves.next_strengths(&options, control))
    }

    fn differences<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        self.answer(py, FittedCurves::differences)
    }
}

/// The curves of a trial, and what they answer at once.
#[pyfunction]
fn strength_curve<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    options: &Bound<'py, PyAny>,
) -> PyResult<(PyCurves, Bound<'py, PyAny>)> {
    let options: CurveOptions = from_python(options)?;
    let (curves, mut answer) = detached(py, |control| {
        let curves = FittedCurves::of_trial(&trial.0, &options, control)?;
        let answer = curves.answer_of(&trial.0, control)?;
        Ok((curves, answer))
    })?;
    let fingerprint = Some(trial.0.fingerprint().to_owned());
    answer.made_with.data_fingerprint.clone_from(&fingerprint);
    Ok((PyCurves { curves, fingerprint }, to_python(py, &answer)?))
}

/// The curves of a record, fitted again to what it keeps.
#[pyfunction]
fn restore(py: Python<'_>, input: &Bound<'_, PyAny>, fingerprint: Option<String>) -> PyResult<PyCurves> {
    let input: CurveInput = from_python(input)?;
    let curves = detached(py, |control| FittedCurves::new(input, control))?;
    Ok(PyCurves { curves, fingerprint })
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

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PyCurves>()?;
    module.add_function(wrap_pyfunction!(strength_curve, module)?)?;
    module.add_function(wrap_pyfunction!(restore, module)?)?;
    module.add_function(wrap_pyfunction!(damage_threshold, module)?)?;
    module.add_function(wrap_pyfunction!(response_surface, module)?)
}
