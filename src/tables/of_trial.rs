//! What a trial is asked of a treatment as a whole.

use super::association::{Association, AssociationOptions, association};
use super::trend::{TrialTrend, TrialTrendOptions, trial_trend};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::trial::Trial;

impl Trial {
    /// Whether a treatment has to do with rooting, as [`association`](super::association()) has it.
    ///
    /// # Errors
    /// As [`association`](super::association()); where the outcome needs deaths that are not recorded.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,3,20\n0,b,5,20\n1000,c,9,20\n1000,d,11,20\n3000,e,14,20\n3000,f,13,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.association("strength", &AssociationOptions::default(), &Control::new())?;
    /// assert!(found.numbers.p.is_some_and(|p| p < 0.05));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn association(
        &self,
        treatment: &str,
        options: &AssociationOptions,
        control: &Control,
    ) -> Result<Answer<Association>> {
        let options = AssociationOptions { spoken: Some(self.options().spoken(treatment)), ..options.clone() };
        self.on_outcome(options.outcome, |units, outcome| {
            association(units, treatment, &AssociationOptions { outcome, ..options.clone() }, control)
        })
    }

    /// A trend along the levels of a treatment, as [`trial_trend`] has it.
    ///
    /// # Errors
    /// As [`trial_trend`]; where the outcome needs deaths that are not recorded.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,3,20\n0,b,5,20\n1000,c,9,20\n1000,d,11,20\n3000,e,14,20\n3000,f,13,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.trend("strength", &TrialTrendOptions::default(), &Control::new())?;
    /// assert!(found.numbers.value > 0.0 && found.numbers.p.is_some_and(|p| p < 0.05));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn trend(&self, treatment: &str, options: &TrialTrendOptions, control: &Control) -> Result<Answer<TrialTrend>> {
        let options = TrialTrendOptions { spoken: Some(self.options().spoken(treatment)), ..options.clone() };
        self.on_outcome(options.outcome, |units, outcome| {
            trial_trend(units, treatment, &TrialTrendOptions { outcome, ..options.clone() }, control)
        })
    }
}
