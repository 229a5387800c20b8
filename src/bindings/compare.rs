//! Two rates compared.

use pyo3::prelude::*;

use super::convert::{Level, Name, Whole, count, from_python, to_python};
use super::run::detached;
use super::trial::PyTrial;
use crate::{compare, effects};

#[pyfunction]
#[pyo3(signature = (rooted_1, stuck_1, rooted_2, stuck_2, method, level))]
fn difference<'py>(
    py: Python<'py>,
    rooted_1: Whole,
    stuck_1: Whole,
    rooted_2: Whole,
    stuck_2: Whole,
    method: Name,
    level: Level,
) -> PyResult<Bound<'py, PyAny>> {
    to_python(
        py,
        &compare::difference(count(&rooted_1, &stuck_1)?, count(&rooted_2, &stuck_2)?, method.0.parse()?, level.0)?,
    )
}

#[pyfunction]
fn ratio<'py>(
    py: Python<'py>,
    rooted_1: Whole,
    stuck_1: Whole,
    rooted_2: Whole,
    stuck_2: Whole,
    method: Name,
    level: Level,
) -> PyResult<Bound<'py, PyAny>> {
    to_python(
        py,
        &compare::ratio(count(&rooted_1, &stuck_1)?, count(&rooted_2, &stuck_2)?, method.0.parse()?, level.0)?,
    )
}

#[pyfunction]
fn odds_ratio<'py>(
    py: Python<'py>,
    rooted_1: Whole,
    stuck_1: Whole,
    rooted_2: Whole,
    stuck_2: Whole,
    method: Name,
    level: Level,
) -> PyResult<Bound<'py, PyAny>> {
    to_python(
        py,
        &compare::odds_ratio(count(&rooted_1, &stuck_1)?, count(&rooted_2, &stuck_2)?, method.0.parse()?, level.0)?,
    )
}

#[pyfunction]
fn score_test<'py>(
    py: Python<'py>,
    rooted_1: Whole,
    stuck_1: Whole,
    rooted_2: Whole,
    stuck_2: Whole,
) -> PyResult<Bound<'py, PyAny>> {
    to_python(py, &compare::score_test(count(&rooted_1, &stuck_1)?, count(&rooted_2, &stuck_2)?)?)
}

#[pyfunction]
fn likelihood_ratio_test<'py>(
    py: Python<'py>,
    rooted_1: Whole,
    stuck_1: Whole,
    rooted_2: Whole,
    stuck_2: Whole,
) -> PyResult<Bound<'py, PyAny>> {
    to_python(py, &compare::likelihood_ratio_test(count(&rooted_1, &stuck_1)?, count(&rooted_2, &stuck_2)?)?)
}

#[pyfunction]
fn strengths<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    first: &str,
    second: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let mut options: compare::CompareOptions = from_python(options)?;
    options.chemical = trial.0.options().strength_treatment() == Some(factor);
    let mut answer =
        detached(py, |control| compare::strengths(trial.0.units(), factor, first, second, &options, control))?;
    answer.provenance.data_fingerprint = Some(trial.0.fingerprint().to_owned());
    to_python(py, &answer)
}

#[pyfunction]
fn all_levels<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let mut options: compare::AllOptions = from_python(options)?;
    options.compare.chemical = trial.0.options().strength_treatment() == Some(factor);
    let mut answer = detached(py, |control| compare::all_levels(trial.0.units(), factor, &options, control))?;
    answer.provenance.data_fingerprint = Some(trial.0.fingerprint().to_owned());
    to_python(py, &answer)
}

#[pyfunction]
fn randomisation<'py>(
    py: Python<'py>,
    first: Vec<f64>,
    second: Vec<f64>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: compare::RandomisationOptions = from_python(options)?;
    to_python(py, &detached(py, |control| compare::randomisation(&first, &second, &options, control))?)
}

#[pyfunction]
fn adjusted_p(py: Python<'_>, p_values: Vec<f64>, method: &str) -> PyResult<Vec<f64>> {
    let method: effects::Adjustment = method.parse()?;
    detached(py, |control| effects::adjusted_p(&p_values, method, control))
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(difference, module)?)?;
    module.add_function(wrap_pyfunction!(ratio, module)?)?;
    module.add_function(wrap_pyfunction!(odds_ratio, module)?)?;
    module.add_function(wrap_pyfunction!(score_test, module)?)?;
    module.add_function(wrap_pyfunction!(likelihood_ratio_test, module)?)?;
    module.add_function(wrap_pyfunction!(strengths, module)?)?;
    module.add_function(wrap_pyfunction!(all_levels, module)?)?;
    module.add_function(wrap_pyfunction!(randomisation, module)?)?;
    module.add_function(wrap_pyfunction!(adjusted_p, module)?)
}
