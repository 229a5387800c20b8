//! What a trial is asked of its strengths.

use super::damage::{DamageOptions, DamageThreshold, damage_threshold};
use super::input::CurveOptions;
use super::kept::FittedCurves;
use super::surface_answer::response_surface;
use super::surface_input::SurfaceOptions;
use super::surface_run::ResponseSurface;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::{CurveError, Result};
use crate::trial::Trial;

impl Trial {
    /// The strength curves of the trial, fitted: ask them for their [`answer`](FittedCurves::answer), for the strengths of a take, for the
    /// strengths to test next, for their differences.
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
