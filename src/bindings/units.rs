//! Hormone strengths.

use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use crate::units::{self, Strength, StrengthRecord, Substance};

fn strength_of(record: &Bound<'_, PyAny>) -> PyResult<Strength> {
    let record: StrengthRecord = from_python(record)?;
    Ok(Strength::try_from(record)?)
}

#[pyfunction]
fn check(strength: &Bound<'_, PyAny>) -> PyResult<()> {
    strength_of(strength).map(drop)
}

#[pyfunction]
fn convert(value: f64, strength: &Bound<'_, PyAny>, unit: &str) -> PyResult<f64> {
    Ok(units::convert(value, &strength_of(strength)?, unit.parse()?)?)
}

#[pyfunction]
fn equivalent(value: f64, strength: &Bound<'_, PyAny>, substance: &str) -> PyResult<f64> {
    Ok(units::equivalent(value, &strength_of(strength)?, &Substance::named(substance, None)?)?)
}

#[pyfunction]
fn parse(text: &str) -> PyResult<(f64, String)> {
    let (value, unit) = units::parse(text)?;
    Ok((value, unit.to_string()))
}

#[pyfunction]
fn plausibility<'py>(py: Python<'py>, value: f64, strength: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    to_python(py, &units::plausibility(value, &strength_of(strength)?))
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(check, module)?)?;
    module.add_function(wrap_pyfunction!(convert, module)?)?;
    module.add_function(wrap_pyfunction!(equivalent, module)?)?;
    module.add_function(wrap_pyfunction!(parse, module)?)?;
    module.add_function(wrap_pyfunction!(plausibility, module)?)
}
