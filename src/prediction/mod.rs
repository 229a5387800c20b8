//! What a fitted model expects of new rows.

mod answer;
mod cells;
mod of_model;
mod resolve;
mod rows;

pub use rows::{PredictOptions, Prediction, Predictions, columns, predict};
