//! What deaths beside a strength curve say: what is told of a best strength keeps below where they rise.

use super::phrases::{Decided, about, advice, strength, trees};
use crate::curves::find::Best;
use crate::curves::input::StayBelow;
use crate::report::{confidence, number, points};
use crate::trial::Outcome;

impl StayBelow {
    /// "; above 2800 more cuttings may die", for strengths up to `at` that lie beyond it.
    pub(crate) fn tail(&self, at: f64) -> Option<String> {
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
