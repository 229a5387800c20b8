//! Models: fit, effect tests, odds ratios, adjusted rates.

use std::sync::Arc;

use pyo3::prelude::*;
use serde::Serialize;

use super::convert::{Confidence, from_python};
use super::errors::ChoiceError;
use super::prediction::new_rows;
use super::records::to_python;
use super::run::{detached, soon, watched};
use super::trial::PyTrial;
use crate::answer::{Answer, Note};
use crate::control::Control;
use crate::effects::{ContrastOptions, LetterOptions, RateOptions};
use crate::error::Result;
use crate::model_tests;
use crate::models::{self, Model, ModelSpec, StatisticKind};
use crate::prediction;
use crate::trial::Units;

/// A fitted model.
#[pyclass(frozen, name = "Model", module = "rootling._core.models")]
struct PyModel(Model);

impl PyModel {
    /// Runs `work` on the model and hands its answer over.
    fn answer<'py, F: Serialize + Send>(
        &self,
        py: Python<'py>,
        work: impl FnOnce(&Model, &Control) -> Result<Answer<F>> + Send,
    ) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &detached(py, |control| work(&self.0.watched(control), control))?)
    }
}

#[pymethods]
impl PyModel {
    #[getter]
    fn fingerprint(&self) -> &str {
        self.0.data_fingerprint.as_deref().unwrap_or_default()
    }

    #[getter]
    fn methods(&self) -> String {
        models::methods(&self.0)
    }

    #[getter]
    fn references(&self) -> Vec<String> {
        models::references(&self.0)
    }

    #[getter]
    fn record<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0)
    }

    /// The record without the counts, which may be many.
    #[getter]
    fn summary<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let summary = to_python(py, &self.0.without_counts())?;
        summary.del_item("units")?;
        Ok(summary)
    }

    fn what_matters<'py>(&self, py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let asked: EffectTestOptions = from_python(options)?;
        self.answer(py, move |model, _| model.what_matters(asked.test))
    }

    fn coefficients<'py>(&self, py: Python<'py>, confidence: Confidence) -> PyResult<Bound<'py, PyAny>> {
        self.answer(py, |model, _| model.coefficients(confidence.0))
    }

    fn odds_ratios<'py>(&self, py: Python<'py>, confidence: Confidence) -> PyResult<Bound<'py, PyAny>> {
        self.answer(py, |model, _| model.odds_ratios(confidence.0))
    }

    fn adjusted_rates<'py>(
        &self,
        py: Python<'py>,
        by: &str,
        options: &Bound<'_, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: RateOptions = from_python(options)?;
        self.answer(py, |model, _| model.adjusted_rates(by, &options))
    }

    fn contrasts<'py>(&self, py: Python<'py>, by: &str, options: &Bound<'_, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options: ContrastOptions = from_python(options)?;
        self.answer(py, |model, control| model.contrasts(by, &options, control))
    }

    fn letters<'py>(&self, py: Python<'py>, by: &str, options: &Bound<'_, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options: LetterOptions = from_python(options)?;
        self.answer(py, |model, control| model.letters(by, &options, control))
    }

    #[getter]
    fn columns(&self) -> Vec<String> {
        prediction::columns(&self.0)
    }

    fn predict<'py>(
        &self,
        py: Python<'py>,
        rows: &Bound<'py, PyAny>,
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let (rows, options) = (new_rows(rows)?, from_python(options)?);
        self.answer(py, move |model, _| model.predict(&rows, &options))
    }

    fn checks<'py>(&self, py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options = from_python(options)?;
        self.answer(py, move |model, control| model.checks(&options, control))
    }

    fn against<'py>(&self, py: Python<'py>, smaller: PyRef<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        let smaller = &smaller.0;
        self.answer(py, move |model, _| model.against(smaller))
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
        let answer = watched(py, tell, |control| self.0.bootstrap_test(effect, &options, control))?;
        tell(py, options.draws)?;
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
    let work = |control: &Arc<Control>| trial.0.model(&spec, control);
    if Model::ends_soon(&trial.0, &spec) { soon(py, work) } else { detached(py, work) }.map(PyModel)
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
    let mut model = detached(py, |control| Model::fit_until(&units, &spec, control))?.with_notes_on_deaths(notes);
    model.data_fingerprint = Some(fingerprint);
    Ok(PyModel(model))
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PyModel>()?;
    module.add_function(wrap_pyfunction!(fit, module)?)?;
    module.add_function(wrap_pyfunction!(restore, module)?)
}
