//! What a crop is expected to do: its rates by cultivar, grafter, place and time of year, and how much batches and weeks differ anyway.
//!
//! Read in this order: `design` (columns), `batch` (the likelihood of one), `tables` (the likelihood along shared shifts), `fit`, `between` (how units differ), `numbers` (what is kept), `made` (from batches
//! to a baseline, and from a baseline to expectations).

mod batch;
mod between;
mod design;
mod fit;
mod made;
mod numbers;
mod tables;

pub(crate) use between::between;
pub use made::Expectations;
pub(crate) use made::{Mix, clustered};
pub use numbers::{Baseline, LevelRate};
