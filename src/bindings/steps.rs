//! The chain of steps, readers and early signs.

use pyo3::prelude::*;
use pyo3::pybacked::PyBackedBytes;

use super::arrow::frame_from;
use super::convert::{Whole, from_python, sheet_of};
use super::records::to_python;
use super::run::{owned, quietly};
use crate::steps::{
    self, AgreementOptions, CompareYieldsOptions, SignCounts, SignOptions, StartOptions, Steps, StepsOptions,
    StepsTable, YieldOptions,
};
use crate::trial::Source;

/// A chain of steps.
#[pyclass(frozen, name = "Steps", module = "rootling._core.steps")]
struct PySteps(Steps);

#[pymethods]
impl PySteps {
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
    fn columns(&self) -> Vec<String> {
        self.0.columns().to_vec()
    }

    #[getter]
    fn level_columns<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.0.level_columns())
    }

    #[getter]
    fn fingerprint(&self) -> &str {
        self.0.fingerprint()
    }

    fn yields<'py>(&self, py: Python<'py>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let options: YieldOptions = from_python(options)?;
        to_python(py, &quietly(py, || self.0.yields(&options))?)
    }

    fn compare<'py>(
        &self,
        py: Python<'py>,
        column: &str,
        levels: (String, String),
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: CompareYieldsOptions = from_python(options)?;
        to_python(py, &quietly(py, || self.0.compare(column, &levels.0, &levels.1, &options))?)
    }

    fn compare_all<'py>(
        &self,
        py: Python<'py>,
        column: &str,
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: CompareYieldsOptions = from_python(options)?;
        to_python(py, &quietly(py, || self.0.compare_all(column, &options))?)
    }

    fn to_start<'py>(
        &self,
        py: Python<'py>,
        wanted: Whole,
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: StartOptions = from_python(options)?;
        to_python(py, &quietly(py, || self.0.to_start(wanted.0, &options))?)
    }

    fn sure_of<'py>(
        &self,
        py: Python<'py>,
        started: Whole,
        options: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let options: StartOptions = from_python(options)?;
        to_python(py, &quietly(py, || self.0.sure_of(started.0, &options))?)
    }
}

#[pyfunction]
fn read_csv(py: Python<'_>, text: PyBackedBytes, options: &Bound<'_, PyAny>) -> PyResult<PySteps> {
    let options: StepsOptions = from_python(options)?;
    owned(py, move || steps::read_csv(&text, &options)).map(PySteps)
}

#[pyfunction]
fn read_cells(
    py: Python<'_>,
    cells: Vec<Vec<Option<String>>>,
    notes: Vec<(String, String)>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PySteps> {
    let options: StepsOptions = from_python(options)?;
    let (lines, notes) = sheet_of(cells, notes);
    owned(py, move || steps::read_cells(lines, notes, &options)).map(PySteps)
}

#[pyfunction]
fn from_stream(
    py: Python<'_>,
    table: &Bound<'_, PyAny>,
    source: &Bound<'_, PyAny>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PySteps> {
    let (source, options): (Source, StepsOptions) = (from_python(source)?, from_python(options)?);
    let frame = frame_from(table)?;
    owned(py, move || steps::read_frame(&frame, source, &options)).map(PySteps)
}

/// A table of counts or of plants.
#[pyclass(frozen, name = "StepsTable", module = "rootling._core.steps")]
struct PyStepsTable(StepsTable);

#[pyfunction]
fn table_of_csv(
    py: Python<'_>,
    text: PyBackedBytes,
    columns: Vec<String>,
    header_row: Option<u64>,
) -> PyResult<PyStepsTable> {
    let wanted: Vec<&str> = columns.iter().map(String::as_str).collect();
    quietly(py, || StepsTable::of_csv(&text, &wanted, header_row)).map(PyStepsTable)
}

#[pyfunction]
fn table_of_cells(
    py: Python<'_>,
    cells: Vec<Vec<Option<String>>>,
    notes: Vec<(String, String)>,
    columns: Vec<String>,
    header_row: Option<u64>,
) -> PyResult<PyStepsTable> {
    let (lines, notes) = sheet_of(cells, notes);
    let wanted: Vec<&str> = columns.iter().map(String::as_str).collect();
    quietly(py, || StepsTable::of_cells(lines, notes, &wanted, header_row)).map(PyStepsTable)
}

#[pyfunction]
fn table_of_stream(table: &Bound<'_, PyAny>, source: &Bound<'_, PyAny>) -> PyResult<PyStepsTable> {
    let source: Source = from_python(source)?;
    Ok(PyStepsTable(StepsTable::of_frame(&frame_from(table)?, source)))
}

#[pyfunction]
fn with_plants(
    py: Python<'_>,
    counts: &Bound<'_, PyStepsTable>,
    plants: &Bound<'_, PyStepsTable>,
    options: &Bound<'_, PyAny>,
) -> PyResult<PySteps> {
    let options: StepsOptions = from_python(options)?;
    let (counts, plants) = (&counts.get().0, &plants.get().0);
    quietly(py, || steps::read_with_plants(counts, plants, &options)).map(PySteps)
}

#[pyfunction]
fn yield_change(py: Python<'_>, before: Vec<(String, f64)>, after: Vec<(String, f64)>) -> PyResult<Bound<'_, PyAny>> {
    to_python(py, &steps::yield_change(&before, &after)?)
}

#[pyfunction]
fn agreement<'py>(
    py: Python<'py>,
    trays: Vec<Vec<Vec<u64>>>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: AgreementOptions = from_python(options)?;
    to_python(py, &steps::agreement(&trays, &options)?)
}

/// With the sign rooted and failed, without it rooted and failed, unread with and without, of each tray.
#[pyfunction]
fn early_sign<'py>(py: Python<'py>, trays: Vec<[u64; 6]>, options: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let options: SignOptions = from_python(options)?;
    let counts = |[a, b, c, d, u, v]: [u64; 6]| SignCounts {
        with_rooted: a,
        with_failed: b,
        without_rooted: c,
        without_failed: d,
        with_unread: u,
        without_unread: v,
    };
    let trays: Vec<SignCounts> = trays.into_iter().map(counts).collect();
    to_python(py, &steps::early_sign(&trays, &options)?)
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<PySteps>()?;
    module.add_function(wrap_pyfunction!(read_csv, module)?)?;
    module.add_function(wrap_pyfunction!(read_cells, module)?)?;
    module.add_function(wrap_pyfunction!(from_stream, module)?)?;
    module.add_class::<PyStepsTable>()?;
    module.add_function(wrap_pyfunction!(table_of_csv, module)?)?;
    module.add_function(wrap_pyfunction!(table_of_cells, module)?)?;
    module.add_function(wrap_pyfunction!(table_of_stream, module)?)?;
    module.add_function(wrap_pyfunction!(with_plants, module)?)?;
    module.add_function(wrap_pyfunction!(yield_change, module)?)?;
    module.add_function(wrap_pyfunction!(agreement, module)?)?;
    module.add_function(wrap_pyfunction!(early_sign, module)?)?;
    super::steps_time::register(module)
}
