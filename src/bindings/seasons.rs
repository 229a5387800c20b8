//! Seasons pooled.

use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use super::run::detached;
use super::trial::PyTrial;
use crate::answer::Answer;
use crate::compare::Comparison;
use crate::curves::StrengthCurve;
use crate::seasons::{self, BestOptions, CurveSeason, PoolOptions, Season};
use crate::trial::Trial;

/// What is given of a season: its trial, or what that answered.
enum Held<'py> {
    Trial(&'py Trial),
    Compared(Box<Answer<Comparison>>),
}

#[pyfunction]
fn pool<'py>(
    py: Python<'py>,
    given: Vec<(Option<String>, Bound<'py, PyAny>)>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: PoolOptions = from_python(options)?;
    let held = given.iter().map(|(name, one)| Ok((name.as_deref(), held(one)?)));
    let held = held.collect::<PyResult<Vec<_>>>()?;
    let all: Vec<Season<'_>> = held.iter().map(|(name, one)| season(*name, one)).collect();
    to_python(py, &detached(py, |control| seasons::pool(&all, &options, control))?)
}

fn held<'a>(given: &'a Bound<'_, PyAny>) -> PyResult<Held<'a>> {
    match given.cast::<PyTrial>() {
        Ok(trial) => Ok(Held::Trial(&trial.get().0)),
        Err(_) => Ok(Held::Compared(Box::new(from_python(given)?))),
    }
}

fn season<'a>(name: Option<&str>, held: &'a Held<'_>) -> Season<'a> {
    let season = match held {
        Held::Trial(trial) => Season::of_trial(trial),
        Held::Compared(found) => Season::of_comparison(found),
    };
    match name {
        Some(name) => season.named(name),
        None => season,
    }
}

/// The best strength over seasons, from trials or from what their curves answered.
#[pyfunction]
fn pool_curves<'py>(
    py: Python<'py>,
    given: Vec<(Option<String>, Bound<'py, PyAny>)>,
    options: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let options: BestOptions = from_python(options)?;
    let held = given.iter().map(|(name, one)| Ok((name.as_deref(), curve_held(one)?)));
    let held = held.collect::<PyResult<Vec<_>>>()?;
    let all: Vec<CurveSeason<'_>> = held
        .iter()
        .map(|(name, one)| match one {
            CurveHeld::Trial(trial) => CurveSeason::Trial(*name, trial),
            CurveHeld::Curve(found) => CurveSeason::Curve(*name, found),
        })
        .collect();
    to_python(py, &detached(py, |control| seasons::pool_curves(&all, &options, control))?)
}

/// What is given of a season: its trial, or the curve that answered.
enum CurveHeld<'py> {
    Trial(&'py Trial),
    Curve(Box<Answer<StrengthCurve>>),
}

fn curve_held<'a>(given: &'a Bound<'_, PyAny>) -> PyResult<CurveHeld<'a>> {
    match given.cast::<PyTrial>() {
        Ok(trial) => Ok(CurveHeld::Trial(&trial.get().0)),
        Err(_) => Ok(CurveHeld::Curve(Box::new(from_python(given)?))),
    }
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(pool_curves, module)?)?;
    module.add_function(wrap_pyfunction!(pool, module)?)
}
