//! What stands beside a curve of one outcome where deaths are recorded: how the other outcomes run over the strengths.

use super::input::CurveOptions;
use crate::rates::{TakeRatesOptions, take_rates};
use crate::trial::{Outcome, Trial};

/// A line for each other outcome, from its lowest to its highest rate over the strengths; none without deaths.
#[must_use]
pub fn beside_deaths(trial: &Trial, options: &CurveOptions) -> Vec<String> {
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
    Outcome::ALL.into_iter().filter(|one| *one != options.outcome).filter_map(one).collect()
}

/// What a curve shows at one strength, in one word where there is one: "take", "survival rate".
pub(super) fn noun(outcome: Outcome) -> &'static str {
    if outcome.is_part() { outcome.words().rate } else { outcome.name() }
}
