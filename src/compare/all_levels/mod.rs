//! All levels of a treatment compared, pair by pair or against one of them, with P values and intervals that hold together.

mod answer;
mod borderline;
mod decision;
mod pairs;

pub use pairs::{AllComparisons, AllOptions, PairComparison, all_levels};
