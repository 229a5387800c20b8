//! What a model is asked beside another one.

use super::bootstrap::{BootstrapOptions, bootstrap_test};
use super::nested::against;
use super::numbers::{BootstrapTest, ModelComparison};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::models::Model;

impl Model {
    /// This model against a smaller one within it, as [`against`](super::against()) has it.
    ///
    /// # Errors
    /// As [`against`](super::against()).
    pub fn against(&self, smaller: &Self) -> Result<Answer<ModelComparison>> {
        against(self, smaller).map(|answer| self.signed(answer))
    }

    /// A test of an effect on drawn trials, as [`bootstrap_test`](super::bootstrap_test()) has it.
    ///
    /// # Errors
    /// As [`bootstrap_test`](super::bootstrap_test()).
    pub fn bootstrap_test(
        &self,
        effect: &str,
        options: &BootstrapOptions,
        control: &Control,
    ) -> Result<Answer<BootstrapTest>> {
        bootstrap_test(self, effect, options, control).map(|answer| self.signed(answer))
    }
}
