//! What is averaged over where nothing in the trial tells of some of its combinations.

use std::collections::{BTreeMap, BTreeSet};

use crate::answer::Note;
use crate::models::Ready;
use crate::report::numbers::join;
use crate::trial::Value;

/// Columns that are averaged over and are partly one another's, as a worker of one bench alone is.
#[derive(Debug, Clone)]
pub(super) struct Untold {
    /// Their places among the variables.
    columns: Vec<usize>,
    names: Vec<String>,
    /// Codes of the combinations to leave out, of as many in all.
    cells: BTreeSet<Vec<usize>>,
    all: usize,
}

impl Untold {
    /// From combinations of the variables `free` with the levels at which the trial tells of them; none where all are told of, or none is.
    pub(super) fn of(ready: &Ready, free: &[usize], at: &BTreeMap<Vec<usize>, BTreeSet<Vec<usize>>>) -> Option<Self> {
        let told = kept(at);
        if !(told.values().any(|one| *one) && told.values().any(|one| !one)) {
            return None;
        }
        // The columns that decide it: with another level there, and all else alike, it would be otherwise.
        let decides = |at: &usize| {
            let mut found: BTreeMap<Vec<usize>, bool> = BTreeMap::new();
            told.iter().any(|(key, known)| {
                let rest = key.iter().enumerate().filter(|(place, _)| place != at).map(|(_, code)| *code).collect();
                found.insert(rest, *known).is_some_and(|before| before != *known)
            })
        };
        let places: Vec<usize> = (0..free.len()).filter(decides).collect();
        let part = |key: &Vec<usize>| -> Vec<usize> { places.iter().filter_map(|at| key.get(*at).copied()).collect() };
        let all: BTreeSet<Vec<usize>> = told.keys().map(part).collect();
        let cells = told.iter().filter(|(_, known)| !**known).map(|(key, _)| part(key)).collect();
        let columns: Vec<usize> = places.iter().filter_map(|at| free.get(*at).copied()).collect();
        let named = columns.iter().filter_map(|at| ready.frame.variables.get(*at));
        let names = named.map(|variable| variable.name.clone()).collect();
        Some(Self { columns, names, cells, all: all.len() })
    }

    /// True for a cell that is left out.
    pub(super) fn holds(&self, cell: &[Value]) -> bool {
        self.cells.contains(&codes_at(cell, &self.columns))
    }

    /// What averages are over.
    pub(super) fn note(&self) -> Note {
        let text = format!(
            "Averages are over the {} of {} {} of {} of which this trial tells, the same ones for each level shown.",
            self.all.saturating_sub(self.cells.len()),
            self.all,
            if self.names.len() > 1 { "combinations" } else { "levels" },
            join(&self.names)
        );
        Note::new("averaged_where_told", text)
    }
}

/// Which combinations to average over: those that are told of at any level; where this leaves fewer than two levels with a rate, those told
/// of at each of the most levels that can be set beside each other.
fn kept(at: &BTreeMap<Vec<usize>, BTreeSet<Vec<usize>>>) -> BTreeMap<Vec<usize>, bool> {
    let anywhere: BTreeMap<Vec<usize>, bool> =
        at.iter().map(|(key, levels)| (key.clone(), !levels.is_empty())).collect();
    let known = || at.values().filter(|levels| !levels.is_empty());
    let Some(first) = known().next() else { return anywhere };
    let whole = known().skip(1).fold(first.clone(), |all, levels| all.intersection(levels).cloned().collect());
    if whole.len() > 1 {
        return anywhere;
    }
    let holds = |set: &BTreeSet<Vec<usize>>| known().filter(|levels| levels.is_superset(set)).count();
    let largest = known().filter(|levels| levels.len() > 1).max_by_key(|levels| (levels.len(), holds(levels)));
    let Some(largest) = largest else { return anywhere };
    at.iter().map(|(key, levels)| (key.clone(), levels.is_superset(largest))).collect()
}

/// The codes that a cell has in some of its variables; numbers have none.
pub(super) fn codes_at(cell: &[Value], variables: &[usize]) -> Vec<usize> {
    let code = |value: &Value| if let Value::Level(level) = value { *level } else { 0 };
    variables.iter().filter_map(|at| cell.get(*at)).map(code).collect()
}
