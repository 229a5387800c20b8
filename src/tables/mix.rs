//! Tests of a table that know no other treatments, beside a mix of these that is uneven.

use crate::answer::Note;
use crate::estimate::TestName;
use crate::report::join;
use crate::trial::{Factor, Units, uneven_beside};

/// Tests on counts added up over everything but the treatment.
const KNOW_NO_OTHERS: [TestName; 5] = [
    TestName::Donner,
    TestName::RaoScott,
    TestName::RaoScottFirstOrder,
    TestName::RaoScottSecondOrder,
    TestName::EffectiveCochranArmitage,
];

/// That such lines take an uneven mix of other treatments for the treatment; none where the mix is even or no such line is there. What
/// tests stay `within` is no part of the mix. Lines are named as `said` has them.
pub(crate) fn lines_without_mix(
    units: &Units,
    (factor, within): (&str, Option<&str>),
    lines: &[TestName],
    said: impl Fn(&str) -> String,
) -> Option<Note> {
    let treatment = units.factor(factor)?;
    let by: Vec<&Factor> = within.and_then(|name| units.factor(name)).into_iter().chain([treatment]).collect();
    let all: Vec<usize> = (0..units.len()).collect();
    let beside: Vec<String> = uneven_beside(&units.treatments, &by, &all).iter().map(|one| one.name.clone()).collect();
    let mut blind: Vec<String> = Vec::new();
    for line in lines.iter().filter(|line| KNOW_NO_OTHERS.contains(line)).map(|line| line.name()) {
        // Tests within each level of another column have the same names.
        let line = said(line);
        if !blind.contains(&line) {
            blind.push(line);
        }
    }
    if beside.is_empty() || blind.is_empty() {
        return None;
    }
    let text = format!(
        "The levels of {factor} hold {} in different shares. The lines {} know no other treatments and take that mix for {factor}: do not \
         report them here; the test that leads keeps the mix apart.",
        join(&beside),
        join(&blind)
    );
    Some(Note::new("lines_without_mix", text))
}
