//! The only place that takes Python containers apart: options come in as dictionaries, counts, levels and names one by one.

use numpy::PyReadonlyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDict, PyInt};
use pythonize::depythonize;
use serde::de::DeserializeOwned;

use super::errors::{CountError, not_understood};
use crate::Count;
use crate::answer::Note;
use crate::choice::with_unknown;
use crate::trial::Lines;

/// Options from a dictionary.
pub(super) fn from_python<T: DeserializeOwned>(options: &Bound<'_, PyAny>) -> PyResult<T> {
    check_numbers(options)?;
    let (read, unknown) = with_unknown(|| depythonize(options));
    read.map_err(|error| not_understood(&error, unknown))
}

/// Options that are whole numbers.
const WHOLE: [&str; 4] = ["draws", "randomisations", "seed", "work"];

/// Options that are options themselves; other dictionaries have names of the user's own.
const NESTED: [&str; 2] = ["compare", "exact"];

/// Names the option that is no number where one belongs, also in options within.
fn check_numbers(options: &Bound<'_, PyAny>) -> PyResult<()> {
    let Ok(given) = options.cast::<PyDict>() else { return Ok(()) };
    for (name, value) in given {
        let name = name.extract::<String>().unwrap_or_default();
        if name == "confidence" {
            value.extract::<Confidence>()?;
        } else if WHOLE.contains(&name.as_str()) && value.extract::<u64>().is_err() {
            let shown = shown(value.as_borrowed());
            let large = value.is_instance_of::<PyInt>() && value.gt(0)?;
            let what = if large {
                format!("is above {}, the largest taken; give a smaller one, for example 1", u64::MAX)
            } else {
                "is not a whole number of 0 or more; correct it".to_owned()
            };
            return Err(CountError::new_err(format!("{name} {shown} {what}")));
        }
        if NESTED.contains(&name.as_str()) {
            check_numbers(&value)?;
        }
    }
    Ok(())
}

/// A whole number of cuttings, 0 or more.
pub(super) struct Whole(pub(super) u64);

impl<'py> FromPyObject<'_, 'py> for Whole {
    type Error = PyErr;

    fn extract(given: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        if let (false, Ok(value)) = (given.is_instance_of::<PyBool>(), given.extract::<u64>()) {
            return Ok(Self(value));
        }
        if let (false, Ok(value)) = (given.is_instance_of::<PyBool>(), given.extract::<u128>()) {
            let value = u64::try_from(value).unwrap_or(u64::MAX);
            return Err(crate::Error::from(crate::error::CountError::TooLarge { value }).into());
        }
        let shown = shown(given);
        Err(CountError::new_err(format!("count {shown} is not a whole number of cuttings, 0 or more; correct it")))
    }
}

/// A confidence level; whether it lies between 0 and 1 is for the core to say.
pub(super) struct Confidence(pub(super) f64);

impl<'py> FromPyObject<'_, 'py> for Confidence {
    type Error = PyErr;

    fn extract(given: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        given.extract::<f64>().map(Self).map_err(|_| {
            let shown = shown(given);
            CountError::new_err(format!(
                "confidence {shown} is not a number; give it as a proportion, for example 0.95"
            ))
        })
    }
}

/// A margin; whether it can be one is for the core to say.
pub(super) struct Margin(pub(super) f64);

impl<'py> FromPyObject<'_, 'py> for Margin {
    type Error = PyErr;

    fn extract(given: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        given.extract::<f64>().map(Self).map_err(|_| {
            let shown = shown(given);
            CountError::new_err(format!(
                "margin {shown} is not a number; give it as a proportion, for example 0.1 for 10 trees per 100"
            ))
        })
    }
}

/// The name of a method; anything that is no text is looked up by what it shows, so that the core can list what is known.
pub(super) struct Name(pub(super) String);

impl<'py> FromPyObject<'_, 'py> for Name {
    type Error = PyErr;

    fn extract(given: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        Ok(Self(given.extract::<String>().unwrap_or_else(|_| shown(given))))
    }
}

fn shown(given: Borrowed<'_, '_, PyAny>) -> String {
    given.str().map_or_else(|_| "?".to_owned(), |text| text.to_string())
}

/// The cells of a sheet with their row numbers, and what whoever read it found.
pub(super) fn sheet_of(cells: Vec<Vec<Option<String>>>, notes: Vec<(String, String)>) -> (Lines, Vec<Note>) {
    let numbers = (1..=cells.len() as u64).collect();
    let cells = cells.into_iter().map(|line| line.into_iter().map(Option::unwrap_or_default).collect()).collect();
    let notes = notes.into_iter().map(|(code, text)| Note::new(&code, text)).collect();
    (Lines { cells, numbers }, notes)
}

/// Rooted and stuck of one group, checked by the core.
pub(super) fn count(rooted: &Whole, stuck: &Whole) -> PyResult<Count> {
    Ok(Count::new(rooted.0, stuck.0)?)
}

/// Counts of 0 or more; each bit pattern of an `i64` that is not negative is that of the same `u64`.
pub(super) fn whole_numbers(given: &PyReadonlyArray1<'_, i64>) -> PyResult<Vec<u64>> {
    let given = given.as_array();
    if let Some(at) = given.iter().position(|value| *value < 0) {
        let value = given.get(at).copied().unwrap_or_default();
        let place = at + 1;
        return Err(CountError::new_err(format!("entry {place}: count {value} is negative; a count is 0 or more")));
    }
    Ok(given.iter().map(|value| value.unsigned_abs()).collect())
}
