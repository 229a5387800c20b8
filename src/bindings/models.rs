//! Models: fit, effect tests, odds ratios, adjusted rates.

use std::sync::Arc;

use pyo3::prelude::*;
use serde::Serialize;

use super::convert::{Confidence, from_python, to_python};
use super::errors::ChoiceError;
use super::prediction::new_rows;
use super::run::{detached, soon, watched};
use super::trial::PyTrial;
use crate::answer::{Answer, Note};
use crate::checks;
use crate::control::Control;
use crate::effects::{self, ContrastOptions, LetterOptions, RateOptions};
use crate::error::Result;
use crate::model_tests;
use crate::models::{self, Model, ModelSpec, StatisticKind};
use crate::prediction;
use crate::trial::Units;

/// A fitted model and the fingerprint of its data.
#[pyclass(frozen, name = "Model", module = "rootling._core.models")]
struct PyModel {
    model: Model,
    fingerprint: String,
}

impl PyModel {
    /// Runs `work` on the model and hands its answer over, with the fingerprint of the data.
    fn answer<'py, F: Serialize + Send>(
        &self,
        py: Python<'py>,
        work: impl FnOnce(&Model, &Control) -> Result<Answer<F>> + Send,
    ) -> PyResult<Bound<'py, PyAny>> {
        let mut answer = detached(py, |control| work(&self.model.watched(control), control))?;
        answer.made_with.data_fingerprint = Some(self.fingerprint.clone());
        to_python(py, &answer)
    }
}

#[pymethods]
impl PyModel {
    #[getter]
    fn fingerprint(&self) -> &str {
        &self.fingerprint
    }

    #[getter]
    fn methods(&self) -> String {
        models::methods(&self.model)
    }

    #[getter]
    fn references(&self) -> Vec<String> {
        models::references(&self.model)
    }

    #[getter]
    fn record<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.model)
    }

    /// The record without the counts, which may be many.
    #[getter]
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let summary = to_python(py, &self.model.without_counts())?;
        summary.del_item("units")?;
        Ok(summary)
    }

    fn what_matters<'py>(&self, py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let asked: EffectTestOptions = from_python(options)?;
        self.answer(py, move |model, _| effects::what_matters_by(model, asked.test))
    }

    fn coefficients<'py>(&self, py: Python<'py>, confidence: Confidence) -> PyResult<Bound<'py, PyAny>> {
        self.answer(py, |model, _| effects::coefficients(model, confidence.0))
    }

    fn odds_ratios<'py>(&self, py: Python<'py>, confidence: Confidence) -> PyResult<Bound<'py, PyAny>> {
        self.answer(py, |model, _| effects::odds_ratios(model, confidence.0))
    }

    fn adjusted_rates<'py>(
        &self,
        py: Python<'py>,
        by: &str,
        options: &Bound<'_, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: RateOptions = from_python(options)?;
        self.answer(py, |model, _| effects::adjusted_rates(model, by, &options))
    }

    fn contrasts<'py>(&self, py: Python<'py>, by: &str, options: &Bound<'_, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options: ContrastOptions = from_python(options)?;
        self.answer(py, |model, control| effects::contrasts(model, by, &options, control))
    }

    fn letters<'py>(&self, py: Python<'py>, by: &str, options: &Bound<'_, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options: LetterOptions = from_python(options)?;
        self.answer(py, |model, control| effects::letters(model, by, &options, control))
    }

    #[getter]
    fn columns(&self) -> Vec<String> {
        prediction::columns(&self.model)
    }

    fn predict<'py>(
        &self,
        py: Python<'py>,
        rows: &Bound<'py, PyAny>,
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let (rows, options) = (new_rows(rows)?, from_python(options)?);
        self.answer(py, move |model, _| prediction::predict(model, &rows, &options))
    }

    fn checks<'py>(&self, py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options = from_python(options)?;
        self.answer(py, move |model, control| checks::checks(model, &options, control))
    }

    fn against<'py>(&self, py: Python<'py>, smaller: PyRef<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        let smaller = &smaller.model;
        self.answer(py, move |model, _| model_tests::against(model, smaller))
    }

    fn bootstrap_test<'py>(
        &self,
        py: Python<'py>,
        effect: &str,
        options: &Bound<'py, PyAny>,
        progress: Option<Py<PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: model_tests::BootstrapOptions = from_python(options)?;
        let tell = |py: Python<'_>, done: u64| match &progress {
            Some(told) => told.call1(py, (done.min(options.draws), options.draws)).map(|_| ()),
            None => Ok(()),
        };
        let mut answer =
            watched(py, tell, |control| model_tests::bootstrap_test(&self.model, effect, &options, control))?;
        tell(py, options.draws)?;
        answer.made_with.data_fingerprint = Some(self.fingerprint.clone());
        to_python(py, &answer)
    }
}

/// The statistic of effect tests; none for the model's own.
#[derive(serde::Deserialize)]
struct EffectTestOptions {
    test: Option<StatisticKind>,
}

#[pyfunction]
fn fit(py: Python<'_>, trial: &PyTrial, spec: &Bound<'_, PyAny>) -> PyResult<PyModel> {
    let spec: ModelSpec = from_python(spec)?;
    let work = |control: &Arc<Control>| Model::of_trial(&trial.0, &spec, control);
    let model = if Model::ends_soon(&trial.0, &spec) { soon(py, work) } else { detached(py, work) }?;
    Ok(PyModel { model, fingerprint: trial.0.fingerprint().to_owned() })
}

/// The part of a model's record that decides all of it.
#[derive(serde::Deserialize)]
struct Asked {
    units: Units,
    spec: ModelSpec,
    /// What the trial said of deaths, which the counts alone do not tell.
    #[serde(default)]
    notes: Vec<Note>,
}

/// A model from its record, as `Model.record` gives it: the same specification is fitted to the same counts, so nothing in
/// an edited record can disagree with them.
#[pyfunction]
fn restore(py: Python<'_>, record: &Bound<'_, PyAny>, fingerprint: String) -> PyResult<PyModel> {
    let asked: Asked = from_python(record)?;
    let Asked { units, spec, notes } = asked;
    if let Some(flaw) = units.flaw() {
        return Err(ChoiceError::new_err(format!(
            "this is not the record of a model: {flaw}; take it again from to_dict()"
        )));
    }
    let units = Arc::new(units);
    let model = detached(py, |control| Model::fit_until(&units, &spec, control))?;
    Ok(PyModel { model: model.with_notes_on_deaths(notes), fingerprint })
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PyModel>()?;
    module.add_function(wrap_pyfunction!(fit, module)?)?;
    module.add_function(wrap_pyfunction!(restore, module)?)
}
