//! What a model is asked of its effects, rates and levels.

use super::adjusted::{RateOptions, adjusted_rates};
use super::coefficients::{Coefficients, coefficients};
use super::contrasts::{ContrastOptions, Contrasts, contrasts};
use super::letters::{LetterOptions, letters};
use super::numbers::{AdjustedRates, Letters, OddsRatios, WhatMatters};
use super::odds_ratios::odds_ratios;
use super::what_matters::what_matters_by;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::models::{Model, StatisticKind};

impl Model {
    /// Which effects matter, by the statistic of the model or the one asked for, as
    /// [`what_matters_by`] has it.
    ///
    /// # Errors
    /// As [`what_matters_by`].
    pub fn what_matters(&self, test: Option<StatisticKind>) -> Result<Answer<WhatMatters>> {
        what_matters_by(self, test).map(|answer| self.signed(answer))
    }

    /// Coefficients on the link scale, as [`coefficients`](super::coefficients()) has them.
    ///
    /// # Errors
    /// As [`coefficients`](super::coefficients()).
    pub fn coefficients(&self, confidence: f64) -> Result<Answer<Coefficients>> {
        coefficients(self, confidence).map(|answer| self.signed(answer))
    }

    /// Odds ratios, as [`odds_ratios`](super::odds_ratios()) has them.
    ///
    /// # Errors
    /// As [`odds_ratios`](super::odds_ratios()).
    pub fn odds_ratios(&self, confidence: f64) -> Result<Answer<OddsRatios>> {
        odds_ratios(self, confidence).map(|answer| self.signed(answer))
    }

    /// Adjusted rates of the levels of an effect, as [`adjusted_rates`](super::adjusted_rates()) has them.
    ///
    /// # Errors
    /// As [`adjusted_rates`](super::adjusted_rates()).
    pub fn adjusted_rates(&self, by: &str, options: &RateOptions) -> Result<Answer<AdjustedRates>> {
        adjusted_rates(self, by, options).map(|answer| self.signed(answer))
    }

    /// Contrasts of adjusted rates, as [`contrasts`](super::contrasts()) has them.
    ///
    /// # Errors
    /// As [`contrasts`](super::contrasts()).
    pub fn contrasts(&self, by: &str, options: &ContrastOptions, control: &Control) -> Result<Answer<Contrasts>> {
        contrasts(self, by, options, control).map(|answer| self.signed(answer))
    }

    /// Letters for levels that are not told apart, as [`letters`](super::letters()) has them.
    ///
    /// # Errors
    /// As [`letters`](super::letters()).
    pub fn letters(&self, by: &str, options: &LetterOptions, control: &Control) -> Result<Answer<Letters>> {
        letters(self, by, options, control).map(|answer| self.signed(answer))
    }
}
