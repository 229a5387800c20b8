//! Seasons pooled.

use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use super::run::detached;
use super::trial::PyTrial;
use crate::answer::Answer;
use crate::compare::Comparison;
use crate::seasons::{self, PoolOptions, Season};
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

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(pool, module)?)
}
