//! All levels of a treatment compared, pair by pair or against one of them, with P values and intervals that hold together.

mod answer;
mod borderline;
mod decision;
mod numbers;
mod pairs;

pub use numbers::{AllComparisons, AllOptions, PairComparison};
pub use pairs::all_levels;
