//! Two rates compared.

use pyo3::prelude::*;

use super::convert::{Level, Name, Whole, count, from_python, to_python};
use super::run::detached;
use super::trial::PyTrial;
use crate::compare;

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

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(difference, module)?)?;
    module.add_function(wrap_pyfunction!(ratio, module)?)?;
    module.add_function(wrap_pyfunction!(odds_ratio, module)?)?;
    module.add_function(wrap_pyfunction!(score_test, module)?)?;
    module.add_function(wrap_pyfunction!(likelihood_ratio_test, module)?)?;
    module.add_function(wrap_pyfunction!(strengths, module)?)
}
