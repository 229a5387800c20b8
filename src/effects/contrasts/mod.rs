//! Contrasts of adjusted rates: estimates, simultaneous limits and adjusted P values.

mod answer;
mod asked;
mod ball;
mod constrained;
mod family;
mod figures;
mod goal;
mod judge;
mod likelihood;
mod numbers;
mod options;
mod profile;
mod solve;

pub(crate) use asked::Asked;
pub(crate) use family::along_a_line;
pub(crate) use figures::ask;
pub(super) use figures::contrasts;
pub use goal::Scale;
pub(crate) use judge::Judge;
pub use numbers::{Contrast, Contrasts};
pub use options::{Adjust, ContrastOptions, Pattern};
pub(crate) use profile::Profile;

pub(crate) fn unsettled() -> crate::Error {
    crate::error::ModelError::NotFitted {
        reason: "a fit with a contrast held did not settle".to_owned(),
        try_next: "compare fewer levels, join levels with few cuttings or fit fewer effects".to_owned(),
    }
    .into()
}
