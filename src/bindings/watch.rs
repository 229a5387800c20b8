//! Watching a crop.

use pyo3::prelude::*;
use pyo3::pybacked::PyBackedBytes;

use super::arrow::frame_from;
use super::convert::{from_python, sheet_of};
use super::records::to_python;
use super::run::{owned, quietly, telling};
use crate::error::{Error, WatchError};
use crate::trial::Source;
use crate::watch::{
    self, Aim, Baseline, BaselineOptions, BatchOptions, MixOptions, PlacesOptions, SignalOptions, TargetOptions, Watch,
    WatchOptions,
};

/// A crop under watch.
#[pyclass(frozen, name = "Watch", module = "rootling._core.watch")]
struct PyWatch(Watch);

#[pymethods]
impl PyWatch {
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
    fn batches<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.batches())
    }

    #[getter]
    fn groupings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.groupings())
    }

    #[getter]
    fn reading_age(&self) -> Option<i32> {
        self.0.reading_age()
    }

    #[getter]
    fn fingerprint(&self) -> &str {
        self.0.fingerprint()
    }

    #[pyo3(signature = (options, progress = None))]
    fn expected<'py>(
        &self,
        py: Python<'py>,
        options: &Bound<'py, PyAny>,
        progress: Option<Py<PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: BaselineOptions = from_python(options)?;
        to_python(py, &telling(py, progress.as_ref(), |control| self.0.expected(&options, control))?)
    }

    #[pyo3(signature = (baseline, options, progress = None))]
    fn signals<'py>(
        &self,
        py: Python<'py>,
        baseline: &Bound<'py, PyAny>,
        options: &Bound<'py, PyAny>,
        progress: Option<Py<PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let (baseline, options): (Baseline, SignalOptions) = (baseline_of(baseline)?, from_python(options)?);
        to_python(py, &telling(py, progress.as_ref(), |control| self.0.signals(&baseline, &options, control))?)
    }

    fn mix<'py>(&self, py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options: MixOptions = from_python(options)?;
        to_python(py, &quietly(py, || self.0.mix(&options))?)
    }

    fn target<'py>(
        &self,
        py: Python<'py>,
        target: Option<f64>,
        baseline: &Bound<'py, PyAny>,
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let (baseline, options): (Baseline, TargetOptions) = (baseline_of(baseline)?, from_python(options)?);
        let aim = target.map_or(Aim::LastSeason, Aim::Rate);
        to_python(py, &quietly(py, || self.0.target(aim, &baseline, &options))?)
    }

    fn places<'py>(
        &self,
        py: Python<'py>,
        baseline: &Bound<'py, PyAny>,
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let (baseline, options): (Baseline, PlacesOptions) = (baseline_of(baseline)?, from_python(options)?);
        to_python(py, &quietly(py, || self.0.places(&baseline, &options))?)
    }

    fn batch_chart<'py>(
        &self,
        py: Python<'py>,
        baseline: &Bound<'py, PyAny>,
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let (baseline, options): (Baseline, BatchOptions) = (baseline_of(baseline)?, from_python(options)?);
        to_python(py, &quietly(py, || self.0.batch_chart(&baseline, &options))?)
    }
}

/// A baseline from its record, which may have been edited.
fn baseline_of(record: &Bound<'_, PyAny>) -> PyResult<Baseline> {
    from_python(record).map_err(|_| Error::from(WatchError::UnsoundBaseline { what: "parts" }).into())
}

#[pyfunction]
fn read_csv(py: Python<'_>, text: PyBackedBytes, options: &Bound<'_, PyAny>) -> PyResult<PyWatch> {
    let options: WatchOptions = from_python(options)?;
    owned(py, move || watch::read_csv(&text, &options)).map(PyWatch)
}

#[pyfunction]
fn read_cells(
    py: Python<'_>,
    cells: Vec<Vec<Option<String>>>,
    notes: Vec<(String, String)>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PyWatch> {
    let options: WatchOptions = from_python(options)?;
    let (lines, notes) = sheet_of(cells, notes);
    owned(py, move || watch::read_cells(lines, notes, &options)).map(PyWatch)
}

#[pyfunction]
fn from_stream(
    py: Python<'_>,
    table: &Bound<'_, PyAny>,
    source: &Bound<'_, PyAny>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PyWatch> {
    let (source, options): (Source, WatchOptions) = (from_python(source)?, from_python(options)?);
    let frame = frame_from(table)?;
    owned(py, move || watch::read_frame(&frame, source, &options)).map(PyWatch)
}

/// A day written year first, counted from 1970; none where it is none.
#[pyfunction]
fn day_of(text: &str) -> Option<i32> {
    watch::day_of(text)
}

/// A day as it is written.
#[pyfunction]
fn shown_day(day: i32) -> String {
    watch::shown_day(day)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PyWatch>()?;
    module.add_function(wrap_pyfunction!(read_csv, module)?)?;
    module.add_function(wrap_pyfunction!(read_cells, module)?)?;
    module.add_function(wrap_pyfunction!(from_stream, module)?)?;
    module.add_function(wrap_pyfunction!(day_of, module)?)?;
    module.add_function(wrap_pyfunction!(shown_day, module)?)
}
