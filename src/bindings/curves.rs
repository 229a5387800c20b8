//! Strength curves: fit, strengths for a take, curves compared.

use pyo3::prelude::*;
use serde::Serialize;

use super::convert::from_python;
use super::records::to_python;
use super::run::{detached, telling};
use super::trial::PyTrial;
use crate::answer::Answer;
use crate::control::Control;
use crate::curves::{CurveInput, CurveOptions, DamageOptions, FittedCurves, NextOptions, SurfaceOptions};
use crate::error::Result;

/// Fitted curves.
#[pyclass(frozen, name = "Curves", module = "rootling._core.curves")]
struct PyCurves(FittedCurves);

impl PyCurves {
    /// Runs `work` on the curves and hands its answer over.
    fn answer<'py, F: Serialize + Send>(
        &self,
        py: Python<'py>,
        work: impl FnOnce(&FittedCurves, &Control) -> Result<Answer<F>> + Send,
    ) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &detached(py, |control| work(&self.0, control))?)
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
#[pyo3(signature = (trial, options, progress = None))]
fn strength_curve<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<(PyCurves, Bound<'py, PyAny>)> {
    let options: CurveOptions = from_python(options)?;
    let (curves, answer) = telling(py, progress.as_ref(), |control| {
        let curves = trial.0.strength_curve(&options, control)?;
        let answer = curves.answer(control)?;
        Ok((curves, answer))
    })?;
    Ok((PyCurves(curves), to_python(py, &answer)?))
}

/// The curves of a record, fitted again to what it keeps.
#[pyfunction]
fn restore(py: Python<'_>, input: &Bound<'_, PyAny>, fingerprint: Option<String>) -> PyResult<PyCurves> {
    let input: CurveInput = from_python(input)?;
    let curves = detached(py, |control| FittedCurves::new(input, control))?;
    Ok(PyCurves(curves.of_data(fingerprint)))
}

#[pyfunction]
fn damage_threshold<'py>(py: Python<'py>, trial: &PyTrial, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let options: DamageOptions = from_python(options)?;
    trial.asked(py, |trial, control| trial.damage_threshold(&options, control))
}

#[pyfunction]
#[pyo3(signature = (trial, options, progress = None))]
fn response_surface<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: SurfaceOptions = from_python(options)?;
    to_python(py, &telling(py, progress.as_ref(), |control| trial.0.response_surface(&options, control))?)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PyCurves>()?;
    module.add_function(wrap_pyfunction!(strength_curve, module)?)?;
    module.add_function(wrap_pyfunction!(restore, module)?)?;
    module.add_function(wrap_pyfunction!(damage_threshold, module)?)?;
    module.add_function(wrap_pyfunction!(response_surface, module)?)
}
