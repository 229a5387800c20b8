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
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,6,30\n0,b,7,30\n500,c,11,30\n500,d,12,30\n1000,e,17,30\n1000,f,18,30\n2000,g,21,30\n\
    /// #     2000,h,22,30\n4000,i,19,30\n4000,j,20,30\n8000,k,8,30\n8000,l,9,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let control = Control::new();
    /// let curves = trial.strength_curve(&CurveOptions::default(), &control)?;
    /// assert!(curves.answer(&control)?.sentence.contains("mg/L") || curves.input().unit.is_empty());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn strength_curve(&self, options: &CurveOptions, control: &Control) -> Result<FittedCurves> {
        FittedCurves::of_trial(self, options, control)
    }

    /// The strength at which deaths begin to rise, as [`damage_threshold`](super::damage_threshold()) has it.
    ///
    /// # Errors
    /// [`CurveError::NoDeaths`] where none are recorded; else as [`damage_threshold`](super::damage_threshold()).
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,dead,stuck\n\
    /// #     0,a,6,1,30\n0,b,6,2,30\n500,c,11,1,30\n500,d,11,2,30\n1000,e,17,1,30\n1000,f,17,2,30\n\
    /// #     2000,g,18,4,30\n2000,h,18,5,30\n4000,i,12,12,30\n4000,j,12,13,30\n8000,k,4,22,30\n\
    /// #     8000,l,4,23,30\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.dead = Some("dead".to_owned());
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.damage_threshold(&DamageOptions::default(), &Control::new())?;
    /// let threshold = &found.numbers.curves[0].threshold;
    /// assert!(threshold.value.is_some_and(|value| value < 8000.0));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn damage_threshold(&self, options: &DamageOptions, control: &Control) -> Result<Answer<DamageThreshold>> {
        let dead = self.dead().ok_or(CurveError::NoDeaths)?;
        let strength = self.options().strength.as_ref();
        damage_threshold(self.units(), dead, strength, options, control).map(|answer| self.signed(answer))
    }

    /// The take over strength and darkness together, as [`response_surface`](super::response_surface()) has it.
    ///
    /// # Errors
    /// As [`response_surface`](super::response_surface()).
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,dark_days,tray,rooted,stuck\n\
    /// #     0,0,t0,6,30\n0,0,t1,7,30\n1000,0,t2,14,30\n1000,0,t3,15,30\n3000,0,t4,20,30\n\
    /// #     3000,0,t5,21,30\n9000,0,t6,11,30\n9000,0,t7,12,30\n0,14,t8,6,30\n0,14,t9,7,30\n\
    /// #     1000,14,t10,16,30\n1000,14,t11,17,30\n3000,14,t12,23,30\n3000,14,t13,24,30\n\
    /// #     9000,14,t14,12,30\n9000,14,t15,13,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength", "dark_days"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.response_surface(&SurfaceOptions::default(), &Control::new())?;
    /// assert_eq!(found.numbers.best.len(), 2);
    /// assert_eq!(found.numbers.grid.take.dim(), (33, 33));
    /// # Ok::<(), rootling::Error>(())
    /// ```
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
        fitted.given_to = trial.units().given_to();
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
    Outcome::OF_DEATHS.into_iter().filter(|one| *one != options.outcome).filter_map(one).collect()
}
