//! Tables of counts.

use pyo3::prelude::*;

use super::convert::{Confidence, Name, from_python};
use super::records::to_python;
use super::run::{detached, quietly, telling};
use super::trial::PyTrial;
use crate::counts;
use crate::counts::{ContingencyTable, ExactOptions, Strata};
use crate::tables;

#[pyfunction]
fn chi_square(py: Python<'_>, table: Vec<Vec<u64>>) -> PyResult<Bound<'_, PyAny>> {
    let table = ContingencyTable::new(table)?;
    let found = counts::chi_square(&table)?;
    to_python(py, &counts::chi_square_answer(&table, found)?)
}

#[pyfunction]
fn fisher(py: Python<'_>, table: Vec<Vec<u64>>) -> PyResult<Bound<'_, PyAny>> {
    let table = ContingencyTable::new(table)?;
    let found = quietly(py, || counts::fisher(&table))?;
    to_python(py, &counts::fisher_answer(&table, found)?)
}

#[pyfunction]
#[pyo3(signature = (table, options, progress = None))]
fn freeman_halton<'py>(
    py: Python<'py>,
    table: Vec<Vec<u64>>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let (table, options): (_, ExactOptions) = (ContingencyTable::new(table)?, from_python(options)?);
    let found = telling(py, progress.as_ref(), |control| counts::freeman_halton(&table, options, control))?;
    to_python(py, &counts::freeman_halton_answer(&table, found)?)
}

#[pyfunction]
fn trend<'py>(
    py: Python<'py>,
    rooted: Vec<u64>,
    stuck: Vec<u64>,
    scores: Vec<f64>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: ExactOptions = from_python(options)?;
    let found = detached(py, |control| counts::trend(&rooted, &stuck, &scores, options, control))?;
    to_python(py, &counts::trend_answer(found))
}

#[pyfunction]
fn linear_by_linear<'py>(
    py: Python<'py>,
    table: Vec<Vec<u64>>,
    row_scores: Vec<f64>,
    column_scores: Vec<f64>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let (table, options): (_, ExactOptions) = (ContingencyTable::new(table)?, from_python(options)?);
    let found =
        detached(py, |control| counts::linear_by_linear(&table, &row_scores, &column_scores, options, control))?;
    to_python(py, &counts::linear_by_linear_answer(found))
}

#[pyfunction]
fn stratified<'py>(
    py: Python<'py>,
    strata: Vec<Vec<Vec<u64>>>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let (strata, options): (_, counts::StratifiedOptions) = (Strata::new(strata)?, from_python(options)?);
    let found = detached(py, |control| counts::stratified(&strata, &options, control))?;
    to_python(py, &counts::stratified_answer(found))
}

#[pyfunction]
fn unconditional(
    py: Python<'_>,
    table: Vec<Vec<u64>>,
    method: Name,
    confidence: Confidence,
) -> PyResult<Bound<'_, PyAny>> {
    let (table, order) = (ContingencyTable::new(table)?, method.0.parse()?);
    to_python(py, &detached(py, |control| counts::unconditional(&table, order, confidence.0, control))?)
}

#[pyfunction]
fn paired(py: Python<'_>, table: Vec<Vec<u64>>, method: Name, confidence: Confidence) -> PyResult<Bound<'_, PyAny>> {
    to_python(py, &counts::paired(counts::pairs(&table)?, method.0.parse()?, confidence.0)?)
}

#[pyfunction]
fn three_way(py: Python<'_>, table: [[[u64; 2]; 2]; 2]) -> PyResult<Bound<'_, PyAny>> {
    to_python(py, &counts::three_way_answer(counts::three_way(&table)?))
}

#[pyfunction]
fn association<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: tables::AssociationOptions = from_python(options)?;
    trial.asked(py, |trial, control| trial.association(factor, &options, control))
}

#[pyfunction]
fn trial_trend<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: tables::TrialTrendOptions = from_python(options)?;
    trial.asked(py, |trial, control| trial.trend(factor, &options, control))
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(chi_square, module)?)?;
    module.add_function(wrap_pyfunction!(fisher, module)?)?;
    module.add_function(wrap_pyfunction!(unconditional, module)?)?;
    module.add_function(wrap_pyfunction!(paired, module)?)?;
    module.add_function(wrap_pyfunction!(three_way, module)?)?;
    module.add_function(wrap_pyfunction!(freeman_halton, module)?)?;
    module.add_function(wrap_pyfunction!(trend, module)?)?;
    module.add_function(wrap_pyfunction!(linear_by_linear, module)?)?;
    module.add_function(wrap_pyfunction!(stratified, module)?)?;
    module.add_function(wrap_pyfunction!(association, module)?)?;
    module.add_function(wrap_pyfunction!(trial_trend, module)?)
}
