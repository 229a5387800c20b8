//! How sure a decision is, in one line for whoever reads no further: the range with its confidence, and whether a second check could object.

use super::numbers::{Comparison, counted};
use super::opinion::confirming;
use super::permutation::Randomisation;
use crate::rates::TakeRate;
use crate::report::{HOW_SURE, numbers, plural, with_confidence};

/// The line of two levels compared, `between` being the range as the decision reads it; none where nothing is judged.
pub(super) fn line(found: &Comparison, between: &str, per: &str) -> Option<String> {
    if !counted(found) {
        return Some(format!(
            "{HOW_SURE}less than it looks. Each cutting counts as if it stood alone, so the range is narrower than it should be."
        ));
    }
    let p = found.p?;
    let alpha = 1.0 - found.confidence;
    let check = confirming(found).and_then(|dealt| second_check(dealt, (p < alpha, alpha), &dealt_units(found, dealt)));
    let check = check.map_or_else(String::new, |check| format!("; {check}"));
    Some(format!("{HOW_SURE}{}, between {between} {per}{check}.", with_confidence(found.confidence)))
}

/// What the second check makes of a difference that is shown, or of one that is not.
pub(crate) fn second_check(dealt: &Randomisation, (shown, alpha): (bool, f64), with: &str) -> Option<String> {
    let agrees = dealt.p <= alpha;
    match (shown, agrees) {
        (true, false) if dealt.smallest_p > alpha => Some(cannot_object(with, dealt.smallest_p)),
        (true, true) => Some(format!("a second check that assumes less agrees ({})", numbers::p_value(dealt.p))),
        (true, false) if dealt.smallest_p_given_rates > alpha => Some(format!(
            "a second check cannot confirm it: with these counts its smallest possible {}",
            smallest(dealt.smallest_p_given_rates)
        )),
        (true, false) => {
            Some(format!("a second check that assumes less does not confirm it ({})", numbers::p_value(dealt.p)))
        }
        (false, true) => Some(format!("a second check would have shown a difference ({})", numbers::p_value(dealt.p))),
        (false, false) => None,
    }
}

/// That the second check cannot reach what is asked of it, whatever is counted.
pub(crate) fn cannot_object(with: &str, least: f64) -> String {
    format!("with {with} the second check cannot object: its smallest possible {}", smallest(least))
}

/// "P is 0.06".
fn smallest(p: f64) -> String {
    numbers::p_value(p).replacen("P =", "P is", 1)
}

/// "5 pairs of trays", "3 and 4 bays".
fn dealt_units(found: &Comparison, dealt: &Randomisation) -> String {
    let (first, second) = (dealt_of(found, &found.first), dealt_of(found, &found.second));
    let units = plural(&found.unit);
    // Each pair is dealt one way or the other.
    let pairs =
        first == second && first > 1 && dealt.assignments == 2_f64.powi(i32::try_from(first).unwrap_or(i32::MAX));
    if pairs { format!("{first} pairs of {units}") } else { format!("{first} and {second} {units}") }
}

/// The units of a level that carry the comparison: those that are dealt out.
fn dealt_of(found: &Comparison, rate: &TakeRate) -> u64 {
    let levels = found.carried.iter().flat_map(|carried| &carried.levels);
    let mut own = levels.filter(|level| rate.levels.first() == Some(&level.level));
    own.next().map_or(rate.n_units, |level| level.n_units_used)
}

#[cfg(test)]
mod tests {
    use super::{cannot_object, smallest};

    #[test]
    fn the_smallest_value_is_said_plainly() {
        assert_eq!(smallest(0.0625), "P is 0.062");
        assert_eq!(
            cannot_object("5 pairs of trays", 0.0625),
            "with 5 pairs of trays the second check cannot object: its smallest possible P is 0.062"
        );
    }
}
