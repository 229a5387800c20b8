//! The chain of steps, readers and early signs.

use pyo3::prelude::*;

use super::convert::from_python;
use super::records::to_python;
use crate::steps::{self, AgreementOptions, SignCounts, SignOptions};

#[pyfunction]
fn yield_change<'py>(
    py: Python<'py>,
    before: Vec<(String, f64)>,
    after: Vec<(String, f64)>,
) -> PyResult<Bound<'py, PyAny>> {
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
    module.add_function(wrap_pyfunction!(yield_change, module)?)?;
    module.add_function(wrap_pyfunction!(agreement, module)?)?;
    module.add_function(wrap_pyfunction!(early_sign, module)?)
}
