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
    /// The answer with the fingerprint of the data.
    pub(crate) fn signed<T>(&self, mut answer: Answer<T>) -> Answer<T> {
        answer.made_with.data_fingerprint.clone_from(&self.data_fingerprint);
        answer.made_with.strength = self.spec.spoken.as_ref().and_then(Spoken::declared);
        match &self.spec.reached {
            Some(reached) => reached.named(answer),
            None => answer,
        }
    }
}
