//! What is averaged over where nothing in the trial tells of some of its combinations.

use std::collections::{BTreeMap, BTreeSet};

use crate::answer::Note;
use crate::models::{Ready, Value};
use crate::report::numbers::join;

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
    /// From combinations of the variables `free` and whether anything tells of them; none where all are told of, or none is.
    pub(super) fn of(ready: &Ready, free: &[usize], told: &BTreeMap<Vec<usize>, bool>) -> Option<Self> {
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
            "Averages are over the {} of {} combinations of {} of which this trial tells, the same ones for every level.",
            self.all.saturating_sub(self.cells.len()),
            self.all,
            join(&self.names)
        );
        Note::new("averaged_where_told", text)
    }
}

/// The codes that a cell has in some of its variables; numbers have none.
pub(super) fn codes_at(cell: &[Value], variables: &[usize]) -> Vec<usize> {
    let code = |value: &Value| if let Value::Level(level) = value { *level } else { 0 };
    variables.iter().filter_map(|at| cell.get(*at)).map(code).collect()
}
