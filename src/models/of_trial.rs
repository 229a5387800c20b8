//! A trial's models, and what every answer of a model carries.

use std::sync::Arc;

use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::models::enter::ModelSpec;
use crate::models::kept::Model;
use crate::report::Spoken;
use crate::trial::Trial;

impl Trial {
    /// A model of the trial's counts, with the control levels and the order of levels that the trial knows; rows in messages are counted as the
    /// user sees them. It keeps its fit: ask it as often as you like.
    ///
    /// # Errors
    /// As [`Model::fit`]; when asked to stop.
    ///
    /// ```
    /// use std::sync::Arc;
    /// use rootling::control::Control;
    /// use rootling::models::ModelSpec;
    /// # use rootling::trial::{LoadOptions, read_csv};
    /// # let options = LoadOptions {
    /// #     rooted: "rooted".into(), stuck: Some("stuck".into()), tray: Some("tray".into()),
    /// #     treatments: vec!["strength".into()], ..LoadOptions::default()
    /// # };
    /// # let trial = read_csv(b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n", &options)?;
    /// let model = trial.model(&ModelSpec::of(&["strength"]), &Arc::new(Control::new()))?;
    /// let told = model.what_matters(None)?;
    /// assert!(told.numbers.effects[0].p.is_some_and(|p| p < 0.1));
    /// assert_eq!(told.made_with.data_fingerprint.as_deref(), Some(trial.fingerprint()));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn model(&self, spec: &ModelSpec, control: &Arc<Control>) -> Result<Model> {
        Model::of_trial(self, spec, control)
    }
}

impl Model {
    /// What the methods tell of the model, by name: its counts, how trays spread, the degrees of freedom of their error.
    fn told_numbers(&self) -> Vec<(String, f64)> {
        let strata = &self.strata;
        let correlation = strata.correlation.as_ref();
        let spreads = self
            .spread
            .iter()
            .map(|one| (format!("spread of {}", one.level.as_ref().unwrap_or(&one.of)), Some(one.value)));
        let layers = strata.layers.iter().chain(&strata.whole_plots);
        let errors = layers.filter_map(|one| Some((format!("df of {}", one.name), Some(one.error?.df?))));
        let told = [
            ("n_units", Some(self.n_units as f64)),
            ("n_cuttings", Some(self.n_cuttings as f64)),
            ("correlation", correlation.map(|one| one.estimate)),
            ("correlation_used", correlation.map(|one| one.estimate.max(one.floor).clamp(0.0, 1.0))),
            ("correlation_floor", correlation.map(|one| one.floor)),
            ("dispersion", correlation.is_none().then_some(strata.tray.dispersion)),
            ("error_df", strata.tray.df),
        ];
        let told = told.into_iter().map(|(name, value)| (name.to_owned(), value)).chain(spreads).chain(errors);
        told.filter_map(|(name, value)| Some((name, value.filter(|value| value.is_finite())?))).collect()
    }

    /// The answer with the fingerprint of the data.
    pub(crate) fn signed<T>(&self, mut answer: Answer<T>) -> Answer<T> {
        answer.made_with.data_fingerprint.clone_from(&self.data_fingerprint);
        answer.made_with.strength = self.spec.spoken.as_ref().and_then(Spoken::declared);
        answer.made_with.given_to = self.units.given_to();
        answer.made_with.rests_on.extend(self.told_numbers());
        match &self.spec.reached {
            Some(reached) => reached.named(answer),
            None => answer,
        }
    }
}
