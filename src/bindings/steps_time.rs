//! Time to roots: visits to trays, and what they are asked.

use pyo3::prelude::*;
use pyo3::pybacked::PyBackedBytes;

use super::arrow::frame_from;
use super::convert::{from_python, sheet_of};
use super::records::to_python;
use super::run::{owned, quietly, telling};
use crate::steps::{self, CourseOptions, TimesOptions, Visits, VisitsOptions};
use crate::trial::Source;

/// Visits to trays.
#[pyclass(frozen, name = "Visits", module = "rootling._core.steps")]
struct PyVisits(Visits);

#[pymethods]
impl PyVisits {
    #[getter]
    fn issues<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.issues())
    }

    #[getter]
    fn set_aside<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.set_aside())
    }

    #[getter]
    fn notes<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.notes())
    }

    #[getter]
    fn columns<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, self.0.columns())
    }

    #[getter]
    fn days(&self) -> Vec<u64> {
        self.0.days().to_vec()
    }

    #[getter]
    fn fingerprint(&self) -> &str {
        self.0.fingerprint()
    }

    fn rows<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &quietly(py, || Ok(self.0.rows()))?)
    }

    #[pyo3(signature = (options, progress = None))]
    fn over_time<'py>(
        &self,
        py: Python<'py>,
        options: &Bound<'py, PyAny>,
        progress: Option<Py<PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: CourseOptions = from_python(options)?;
        to_python(py, &telling(py, progress.as_ref(), |control| self.0.over_time(&options, control))?)
    }

    #[pyo3(signature = (treatment, options, progress = None))]
    fn compare_times<'py>(
        &self,
        py: Python<'py>,
        treatment: &str,
        options: &Bound<'py, PyAny>,
        progress: Option<Py<PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: TimesOptions = from_python(options)?;
        to_python(py, &telling(py, progress.as_ref(), |control| self.0.compare_times(treatment, &options, control))?)
    }
}

#[pyfunction]
fn read_visits(py: Python<'_>, text: PyBackedBytes, options: &Bound<'_, PyAny>) -> PyResult<PyVisits> {
    let options: VisitsOptions = from_python(options)?;
    owned(py, move || steps::read_visits(&text, &options)).map(PyVisits)
}

#[pyfunction]
fn visits_of_cells(
    py: Python<'_>,
    cells: Vec<Vec<Option<String>>>,
    notes: Vec<(String, String)>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PyVisits> {
    let options: VisitsOptions = from_python(options)?;
    let (lines, notes) = sheet_of(cells, notes);
    owned(py, move || steps::read_visits_cells(lines, notes, &options)).map(PyVisits)
}

#[pyfunction]
fn visits_of_stream(
    py: Python<'_>,
    table: &Bound<'_, PyAny>,
    source: &Bound<'_, PyAny>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PyVisits> {
    let (source, options): (Source, VisitsOptions) = (from_python(source)?, from_python(options)?);
    let frame = frame_from(table)?;
    owned(py, move || steps::read_visits_frame(&frame, source, &options)).map(PyVisits)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PyVisits>()?;
    module.add_function(wrap_pyfunction!(read_visits, module)?)?;
    module.add_function(wrap_pyfunction!(visits_of_cells, module)?)?;
    module.add_function(wrap_pyfunction!(visits_of_stream, module)?)
}
