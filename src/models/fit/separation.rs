//! Naming the cells whose fitted rate runs to 0 or 1.

use crate::models::enter::Frame;
use crate::trial::Outcome;

/// The separated counts as "strength 5000 (all 80 rooted)", each combination of values once.
#[must_use]
pub(super) fn cells(frame: &Frame, runaway: &[usize], outcome: Outcome) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for index in runaway {
        let Some(values) = frame.data.values.get(*index) else { continue };
        let labels = frame.variables.iter().zip(&values).filter(|(variable, _)| is_asked(frame, &variable.name));
        let name = labels.map(|(variable, value)| format!("{} {}", variable.name, variable.label(*value)));
        let all = frame.data.rooted.get(*index).is_some_and(|y| *y > 0.0);
        let (name, all) = (name.collect::<Vec<_>>().join(", "), if all { "all" } else { "none" });
        let cell = format!("{name} ({all} {})", outcome.words().rooted);
        if !out.contains(&cell) {
            out.push(cell);
        }
    }
    out
}

fn is_asked(frame: &Frame, name: &str) -> bool {
    frame.terms.iter().any(|term| term.asked && term.name == name) || frame.terms.iter().all(|term| !term.asked)
}
