//! Deaths beside a strength curve: where they are known to rise, what is said of a best strength keeps below that place.

use serde::{Deserialize, Serialize};

use super::best::Best;
use super::damage::{DamageOptions, located_damage};
use super::decision::{Decided, about, advice, trees};
use super::input::{CurveInput, CurveOptions, CurveTrays};
use super::words::strength;
use crate::control::Control;
use crate::error::Result;
use crate::report::{confidence, number, points};
use crate::trial::{Outcome, Trial};

/// Where deaths are located to have risen along one curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StayBelow {
    /// The rise over deaths at the lowest strength, a proportion.
    pub rise: f64,
    /// Where deaths have risen by that much.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// True where that is at the lowest strength above 0 already: no tested strength is shown to be safe.
    #[serde(default)]
    pub from_first: bool,
}

impl StayBelow {
    /// The strength to stay below: the lower limit, or the place itself where no tested strength lies below it.
    #[must_use]
    pub fn strength(&self) -> f64 {
        if self.from_first { self.value } else { self.low }
    }

    /// "; above 2800 more cuttings may die", for strengths up to `at` that lie beyond it.
    pub(super) fn tail(&self, at: f64) -> Option<String> {
        (at > self.strength()).then(|| self.more_die())
    }

    /// Where no tested strength lies below it the place is its shape's alone, and is told with its limits.
    fn more_die(&self) -> String {
        if self.from_first {
            let (low, high) = (about(self.low), about(self.high));
            return format!("; from about {} on ({low} to {high}) more cuttings die", about(self.value));
        }
        format!("; above {} more cuttings may die", about(self.low))
    }

    /// Deaths as a fact of the curve.
    pub(super) fn fact(&self, unit: &str, level: f64) -> String {
        let advice = if self.from_first {
            "no tested strength is shown to be safe".to_owned()
        } else {
            format!("stay below {}", strength(self.low, unit))
        };
        format!(
            "Deaths have risen by {} per 100 at about {} ({} interval {} to {}): {advice}.",
            points(self.rise),
            strength(self.value, unit),
            confidence(level),
            number(self.low),
            strength(self.high, unit)
        )
    }

    /// What the range of strengths that do nearly as well as the best is cut to.
    pub(super) fn of_range(&self, best: &Best, unit: &str) -> String {
        let below = self.strength();
        if best.range_high <= below {
            String::new()
        } else if self.from_first {
            format!(" At which of them more cuttings die is not settled: from about {} on.", strength(below, unit))
        } else if best.range_low < below {
            format!(" Of these, those above {} may kill more cuttings.", strength(below, unit))
        } else {
            format!(" All of them lie above {}, where more cuttings may die.", strength(below, unit))
        }
    }
}

/// The decision on a located best strength whose range deaths reach: the range is cut there, and a best beyond is told without the advice to use it.
/// `take` is the highest with its limits, in words.
pub(super) fn decided(
    best: &Best,
    stay: &StayBelow,
    (unit, take, nearly): (&str, &str, f64),
    (outcome, sure): (Outcome, bool),
) -> Option<Decided> {
    let (below, top) = (stay.strength(), about(best.strength.value));
    if best.range_high <= below {
        return None;
    }
    let (low, cut, nearly) = (about(best.range_low), about(below), trees(nearly));
    let more_die = stay.more_die();
    if !outcome.is_part() && best.strength.value <= below {
        let range = format!("; {low} to {cut} are not shown to be worse by more than {nearly}");
        return Some((format!("{} {top}{unit}: {take}", advice(outcome, sure)), vec![range, more_die]));
    }
    // What is highest there is no advice: the reader weighs trees against deaths.
    let range = if best.range_low < below {
        format!("; {low} to {cut} not shown to be worse by over {nearly}")
    } else {
        format!(", yet all below fall short by over {nearly}")
    };
    Some((format!("{} is highest near {top}{unit}, {take}", outcome.words().title), vec![more_die, range]))
}

impl CurveInput {
    /// Where deaths rise along the curve with these levels, where that is located.
    pub(super) fn stay_below(&self, levels: &[String]) -> Option<&StayBelow> {
        let at = self.groups.iter().position(|group| group.levels == levels)?;
        self.damage.get(at)?.as_ref()
    }

    /// The same of a curve by its name.
    pub(super) fn stay_below_of(&self, name: &str) -> Option<&StayBelow> {
        let at = self.names().iter().position(|own| own == name)?;
        self.damage.get(at)?.as_ref()
    }
}

/// Where deaths rise along each curve of a trial that records them; nothing where they do not, and where it is not located. The rise is that of
/// [`damage_threshold`](super::damage_threshold) unless asked otherwise, so that both say the same.
pub(super) fn beside(
    trial: &Trial,
    input: &CurveInput,
    options: &CurveOptions,
    control: &Control,
) -> Result<Vec<Option<StayBelow>>> {
    let Some(dead) = trial.dead().filter(|dead| dead.iter().any(|count| *count > 0)) else { return Ok(Vec::new()) };
    let trays = if options.trays == CurveTrays::Ignore { CurveTrays::Ignore } else { CurveTrays::Auto };
    let curve = CurveOptions { outcome: Outcome::Take, shape: "auto".to_owned(), trays, draws: 0, ..options.clone() };
    let asked = DamageOptions { curve, ..DamageOptions::default() };
    let found = located_damage(trial.units(), dead, trial.options().strength.as_ref(), &asked, control);
    control.step()?;
    // Deaths that make no curve leave the curve as it is.
    let Ok(found) = found else { return Ok(Vec::new()) };
    let of = |levels: &Vec<String>| {
        let (_, own) = found.iter().find(|(own, _)| own == levels)?;
        let value = own.value.filter(|_| own.located)?;
        Some(StayBelow { rise: asked.rise, value, low: own.low, high: own.high, from_first: own.from_first })
    };
    let all: Vec<Option<StayBelow>> = input.groups.iter().map(|group| of(&group.levels)).collect();
    Ok(if all.iter().any(Option::is_some) { all } else { Vec::new() })
}
