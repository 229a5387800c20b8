//! What stands beside a model of one outcome where deaths are recorded: how the other outcomes run.

use crate::answer::Note;
use crate::models::ModelSpec;
use crate::rates::{TakeRatesOptions, take_rates};
use crate::trial::{Outcome, Trial};

/// A note for each other outcome, with its rates at the levels of the first effect that is a treatment; none without deaths.
pub(super) fn beside_deaths(trial: &Trial, spec: &ModelSpec) -> Vec<Note> {
    if trial.dead().is_none() {
        return Vec::new();
    }
    let known = |name: &&String| trial.units().treatments.iter().any(|one| one.name == **name);
    let Some(by) = spec.effects.iter().find(known) else { return Vec::new() };
    let others = Outcome::ALL.into_iter().filter(|one| *one != spec.outcome);
    let one = |outcome: Outcome| {
        let options =
            TakeRatesOptions { spoken: spec.spoken.clone().into_iter().collect(), ..TakeRatesOptions::default() };
        let found = take_rates(&trial.units_of(outcome).ok()?, &[by.as_str()], &options).ok()?;
        Some(Note::new(&outcome.name().replace(' ', "_"), outcome.told(&found.sentence)))
    };
    others.filter_map(one).collect()
}
