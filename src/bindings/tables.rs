//! Tables of counts.

use pyo3::prelude::*;

use super::convert::{Level, Name, from_python, to_python};
use super::run::{detached, quietly, telling};
use super::trial::PyTrial;
use crate::tables::{self, ContingencyTable, ExactOptions, Strata};

#[pyfunction]
fn chi_square<'py>(py: Python<'py>, table: Vec<Vec<u64>>) -> PyResult<Bound<'py, PyAny>> {
    let table = ContingencyTable::new(table)?;
    let found = tables::chi_square(&table)?;
    to_python(py, &tables::chi_square_answer(&table, found)?)
}

#[pyfunction]
fn fisher<'py>(py: Python<'py>, table: Vec<Vec<u64>>) -> PyResult<Bound<'py, PyAny>> {
    let table = ContingencyTable::new(table)?;
    let found = quietly(py, || tables::fisher(&table))?;
    to_python(py, &tables::fisher_answer(&table, found)?)
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
    let found = telling(py, progress.as_ref(), |control| tables::freeman_halton(&table, options, control))?;
    to_python(py, &tables::freeman_halton_answer(&table, found)?)
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
    let found = detached(py, |control| tables::trend(&rooted, &stuck, &scores, options, control))?;
    to_python(py, &tables::trend_answer(found))
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
        detached(py, |control| tables::linear_by_linear(&table, &row_scores, &column_scores, options, control))?;
    to_python(py, &tables::linear_by_linear_answer(found))
}

#[pyfunction]
fn stratified<'py>(
    py: Python<'py>,
    strata: Vec<Vec<Vec<u64>>>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let (strata, options): (_, tables::StratifiedOptions) = (Strata::new(strata)?, from_python(options)?);
    let found = detached(py, |control| tables::stratified(&strata, &options, control))?;
    to_python(py, &tables::stratified_answer(found))
}

#[pyfunction]
fn unconditional<'py>(
    py: Python<'py>,
    table: Vec<Vec<u64>>,
    method: Name,
    level: Level,
) -> PyResult<Bound<'py, PyAny>> {
    let (table, order) = (ContingencyTable::new(table)?, method.0.parse()?);
    to_python(py, &detached(py, |control| tables::unconditional(&table, order, level.0, control))?)
}

#[pyfunction]
fn paired<'py>(py: Python<'py>, table: Vec<Vec<u64>>, method: Name, level: Level) -> PyResult<Bound<'py, PyAny>> {
    to_python(py, &tables::paired(tables::pairs(&table)?, method.0.parse()?, level.0)?)
}

#[pyfunction]
fn three_way<'py>(py: Python<'py>, table: [[[u64; 2]; 2]; 2]) -> PyResult<Bound<'py, PyAny>> {
    to_python(py, &tables::three_way_answer(tables::three_way(&table)?))
}

#[pyfunction]
fn association<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let mut options: tables::AssociationOptions = from_python(options)?;
    options.spoken = Some(trial.0.options().spoken(factor));
    trial.answer_of(py, options.outcome, |units, outcome, control| {
        let options = tables::AssociationOptions { outcome, ..options.clone() };
        tables::association(units, factor, &options, control)
    })
}

#[pyfunction]
fn trial_trend<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let mut options: tables::TrialTrendOptions = from_python(options)?;
    options.spoken = Some(trial.0.options().spoken(factor));
    trial.answer_of(py, options.outcome, |units, outcome, control| {
        let options = tables::TrialTrendOptions { outcome, ..options.clone() };
        tables::trial_trend(units, factor, &options, control)
    })
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
