//! Models: fit, effect tests, odds ratios, adjusted rates.

use pyo3::prelude::*;

use super::convert::{from_python, to_python};
use super::run::quietly;
use super::trial::PyTrial;
use crate::answer::Provenance;
use crate::effects;
use crate::models::{Model, ModelSpec};

/// A fitted model and the fingerprint of its data.
#[pyclass(frozen, name = "Model", module = "rootling._core.models")]
struct PyModel {
    model: Model,
    fingerprint: String,
}

impl PyModel {
    fn stamped(&self, provenance: &mut Provenance) {
        provenance.data_fingerprint = Some(self.fingerprint.clone());
    }
}

#[pymethods]
impl PyModel {
    #[getter]
    fn record<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.model)
    }

    fn effect_tests<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let mut answer = quietly(py, || effects::effect_tests(&self.model))?;
        self.stamped(&mut answer.provenance);
        to_python(py, &answer)
    }

    fn odds_ratios<'py>(&self, py: Python<'py>, level: f64) -> PyResult<Bound<'py, PyAny>> {
        let mut answer = quietly(py, || effects::odds_ratios(&self.model, level))?;
        self.stamped(&mut answer.provenance);
        to_python(py, &answer)
    }

    fn adjusted_rates<'py>(
        &self,
        py: Python<'py>,
        by: &str,
        within: Option<&str>,
        level: f64,
    ) -> PyResult<Bound<'py, PyAny>> {
        let mut answer = quietly(py, || effects::adjusted_rates(&self.model, by, within, level))?;
        self.stamped(&mut answer.provenance);
        to_python(py, &answer)
    }
}

#[pyfunction]
fn fit(py: Python<'_>, trial: &PyTrial, spec: &Bound<'_, PyAny>) -> PyResult<PyModel> {
    let spec: ModelSpec = from_python(spec)?;
    let model = quietly(py, || Model::fit(trial.0.units(), &spec))?;
    Ok(PyModel { model, fingerprint: trial.0.fingerprint().to_owned() })
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PyModel>()?;
    module.add_function(wrap_pyfunction!(fit, module)?)
}
