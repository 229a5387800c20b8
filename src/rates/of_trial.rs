//! What a trial is asked of its rates.

use super::icc::{CorrelationOptions, TrayCorrelation, trial_correlation};
use super::take_rates::{TakeRates, TakeRatesOptions, take_rates};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::trial::Trial;

impl Trial {
    /// The take rate of every combination of levels of some columns, or of all treatments where none is named, as
    /// [`take_rates`](super::take_rates()) has them.
    ///
    /// # Errors
    /// As [`take_rates`](super::take_rates()); where the outcome needs deaths that are not recorded.
    ///
    /// ```
    /// use rootling::rates::TakeRatesOptions;
    /// # use rootling::trial::{LoadOptions, read_csv};
    /// # let options = LoadOptions {
    /// #     rooted: "rooted".into(), stuck: Some("stuck".into()), tray: Some("tray".into()),
    /// #     treatments: vec!["strength".into()], ..LoadOptions::default()
    /// # };
    /// # let trial = read_csv(b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n", &options)?;
    /// let rates = trial.take_rates(&["strength"], &TakeRatesOptions::default())?;
    /// approx::assert_abs_diff_eq!(rates.numbers.rates[1].value, 26.0 / 40.0, epsilon = 1e-12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn take_rates(&self, by: &[&str], options: &TakeRatesOptions) -> Result<Answer<TakeRates>> {
        let spoken = self.units().treatments.iter().map(|one| self.options().spoken(&one.name)).collect();
        let options = TakeRatesOptions { spoken, ..options.clone() };
        self.on_outcome(options.outcome, |units, outcome| {
            take_rates(units, by, &TakeRatesOptions { outcome, ..options.clone() })
        })
    }

    /// How alike two cuttings of one tray are, as [`trial_correlation`] has it.
    ///
    /// # Errors
    /// As [`trial_correlation`].
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::rates::CorrelationOptions;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.tray_correlation(&CorrelationOptions::default(), &Control::new())?;
    /// assert!(found.numbers.value <= 1.0);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn tray_correlation(&self, options: &CorrelationOptions, control: &Control) -> Result<Answer<TrayCorrelation>> {
        trial_correlation(self.units(), options, control).map(|answer| self.signed(answer))
    }
}
