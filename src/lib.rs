//! Statistics for rooting trials: counts of rooted cuttings per tray go in, checked and calibrated answers come out.
//!
//! From a table of counts to a sentence:
//!
//! ```
//! use rootling::prelude::*;
//!
//! # fn main() -> rootling::Result<()> {
//! let csv = b"strength,tray,rooted,stuck\n2500,a,6,20\n2500,b,8,20\n2500,c,9,20\n5000,d,13,20\n5000,e,15,20\n5000,f,12,20\n";
//! let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
//! let trial = read_csv(csv, &options)?;
//! let found = trial.compare("strength", ("2500", "5000"), &CompareOptions::default(), &Control::new())?;
//! assert!(found.sentence.contains("28 more trees per 100"), "{}", found.sentence);
//! # Ok(())
//! # }
//! ```
//!
//! A [`Trial`](trial::Trial) is asked directly: `take_rates`, `compare`, `compare_all`, `association`, `trend`, `tray_correlation`,
//! `model`, `strength_curve`, `damage_threshold`, `response_surface`. A [`Model`](models::Model) and
//! [`FittedCurves`](curves::FittedCurves) keep their fit and are asked again and again. Every answer is an [`Answer`]: a sentence, details, a
//! table, cautions, the paragraph for a methods section, references, and the numbers themselves.
//!
//! The rooms, from the ground up: [`math`] (slices and numbers), [`trial`] and [`units`] (checked data),
//! the methods ([`rates`], [`compare`], [`tables`], [`models`], [`effects`],
//! [`curves`], [`prediction`], [`checks`], [`model_tests`]) and [`report`] (words and tables).
//!
//! | feature | what it adds |
//! |---|---|
//! | `polars` (on by default) | frames of polars as input: `Frame::try_from(&DataFrame)` |
//! | `python` | the bindings of the Python package |

pub mod answer;
pub mod checks;
pub mod choice;
pub mod compare;
pub mod control;
pub mod counts;
pub mod curves;
pub mod effects;
pub mod error;
pub mod estimate;
pub mod layers;
pub mod layout;
pub mod math;
pub mod model_tests;
pub mod models;
pub mod plan;
pub mod prediction;
pub mod prelude;
pub mod rates;
pub mod report;
pub mod responses;
pub mod seasons;
pub mod simulate;
pub mod steps;
pub mod tables;
pub mod trial;
pub mod units;
pub mod watch;

#[cfg(feature = "python")]
mod bindings;
#[cfg(test)]
mod kinds;

pub use answer::{Answer, Note, Sheet};
pub use error::{Error, Result};
pub use estimate::{Count, Estimate};
