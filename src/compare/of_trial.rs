//! What a trial is asked of the levels of a treatment.

use super::all_levels::{AllComparisons, AllOptions, all_levels};
use super::numbers::{CompareOptions, Comparison};
use super::outcomes::outcomes;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::trial::Trial;

impl Trial {
    /// Two levels of a treatment compared in the outcome that the options name, as [`strengths`](super::strengths()) has it: the second minus
    /// the first. Where deaths are recorded the two other outcomes stand beside it, and a difference of takes that comes from deaths is said in
    /// the sentence. A difference that changes with another treatment ([`changing`](super::changing())) is said to be an average.
    ///
    /// # Errors
    /// As [`strengths`](super::strengths()); where the outcome needs deaths that are not recorded.
    ///
    /// ```
    /// use rootling::compare::CompareOptions;
    /// use rootling::control::Control;
    /// # use rootling::trial::{LoadOptions, read_csv};
    /// # let options = LoadOptions {
    /// #     rooted: "rooted".into(), stuck: Some("stuck".into()), tray: Some("tray".into()),
    /// #     treatments: vec!["strength".into()], ..LoadOptions::default()
    /// # };
    /// # let trial = read_csv(b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n", &options)?;
    /// let found = trial.compare("strength", ("0", "2500"), &CompareOptions::default(), &Control::new())?;
    /// approx::assert_abs_diff_eq!(found.numbers.value, (26.0 - 8.0) / 40.0, epsilon = 1e-12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn compare(
        &self,
        treatment: &str,
        (first, second): (&str, &str),
        options: &CompareOptions,
        control: &Control,
    ) -> Result<Answer<Comparison>> {
        let options = CompareOptions { spoken: Some(self.options().spoken(treatment)), ..options.clone() };
        outcomes(self, treatment, (first, second), &options, control).map(|answer| self.signed(answer))
    }

    /// All levels of a treatment compared, as [`all_levels`] has it.
    ///
    /// # Errors
    /// As [`all_levels`]; where the outcome needs deaths that are not recorded.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,3,20\n0,b,5,20\n1000,c,9,20\n1000,d,11,20\n3000,e,14,20\n3000,f,13,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.compare_all("strength", &AllOptions::default(), &Control::new())?;
    /// assert_eq!(found.numbers.pairs.len(), 3);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn compare_all(
        &self,
        treatment: &str,
        options: &AllOptions,
        control: &Control,
    ) -> Result<Answer<AllComparisons>> {
        let mut options = options.clone();
        options.compare.spoken = Some(self.options().spoken(treatment));
        self.on_outcome(options.compare.outcome, |units, outcome| {
            let mut options = options.clone();
            options.compare.outcome = outcome;
            all_levels(units, treatment, &options, control)
        })
    }
}
