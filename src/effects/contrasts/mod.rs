//! Contrasts of adjusted rates: estimates, simultaneous limits and adjusted P values.

mod answer;
mod ball;
mod constrained;
mod family;
mod figures;
mod goal;
mod judge;
mod likelihood;
mod options;
mod profile;
mod solve;

pub(crate) use figures::{Asked, ask};
pub use figures::{Contrast, Contrasts, contrasts};
pub use goal::Scale;
pub(crate) use judge::{Judge, by_score};
pub use options::{Adjust, ContrastOptions, Pattern};
pub(crate) use profile::Profile;

pub(crate) fn unsettled() -> crate::Error {
    crate::error::ModelError::NotFitted {
        reason: "a fit with a contrast held did not settle".to_owned(),
        try_next: "compare fewer levels, join levels with few cuttings or fit fewer effects".to_owned(),
    }
    .into()
}
