//! What stands beside a curve of one outcome where deaths are recorded: how the other outcomes run over the strengths.

use super::answer::forms_in_common;
use super::figures::StrengthCurve;
use super::input::{CurveOptions, gather};
use super::kept::FittedCurves;
use super::stay_below;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::rates::{TakeRatesOptions, take_rates};
use crate::trial::{Outcome, Trial};

/// The strength curves of a trial as [`strength_curve`](super::strength_curve) has them, of the outcome that `options` name, with what deaths add where
/// they are recorded: where they rise, so that no strength beyond is recommended, and how the other outcomes run.
///
/// # Errors
/// As [`strength_curve`](super::strength_curve); a count error where the outcome needs deaths that are not recorded.
pub fn strength_curve_of_trial(
    trial: &Trial,
    options: &CurveOptions,
    control: &Control,
) -> Result<Answer<StrengthCurve>> {
    FittedCurves::of_trial(trial, options, control)?.answer(control)
}

impl FittedCurves {
    /// The curves of a trial, fitted.
    ///
    /// # Errors
    /// As [`strength_curve_of_trial`].
    pub fn of_trial(trial: &Trial, options: &CurveOptions, control: &Control) -> Result<Self> {
        let (units, strength) = (trial.units_of(options.outcome)?, trial.options().strength.as_ref());
        let mut input = gather(&units, strength, options)?;
        input.notes.extend(forms_in_common(&units, strength, options, control)?);
        input.damage = stay_below::beside(trial, &input, options, control)?;
        let mut fitted = Self::new(input, control)?.of_data(Some(trial.fingerprint().to_owned()));
        fitted.told = trial.deaths_note(options.outcome).into_iter().collect();
        fitted.others = beside_deaths(trial, options);
        Ok(fitted)
    }
}

/// A line for each other outcome, from its lowest to its highest rate over the strengths; none without deaths.
#[must_use]
pub fn beside_deaths(trial: &Trial, options: &CurveOptions) -> Vec<String> {
    if trial.dead().is_none() {
        return Vec::new();
    }
    let mut by = vec![options.column.as_str()];
    by.extend(options.within.iter().map(String::as_str));
    let spoken = vec![trial.options().spoken(&options.column)];
    let asked = TakeRatesOptions { spoken, ..TakeRatesOptions::default() };
    let one = |outcome: Outcome| {
        let found = take_rates(&trial.units_of(outcome).ok()?, &by, &asked).ok()?;
        Some(outcome.told(&found.sentence))
    };
    Outcome::ALL.into_iter().filter(|one| *one != options.outcome).filter_map(one).collect()
}

/// What a curve shows at one strength, in one word where there is one: "take", "survival rate".
pub(super) fn noun(outcome: Outcome) -> &'static str {
    if outcome.is_part() { outcome.words().rate } else { outcome.noun() }
}
