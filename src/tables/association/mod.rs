//! Is a treatment associated with rooting at all? Tests on trays where they are recorded, chi-square tests on cuttings.

mod tray_tests;
mod trial;
mod words;

pub use trial::{Association, AssociationOptions, AssociationTest, association};

pub(super) use tray_tests::told;
