//! What stands beside a model of one outcome where deaths are recorded: how the other outcomes run.

use crate::answer::Note;
use crate::models::enter::ModelSpec;
use crate::models::kept::Model;
use crate::rates::{TakeRatesOptions, take_rates};
use crate::trial::{Outcome, Trial};

/// A note for each other outcome, with its rates at the levels of the first effect that is a treatment; none without deaths.
pub(super) fn beside_deaths(trial: &Trial, spec: &ModelSpec) -> Vec<Note> {
    if trial.dead().is_none() {
        return Vec::new();
    }
    let known = |name: &&String| trial.units().treatments.iter().any(|one| one.name == **name);
    let Some(by) = spec.effects.iter().find(known) else { return Vec::new() };
    let others = Outcome::OF_DEATHS.into_iter().filter(|one| *one != spec.outcome);
    let one = |outcome: Outcome| {
        let options = TakeRatesOptions {
            outcome,
            spoken: spec.spoken.clone().into_iter().collect(),
            ..TakeRatesOptions::default()
        };
        let found = take_rates(&trial.units_of(outcome).ok()?, &[by.as_str()], &options).ok()?;
        Some(Note::new(&note_code(outcome), outcome.named(&found.sentence)))
    };
    others.filter_map(one).collect()
}

fn note_code(outcome: Outcome) -> String {
    outcome.name().replace('-', "_")
}

impl Model {
    /// The model with those of the notes that tell what the trial's deaths say: they come from counts that a fit does not hold.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = std::sync::Arc::new(Control::new());
    /// # let model = trial.model(&ModelSpec::of(&["strength"]), &control)?;
    /// let told = Note::new("deaths_recorded", "Deaths are recorded.");
    /// let model = model.with_notes_on_deaths(vec![told.clone()]);
    /// assert_eq!(model.notes[0], told);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn with_notes_on_deaths(mut self, notes: Vec<Note>) -> Self {
        let codes: Vec<String> =
            Outcome::OF_DEATHS.into_iter().map(note_code).chain(["deaths_recorded".to_owned()]).collect();
        self.notes.splice(0..0, notes.into_iter().filter(|note| codes.contains(&note.code)));
        self
    }
}
