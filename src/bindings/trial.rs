//! Loading and what a trial knows about itself.

use pyo3::prelude::*;
use pyo3::pybacked::PyBackedBytes;
use pyo3::types::PyCapsule;
use serde::Serialize;

use super::arrow::{capsule_of, frame_from};
use super::convert::{from_python, sheet_of};
use super::records::to_python;
use super::run::{detached, owned, quietly};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::trial::{LoadOptions, Outcome, Source, Trial, from_cells, from_frame};

/// A checked trial.
#[pyclass(frozen, name = "Trial", module = "rootling._core.trial")]
pub(super) struct PyTrial(pub(super) Trial);

impl PyTrial {
    /// Runs `work` on the trial and hands its answer over.
    pub(super) fn asked<'py, F: Serialize + Send>(
        &self,
        py: Python<'py>,
        work: impl FnOnce(&Trial, &Control) -> Result<Answer<F>> + Send,
    ) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &detached(py, |control| work(&self.0, control))?)
    }
}

#[pymethods]
impl PyTrial {
    #[getter]
    fn issues<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.issues())
    }

    #[getter]
    fn set_aside<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.set_aside())
    }

    #[getter]
    fn design<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, self.0.design())
    }

    #[getter]
    fn notes<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.notes())
    }

    fn units_of<'py>(&self, py: Python<'py>, outcome: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let outcome: Outcome = from_python(outcome)?;
        to_python(py, &self.0.units_of(outcome)?)
    }

    #[getter]
    fn units<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, self.0.units())
    }

    #[getter]
    fn responses<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.responses())
    }

    #[getter]
    fn options<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, self.0.options())
    }

    #[getter]
    fn source<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.source())
    }

    fn for_later<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let told = quietly(py, || self.0.for_later())?;
        to_python(py, &told)
    }

    #[getter]
    fn fingerprint(&self) -> &str {
        self.0.fingerprint()
    }

    #[pyo3(signature = (requested_schema = None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        // The interface lets a producer pass over a wish for other types.
        let _ = requested_schema;
        capsule_of(py, self.0.frame())
    }
}

#[pyfunction]
fn read_csv(py: Python<'_>, text: PyBackedBytes, options: &Bound<'_, PyAny>) -> PyResult<PyTrial> {
    let options: LoadOptions = from_python(options)?;
    owned(py, move || crate::trial::read_csv(&text, &options)).map(PyTrial)
}

#[pyfunction]
fn read_cells(
    py: Python<'_>,
    cells: Vec<Vec<Option<String>>>,
    notes: Vec<(String, String)>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PyTrial> {
    let options: LoadOptions = from_python(options)?;
    let (lines, notes) = sheet_of(cells, notes);
    owned(py, move || from_cells(lines, notes, &options)).map(PyTrial)
}

#[pyfunction]
fn from_stream(
    py: Python<'_>,
    table: &Bound<'_, PyAny>,
    source: &Bound<'_, PyAny>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PyTrial> {
    let (source, options): (Source, LoadOptions) = (from_python(source)?, from_python(options)?);
    let frame = frame_from(table)?;
    owned(py, move || from_frame(frame, source, &options)).map(PyTrial)
}

#[pyfunction]
fn outcome_words<'py>(py: Python<'py>, outcome: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let outcome: Outcome = from_python(outcome)?;
    to_python(py, outcome.words())
}

#[pyfunction]
fn plural(noun: &str) -> String {
    crate::report::plural(noun)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PyTrial>()?;
    module.add_function(wrap_pyfunction!(read_csv, module)?)?;
    module.add_function(wrap_pyfunction!(read_cells, module)?)?;
    module.add_function(wrap_pyfunction!(from_stream, module)?)?;
    module.add_function(wrap_pyfunction!(outcome_words, module)?)?;
    module.add_function(wrap_pyfunction!(plural, module)?)
}
