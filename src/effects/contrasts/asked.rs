//! A question with its names resolved, what it found, and what the answer says beside that.

use super::numbers::Contrasts;
use super::options::{Adjust, ContrastOptions};
use crate::answer::Note;
use crate::trial::Outcome;

/// A question with its names resolved, and what it found.
pub(crate) struct Asked {
    pub(crate) figures: Contrasts,
    pub(super) around: Around,
}

impl Asked {
    /// True when the levels are at least three numbers.
    pub(crate) fn curve(&self) -> bool {
        self.around.curve
    }

    /// True when some contrast is judged by the covariance of the estimates, though trays follow a law.
    pub(crate) fn by_covariance(&self) -> bool {
        self.around.by_covariance
    }
}

/// What stands around the figures.
#[expect(clippy::struct_excessive_bools, reason = "each is a thing that the answer says or does not")]
pub(crate) struct Around {
    pub(super) adjust: Adjust,
    pub(super) curve: bool,
    pub(super) scaled: bool,
    pub(super) mixed: Vec<Note>,
    /// Some contrast sets more than two rates against each other.
    pub(super) weighted: bool,
    /// Some rate is an average over other effects.
    pub(super) averaged: bool,
    pub(super) reached: bool,
    /// Some contrast is judged by the covariance of the estimates, though trays follow a law.
    pub(super) by_covariance: bool,
    pub(super) options: ContrastOptions,
    pub(super) confounded: bool,
    /// What is counted.
    pub(super) outcome: Outcome,
}
