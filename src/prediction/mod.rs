//! What a fitted model expects of new rows.

mod answer;
mod cells;
mod numbers;
mod of_model;
mod resolve;
mod rows;

pub use numbers::{PredictOptions, Prediction, Predictions};
pub use rows::columns;
