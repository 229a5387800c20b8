//! Records go over to Python as dictionaries, lists and plain values.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList, PyMapping};
use pythonize::{PythonizeMappingType, PythonizeTypes, PythonizeUnnamedMappingAdapter, pythonize_custom};
use serde::Serialize;

/// A record as dictionaries, lists and plain values.
pub(super) fn to_python<'py, T: Serialize>(py: Python<'py>, record: &T) -> PyResult<Bound<'py, PyAny>> {
    Ok(pythonize_custom::<Watched, T>(py, record)?)
}

/// Dictionaries and lists; Ctrl-C is looked for once in very many of them.
struct Watched;

/// A dictionary, plain.
struct WatchedDict;

/// Dictionaries between two looks.
const LOOK_EVERY: u32 = 4096;

thread_local! {
    static MADE: std::cell::Cell<u32> = const { std::cell::Cell::new(0) };
}

impl PythonizeTypes for Watched {
    type Map = WatchedDict;
    type NamedMap = PythonizeUnnamedMappingAdapter<WatchedDict>;
    type List = PyList;
}

impl PythonizeMappingType for WatchedDict {
    type Builder<'py> = Bound<'py, PyDict>;

    fn builder(py: Python<'_>, _len: Option<usize>) -> PyResult<Self::Builder<'_>> {
        let made = MADE.get().wrapping_add(1);
        MADE.set(made);
        if made.is_multiple_of(LOOK_EVERY) {
            py.check_signals()?;
        }
        Ok(PyDict::new(py))
    }

    fn push_item<'py>(
        builder: &mut Self::Builder<'py>,
        key: Bound<'py, PyAny>,
        value: Bound<'py, PyAny>,
    ) -> PyResult<()> {
        builder.set_item(key, value)
    }

    fn finish(builder: Self::Builder<'_>) -> PyResult<Bound<'_, PyMapping>> {
        Ok(builder.into_mapping())
    }
}
