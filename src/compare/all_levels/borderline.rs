//! Pairs with a small adjusted P value whose limits cross 0: why the two part, and which question gives both from one family.

use super::numbers::{AllComparisons, AllOptions};
use crate::report::whole;
use crate::trial::{Outcome, Units};

/// What keeps a pair with a small adjusted P value from being told apart.
pub(super) const CROSSES: &str = "but the interval crosses 0";

/// "; 1 pair is borderline, small P but limits across 0", for the decision.
pub(super) fn tail(count: usize) -> Option<String> {
    let verb = if count == 1 { "is" } else { "are" };
    (count > 0)
        .then(|| format!("; {} {verb} borderline, small P but limits across 0", whole(count as u64, "pair", "pairs")))
}

/// Why P values and limits part, and the question whose P values and limits agree.
pub(super) fn line(count: usize, found: &AllComparisons, options: &AllOptions, units: &Units) -> Option<String> {
    let what = if count == 1 { "that pair" } else { "those pairs" };
    (count > 0).then(|| {
        format!(
            "P and limits part at {what} since P values are adjusted step by step, while the limits hold for all {} at once and are wider; {} judges all of them at once by one family of P values and limits, which agree. Report one of the two answers, not the better.",
            whole(found.n_tests, "pair", "pairs"),
            call(found, options, units)
        )
    })
}

/// The call whose simultaneous limits agree with their P values: contrasts of a model of all treatments.
pub(super) fn call(found: &AllComparisons, options: &AllOptions, units: &Units) -> String {
    let compare = &options.compare;
    let others = units.treatments.iter().filter(|one| one.name != found.factor && one.levels.len() > 1);
    let mut effects = vec![found.factor.as_str()];
    effects.extend(others.map(|one| one.name.as_str()));
    // Where only a part was compared, differences there must not lean on those elsewhere.
    let together: Vec<String> = (compare.at.keys())
        .filter(|name| effects.contains(&name.as_str()))
        .map(|name| format!("({:?}, {name:?})", found.factor))
        .collect();
    let together =
        if together.is_empty() { String::new() } else { format!(", interactions=[{}]", together.join(", ")) };
    for name in compare.at.keys() {
        if !effects.contains(&name.as_str()) {
            effects.push(name);
        }
    }
    let mut asked = vec![format!("{:?}", found.factor)];
    asked.extend(found.against.as_ref().map(|level| format!("against={}", value(level))));
    if !compare.at.is_empty() {
        let pairs: Vec<String> = compare.at.iter().map(|(name, level)| format!("{name:?}: {}", value(level))).collect();
        asked.push(format!("at={{{}}}", pairs.join(", ")));
    }
    let outcome = match compare.outcome {
        Outcome::Take => "",
        Outcome::Survival => ", outcome=\"survival\"",
        Outcome::RootedOfSurvivors => ", outcome=\"rooted-of-survivors\"",
        Outcome::GradeReached => ", outcome=\"grade-reached\"",
    };
    format!("trial.model({effects:?}{together}{outcome}).contrasts({})", asked.join(", "))
}

/// A level as it is written in a call: a number as it is, a word in quotation marks.
fn value(level: &str) -> String {
    if level.parse::<f64>().is_ok_and(f64::is_finite) { level.to_owned() } else { format!("{level:?}") }
}
