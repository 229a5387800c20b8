//! Two rates compared.

use std::sync::Arc;

use pyo3::prelude::*;

use super::convert::{Confidence, Margin, Name, Whole, count, from_python};
use super::records::to_python;
use super::run::{detached, telling};
use super::trial::PyTrial;
use crate::Count;
use crate::control::Control;
use crate::{compare, counts, effects};

/// Both groups as `(rooted, stuck, rooted, stuck)`.
type Four = (Whole, Whole, Whole, Whole);

fn groups(four: &Four) -> PyResult<(Count, Count)> {
    Ok((count(&four.0, &four.1)?, count(&four.2, &four.3)?))
}

#[pyfunction]
fn difference(py: Python<'_>, counts: Four, method: Name, confidence: Confidence) -> PyResult<Bound<'_, PyAny>> {
    let ((first, second), method) = (groups(&counts)?, method.0.parse()?);
    let found = match method {
        counts::DifferenceMethod::Exact => {
            detached(py, |control| counts::difference_until(first, second, method, confidence.0, control))?
        }
        _ => counts::difference(first, second, method, confidence.0)?,
    };
    to_python(py, &counts::difference_answer(first, second, found))
}

#[pyfunction]
fn ratio(py: Python<'_>, counts: Four, method: Name, confidence: Confidence) -> PyResult<Bound<'_, PyAny>> {
    let (first, second) = groups(&counts)?;
    let found = counts::ratio(first, second, method.0.parse()?, confidence.0)?;
    to_python(py, &counts::ratio_answer(first, second, found))
}

#[pyfunction]
fn odds_ratio(py: Python<'_>, counts: Four, method: Name, confidence: Confidence) -> PyResult<Bound<'_, PyAny>> {
    let ((first, second), method) = (groups(&counts)?, method.0.parse()?);
    let found = detached(py, |_| counts::odds_ratio(first, second, method, confidence.0))?;
    to_python(py, &counts::odds_ratio_answer(first, second, found))
}

#[pyfunction]
fn score_test(py: Python<'_>, counts: Four) -> PyResult<Bound<'_, PyAny>> {
    let (first, second) = groups(&counts)?;
    to_python(py, &counts::equality_answer(first, second, counts::score_test(first, second)?))
}

#[pyfunction]
fn likelihood_ratio_test(py: Python<'_>, counts: Four) -> PyResult<Bound<'_, PyAny>> {
    let (first, second) = groups(&counts)?;
    to_python(py, &counts::equality_answer(first, second, counts::likelihood_ratio_test(first, second)?))
}

#[pyfunction]
fn equivalence(
    py: Python<'_>,
    counts: Four,
    margin: Margin,
    claim: Name,
    method: Name,
    confidence: Confidence,
) -> PyResult<Bound<'_, PyAny>> {
    let (first, second) = groups(&counts)?;
    let options = compare::EquivalenceOptions {
        margin: margin.0,
        claim: claim.0.parse()?,
        method: method.0.parse()?,
        confidence: confidence.0,
    };
    to_python(py, &detached(py, |control| compare::equivalence(first, second, &options, control))?)
}

#[pyfunction]
#[pyo3(signature = (trial, factor, first, second, options, progress = None))]
fn strengths<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    first: &str,
    second: &str,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: compare::CompareOptions = from_python(options)?;
    let ask = |control: &Arc<Control>| trial.0.compare(factor, (first, second), &options, control);
    to_python(py, &telling(py, progress.as_ref(), ask)?)
}

#[pyfunction]
#[pyo3(signature = (trial, factor, options, progress = None))]
fn all_levels<'py>(
    py: Python<'py>,
    trial: &PyTrial,
    factor: &str,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: compare::AllOptions = from_python(options)?;
    let ask = |control: &Arc<Control>| trial.0.compare_all(factor, &options, control);
    to_python(py, &telling(py, progress.as_ref(), ask)?)
}

#[pyfunction]
#[pyo3(signature = (first, second, options, progress = None))]
fn randomisation<'py>(
    py: Python<'py>,
    first: Vec<f64>,
    second: Vec<f64>,
    options: &Bound<'py, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: compare::RandomisationOptions = from_python(options)?;
    let work = |control: &Arc<Control>| compare::randomisation(&first, &second, &options, control);
    to_python(py, &telling(py, progress.as_ref(), work)?)
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
    module.add_function(wrap_pyfunction!(equivalence, module)?)?;
    module.add_function(wrap_pyfunction!(strengths, module)?)?;
    module.add_function(wrap_pyfunction!(all_levels, module)?)?;
    module.add_function(wrap_pyfunction!(randomisation, module)?)?;
    module.add_function(wrap_pyfunction!(adjusted_p, module)?)
}
