//! How the crate's errors reach Python: the only conversion, in one match.

use pyo3::exceptions::PyKeyboardInterrupt;
use pyo3::prelude::*;

use crate::error::Error;
use crate::error::Issue;

pyo3::import_exception!(rootling.exceptions, RootlingError);
pyo3::import_exception!(rootling.exceptions, TrialDataError);
pyo3::import_exception!(rootling.exceptions, ChoiceError);
pyo3::import_exception!(rootling.exceptions, CountError);
pyo3::import_exception!(rootling.exceptions, CurveError);
pyo3::import_exception!(rootling.exceptions, ModelError);
pyo3::import_exception!(rootling.exceptions, StrengthError);
pyo3::import_exception!(rootling.exceptions, NumericError);

impl From<Error> for PyErr {
    fn from(error: Error) -> Self {
        let message = error.to_string();
        match error {
            Error::Count(_) | Error::Steps(_) => CountError::new_err(message),
            Error::Choice(_)
            | Error::Decide(_)
            | Error::Effect(_)
            | Error::Grade(_)
            | Error::Layout(_)
            | Error::Plan(_)
            | Error::Response(_)
            | Error::Seasons(_)
            | Error::Watch(_) => ChoiceError::new_err(message),
            Error::Dose(_) => CurveError::new_err(message),
            Error::Model(_) => ModelError::new_err(message),
            Error::Strength(_) => StrengthError::new_err(message),
            Error::Numeric(_) => NumericError::new_err(message),
            Error::Interrupted => PyKeyboardInterrupt::new_err(message),
            Error::Data(data) => with_issues(message, &data.issues),
            Error::Record(record) => with_issues(message, &record.issues),
            Error::Rows(rows) => with_issues(message, &rows.issues),
        }
    }
}

fn with_issues(message: String, issues: &[Issue]) -> PyErr {
    Python::attach(|py| match super::records::to_python(py, &issues) {
        Ok(issues) => TrialDataError::new_err((message, issues.unbind())),
        Err(fault) => fault,
    })
}

/// An option that Python passed and the core does not understand; of a name that is not known its own error.
pub(super) fn not_understood(error: &pythonize::PythonizeError, unknown: Option<Error>) -> PyErr {
    unknown.map_or_else(|| ChoiceError::new_err(format!("an option was not understood: {error}")), PyErr::from)
}

/// A fault of the package itself: never expected, but never a crash of the user's session.
pub(super) fn internal() -> PyErr {
    RootlingError::new_err(
        "a fault inside rootling stopped this analysis; no result was kept. Please report it with the data that led to it",
    )
}
