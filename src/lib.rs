//! Statistics for rooting trials: counts of rooted cuttings per tray go in, checked and calibrated answers come out.
//!
//! The layers, from the ground up: [`math`] (slices and numbers), [`trial`] and [`units`] (checked data),
//! the methods ([`rates`], [`compare`], [`tables`], [`models`], [`effects`],
//! [`curves`], [`prediction`], [`checks`], [`model_tests`]) and [`report`] (words and tables).

pub mod answer;
pub mod checks;
pub mod compare;
pub mod control;
pub mod counts;
pub mod curves;
pub mod effects;
pub mod error;
pub mod estimate;
pub mod layers;
pub mod math;
pub mod model_tests;
pub mod models;
pub mod prediction;
pub mod rates;
pub mod report;
pub mod simulate;
pub mod tables;
pub mod trial;
pub mod units;

#[cfg(feature = "python")]
mod bindings;

pub use answer::{Answer, Note, Sheet};
pub use error::{Error, Result};
pub use estimate::{Count, Estimate};
