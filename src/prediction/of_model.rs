//! What a model is asked of new rows.

use super::numbers::{PredictOptions, Predictions};
use super::rows::predict;
use crate::answer::Answer;
use crate::error::Result;
use crate::models::Model;
use crate::trial::NewRows;

impl Model {
    /// The rates expected of new rows, as [`predict`](super::predict()) has them.
    ///
    /// # Errors
    /// As [`predict`](super::predict()).
    pub fn predict(&self, rows: &NewRows, options: &PredictOptions) -> Result<Answer<Predictions>> {
        predict(self, rows, options).map(|answer| self.signed(answer))
    }
}
