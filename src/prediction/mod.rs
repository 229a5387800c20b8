//! What a fitted model expects of new rows.

mod answer;
mod rate;
mod resolve;
mod rows;

pub use rate::RateOf;
pub use rows::{PredictOptions, Prediction, Predictions, columns, predict};
