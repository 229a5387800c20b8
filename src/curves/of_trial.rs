//! What a trial is asked of its strengths.

use super::kept::FittedCurves;
use crate::answer::Answer;
use crate::control::Control;
use crate::curves::damage::{DamageOptions, DamageThreshold, beside as deaths_beside, damage_threshold};
use crate::curves::input::{CurveOptions, gather};
use crate::curves::surface::{ResponseSurface, SurfaceOptions, response_surface};
use crate::curves::told::forms_in_common;
use crate::error::{CurveError, Result};
use crate::rates::{TakeRatesOptions, take_rates};
use crate::trial::{Outcome, Trial};

impl Trial {
    /// The strength curves of the trial, fitted, of the outcome that `options` name: ask them for their [`answer`](FittedCurves::answer), for
    /// the strengths of a take, for the strengths to test next, for their differences. They hold what deaths add where these are recorded:
    /// where they rise, so that no strength beyond is recommended, and how the other outcomes run.
    ///
    /// # Errors
    /// As [`strength_curve`](super::strength_curve); where the outcome needs deaths that are not recorded.
    pub fn strength_curve(&self, options: &CurveOptions, control: &Control) -> Result<FittedCurves> {
        FittedCurves::of_trial(self, options, control)
    }

    /// The strength at which deaths begin to rise, as [`damage_threshold`](super::damage_threshold()) has it.
    ///
    /// # Errors
    /// [`CurveError::NoDeaths`] where none are recorded; else as [`damage_threshold`](super::damage_threshold()).
    pub fn damage_threshold(&self, options: &DamageOptions, control: &Control) -> Result<Answer<DamageThreshold>> {
        let dead = self.dead().ok_or(CurveError::NoDeaths)?;
        let strength = self.options().strength.as_ref();
        damage_threshold(self.units(), dead, strength, options, control).map(|answer| self.signed(answer))
    }

    /// The take over strength and darkness together, as [`response_surface`](super::response_surface()) has it.
    ///
    /// # Errors
    /// As [`response_surface`](super::response_surface()).
    pub fn response_surface(&self, options: &SurfaceOptions, control: &Control) -> Result<Answer<ResponseSurface>> {
        let strength = self.options().strength.as_ref();
        response_surface(self.units(), strength, options, control).map(|answer| self.signed(answer))
    }
}

impl FittedCurves {
    /// The curves of a trial, fitted.
    fn of_trial(trial: &Trial, options: &CurveOptions, control: &Control) -> Result<Self> {
        let (units, strength) = (trial.units_of(options.outcome)?, trial.options().strength.as_ref());
        let mut input = gather(&units, strength, options)?;
        input.notes.extend(forms_in_common(&units, strength, options, control)?);
        input.damage = deaths_beside(trial, &input, options, control)?;
        let mut fitted = Self::new(input, control)?.of_data(Some(trial.fingerprint().to_owned()));
        fitted.told = trial.deaths_note(options.outcome).into_iter().collect();
        fitted.others = beside_deaths(trial, options);
        Ok(fitted)
    }
}

/// A line for each other outcome, from its lowest to its highest rate over the strengths; none without deaths.
fn beside_deaths(trial: &Trial, options: &CurveOptions) -> Vec<String> {
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
