//! Contrasts of adjusted rates: estimates, simultaneous limits and adjusted P values.

mod answer;
mod constrained;
mod family;
mod figures;
mod goal;
mod likelihood;
mod options;
mod profile;
mod solve;

pub(crate) use figures::{Asked, ask};
pub use figures::{Contrast, Contrasts, contrasts};
pub use goal::Scale;
pub use options::{Adjust, ContrastOptions, Kind};
