//! What a model is asked of itself.

use super::answer::checks;
use super::numbers::{CheckOptions, Checks};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::models::Model;

impl Model {
    /// Whether the model holds, as [`checks`](super::checks()) has it.
    ///
    /// # Errors
    /// As [`checks`](super::checks()).
    pub fn checks(&self, options: &CheckOptions, control: &Control) -> Result<Answer<Checks>> {
        checks(self, options, control).map(|answer| self.signed(answer))
    }
}
