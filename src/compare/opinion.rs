//! The second opinion on a comparison: dealing the units out again at random, and what may be said of it.

use super::numbers::Comparison;
use super::permutation::Randomisation;
use crate::report::{numbers, plural};

/// The randomisation test, when there is more than one way to deal.
pub(super) fn confirming(found: &Comparison) -> Option<&Randomisation> {
    found.randomisation.as_ref().filter(|dealt| dealt.assignments > 1.0)
}

/// What dealing the units out again says, where that is a second opinion.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Opinion {
    /// There is none.
    None,
    /// Its smallest P value, by the design, is above what is asked of it: it can neither confirm nor deny.
    OutOfReach,
    /// It shows a difference.
    Agrees,
    /// It could and does not.
    Denies,
}

/// The second opinion on a comparison, asked as much as the comparison itself is: at 1 - `level`, which is that of one pair where several
/// are judged together.
pub(super) fn opinion(found: &Comparison) -> Opinion {
    let alpha = 1.0 - found.confidence;
    match &found.randomisation {
        None => Opinion::None,
        Some(dealt) if dealt.smallest_p > alpha => Opinion::OutOfReach,
        Some(dealt) if dealt.p <= alpha => Opinion::Agrees,
        Some(_) => Opinion::Denies,
    }
}

/// True unless the randomisation test could reach the level and does not.
pub(super) fn confirmed(found: &Comparison) -> bool {
    opinion(found) != Opinion::Denies
}

/// How every line on it begins.
pub(super) fn begins(unit: &str) -> String {
    format!("A second opinion, dealing the {} out again at random,", plural(unit))
}

/// That it cannot confirm `what`: the smallest P value by the design, what it gave where that is another, and what a pair needs.
pub(super) fn out_of_reach(unit: &str, what: &str, (given, least): (Option<f64>, f64), needs: &str) -> String {
    let least = numbers::p_value(least);
    let given = given.map(numbers::p_value).filter(|given| *given != least);
    let given = given.map_or_else(String::new, |given| format!("it gives {given}, and "));
    format!(
        "{} cannot confirm {what}: {given}{least} is the smallest value that so few {} allow{needs}.",
        begins(unit),
        plural(unit)
    )
}

/// What one pair needs where several are judged together; nothing where it is asked as much as one alone.
pub(super) fn a_pair_needs(interval_level: f64, level: f64, tests: u64) -> String {
    if tests < 2 || interval_level <= level {
        return String::new();
    }
    format!(", and a pair needs {} where {tests} are judged together", numbers::number(1.0 - interval_level))
}
