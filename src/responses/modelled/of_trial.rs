//! The questions of a model of means, asked of a trial.

use super::options::{MeanContrastOptions, MeanLevelOptions, MeanModelSpec};
use super::{AdjustedMeans, MeanChecks, MeanContrasts, MeanEffects, MeanLetters, MeanPredictions};
use super::{predicted, told_checks, told_contrasts, told_effects, told_means};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::trial::Trial;

impl Trial {
    /// Which treatments change a response: a test of each effect with its size, and both parts (how many root, how many roots each has)
    /// beside.
    ///
    /// Means of trays are fitted by least squares, weighted by their cuttings, with recorded places beside. Effects that were given to bays
    /// (or plants, or blocks) as a whole are judged by these, all others by trays within them. Variances are those of compared means,
    /// combination by combination; several contrasts at once are judged by the sum of their squares (Brunner, Dette and Munk 1997).
    ///
    /// # Errors
    /// A choice error for a column that is no treatment; [`ResponseError`](crate::error::ResponseError) as [`Trial::means`]; when asked to
    /// stop.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::MeanModelSpec;
    /// use rootling::trial::Response;
    /// # let csv = b"strength,tray,rooted,stuck,roots\n0,a,3,10,2\n0,b,5,10,3\n0,e,4,10,2\n2500,c,8,10,4\n2500,d,6,10,5\n2500,f,7,10,5\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.responses = vec![Response::count("roots").with_means_of("rooted")];
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.mean_effects(&MeanModelSpec::of("roots", &["strength"]), &Control::new())?;
    /// assert!(found.numbers.effects[0].p.is_some_and(|p| p < 0.05));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn mean_effects(&self, spec: &MeanModelSpec, control: &Control) -> Result<Answer<MeanEffects>> {
        told_effects::answer(self, spec, control)
    }

    /// The mean of each level of a treatment, averaged over the other treatments of the model.
    ///
    /// # Errors
    /// As [`Trial::mean_effects`]; for levels that are named twice or not known.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::{MeanLevelOptions, MeanModelSpec};
    /// use rootling::trial::Response;
    /// # let csv = b"strength,tray,rooted,stuck,roots\n0,a,3,10,2\n0,b,5,10,3\n2500,c,8,10,4\n2500,d,6,10,5\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.responses = vec![Response::count("roots").with_means_of("rooted")];
    /// # let trial = read_csv(csv, &options)?;
    /// let model = MeanModelSpec::of("roots", &["strength"]);
    /// let found = trial.adjusted_means(&model, "strength", &MeanLevelOptions::default())?;
    /// approx::assert_relative_eq!(found.numbers.means[1].value.unwrap(), 62.0 / 20.0, max_relative = 1e-12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn adjusted_means(
        &self,
        spec: &MeanModelSpec,
        by: &str,
        options: &MeanLevelOptions,
    ) -> Result<Answer<AdjustedMeans>> {
        told_means::answer(self, spec, by, options)
    }

    /// Adjusted means set against each other, with limits that hold together and P values adjusted for their number.
    ///
    /// # Errors
    /// As [`Trial::adjusted_means`]; for an adjustment that needs one variance of all means; for weights that do not sum to 0.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::{MeanContrastOptions, MeanModelSpec};
    /// use rootling::trial::Response;
    /// # let csv = b"strength,tray,rooted,stuck,roots\n0,a,3,10,2\n0,b,5,10,3\n2500,c,8,10,4\n2500,d,6,10,5\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.responses = vec![Response::count("roots").with_means_of("rooted")];
    /// # let trial = read_csv(csv, &options)?;
    /// let model = MeanModelSpec::of("roots", &["strength"]);
    /// let found = trial.mean_contrasts(&model, "strength", &MeanContrastOptions::default(), &Control::new())?;
    /// approx::assert_relative_eq!(found.numbers.contrasts[0].value.unwrap(), 41.0 / 20.0, max_relative = 1e-12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn mean_contrasts(
        &self,
        spec: &MeanModelSpec,
        by: &str,
        options: &MeanContrastOptions,
        control: &Control,
    ) -> Result<Answer<MeanContrasts>> {
        told_contrasts::answer(self, spec, by, options, control)
    }

    /// Adjusted means with letters: levels that share one are not shown to differ.
    ///
    /// # Errors
    /// As [`Trial::mean_contrasts`].
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::{MeanContrastOptions, MeanModelSpec};
    /// use rootling::trial::Response;
    /// # let csv = b"strength,tray,rooted,stuck,roots\n0,a,3,10,2\n0,b,5,10,3\n2500,c,8,10,4\n2500,d,6,10,5\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.responses = vec![Response::count("roots").with_means_of("rooted")];
    /// # let trial = read_csv(csv, &options)?;
    /// let model = MeanModelSpec::of("roots", &["strength"]);
    /// let found = trial.mean_letters(&model, "strength", &MeanContrastOptions::default(), &Control::new())?;
    /// assert_eq!(found.numbers.means.len(), 2);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn mean_letters(
        &self,
        spec: &MeanModelSpec,
        by: &str,
        options: &MeanContrastOptions,
        control: &Control,
    ) -> Result<Answer<MeanLetters>> {
        told_means::lettered(self, spec, by, options, control)
    }

    /// What a model of means leaves over: each unit beside what is expected of it, how the spread grows with the mean, and the tests without
    /// each unit.
    ///
    /// # Errors
    /// As [`Trial::mean_effects`].
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::MeanModelSpec;
    /// use rootling::trial::Response;
    /// # let csv = b"strength,tray,rooted,stuck,roots\n0,a,3,10,2\n0,b,5,10,3\n2500,c,8,10,4\n2500,d,6,10,5\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.responses = vec![Response::count("roots").with_means_of("rooted")];
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.mean_checks(&MeanModelSpec::of("roots", &["strength"]), &Control::new())?;
    /// assert_eq!((found.numbers.units.len(), found.numbers.n_far), (4, 0));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn mean_checks(&self, spec: &MeanModelSpec, control: &Control) -> Result<Answer<MeanChecks>> {
        told_checks::answer(self, spec, control)
    }

    /// Means expected of rows of levels, each in the order of the model's treatments.
    ///
    /// # Errors
    /// As [`Trial::adjusted_means`]; for a row that does not name a level of each treatment.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::MeanModelSpec;
    /// use rootling::trial::Response;
    /// # let csv = b"strength,tray,rooted,stuck,roots\n0,a,3,10,2\n0,b,5,10,3\n2500,c,8,10,4\n2500,d,6,10,5\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.responses = vec![Response::count("roots").with_means_of("rooted")];
    /// # let trial = read_csv(csv, &options)?;
    /// let model = MeanModelSpec::of("roots", &["strength"]);
    /// let found = trial.predict_means(&model, &[vec!["2500".to_owned()]], &Control::new())?;
    /// approx::assert_relative_eq!(found.numbers.rows[0].value.unwrap(), 62.0 / 20.0, max_relative = 1e-12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn predict_means(
        &self,
        spec: &MeanModelSpec,
        rows: &[Vec<String>],
        control: &Control,
    ) -> Result<Answer<MeanPredictions>> {
        predicted::answer(self, spec, rows, control)
    }
}
