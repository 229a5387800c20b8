//! Is a treatment associated with rooting at all? Tests on trays where they are recorded, chi-square tests on cuttings.

mod numbers;
mod tray_tests;
mod trial;
mod words;

pub use numbers::{Association, AssociationMethod, AssociationOptions, AssociationTest};
pub use trial::association;

pub(super) use tray_tests::told;
