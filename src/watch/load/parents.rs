//! Batches that were split from others: none can descend from itself, nor hold more plants than it could be given.

use std::collections::{BTreeMap, BTreeSet};

use super::options::WatchOptions;
use super::rows::Reading;
use crate::answer::Note;
use crate::error::Issue;

/// Names of a circle that a message tells.
const TOLD: usize = 4;

/// Every row of a batch that descends from itself.
pub(super) fn circles(named: &BTreeMap<String, Vec<Reading>>, options: &WatchOptions) -> Vec<Issue> {
    let Some(column) = &options.parent else { return Vec::new() };
    let parent = |readings: &Vec<Reading>| readings.iter().find_map(|reading| reading.parent.clone());
    let parents: BTreeMap<&String, String> =
        named.iter().filter_map(|(name, readings)| Some((name, parent(readings)?))).collect();
    let mut seen: BTreeSet<&String> = BTreeSet::new();
    let mut issues = Vec::new();
    for start in parents.keys() {
        let mut path: Vec<&String> = Vec::new();
        let mut next = Some(*start);
        while let Some(at) = next {
            if !seen.insert(at) {
                // Seen on this path it closes a circle; seen before it was followed to its end.
                let from = path.iter().position(|name| *name == at).unwrap_or(path.len());
                let members = path.get(from..).unwrap_or_default();
                let readings = members.iter().filter_map(|name| named.get(*name)).flatten();
                issues.extend(readings.filter_map(|reading| told(reading, members, column)));
                break;
            }
            path.push(at);
            next = parents.get(at);
        }
    }
    issues
}

fn told(reading: &Reading, members: &[&String], column: &str) -> Option<Issue> {
    let (name, parent) = (&reading.batch, reading.parent.as_ref()?);
    let reason = if members.len() == 1 {
        format!("batch {name:?} is named as split from itself")
    } else {
        // From the batch of the row back to it.
        let from = members.iter().position(|one| *one == name).unwrap_or(0);
        let around = (1..members.len()).filter_map(|step| members.get((from + step) % members.len()));
        let mut line: Vec<String> = around.take(TOLD).map(|one| format!("{one:?}")).collect();
        if members.len() > TOLD + 1 {
            line.push("others".to_owned());
        }
        format!("batch {name:?} descends from itself, by way of {}", line.join(", "))
    };
    let hint = "correct what it was split from, in one of these rows";
    let issue = Issue::of_input("parents_in_circle", reason, hint).at_row(reading.row).in_column(column);
    Some(issue.with_value(parent.as_str()))
}

/// Batches with more plants than the one that they were split from began with: where a parent stays in the record, plants given to others have to
/// leave it, or they count twice.
pub(super) fn too_many(named: &BTreeMap<String, Vec<Reading>>, options: &WatchOptions) -> Vec<Issue> {
    let Some(column) = &options.parent else { return Vec::new() };
    let began = |reading: &Reading| reading.started + reading.removed;
    let one = |readings: &Vec<Reading>| {
        let reading = readings.iter().find(|reading| reading.parent.is_some())?;
        let name = reading.parent.as_ref()?;
        let parent = named.get(name)?.first()?;
        if began(reading) <= began(parent) {
            return None;
        }
        let (batch, row) = (&reading.batch, parent.row);
        let reason = format!(
            "batch {batch:?} began with {} plants, and {name:?}, from which it was split, with {} (row {row})",
            began(reading),
            began(parent)
        );
        let hint = "correct one of the numbers, or what it was split from";
        let issue = Issue::of_input("split_above_parent", reason, hint).at_row(reading.row).in_column(column);
        Some(issue.with_value(name.as_str()))
    };
    named.values().filter_map(one).collect()
}

/// That batches were split from some that the record does not hold, or that a parent was not told of the plants it gave away.
pub(super) fn strangers(named: &BTreeMap<String, Vec<Reading>>) -> Vec<Note> {
    let parents =
        || named.values().filter_map(|readings| Some((readings, readings.iter().find_map(|one| one.parent.as_ref())?)));
    let unknown: BTreeSet<&String> =
        parents().map(|(_, name)| name).filter(|name| !named.contains_key(*name)).collect();
    let mut given: BTreeMap<&String, u64> = BTreeMap::new();
    for (readings, name) in parents() {
        let plants = readings.first().map_or(0, |reading| reading.started + reading.removed);
        *given.entry(name).or_default() += plants;
    }
    let kept: Vec<&String> = given
        .iter()
        .filter(|(name, plants)| {
            named.get(**name).and_then(|all| all.last()).is_some_and(|last| last.removed < **plants)
        })
        .map(|(name, _)| *name)
        .collect();
    let told = |names: &[&String]| {
        let shown: Vec<String> = names.iter().take(TOLD).map(|name| format!("{name:?}")).collect();
        let more = names.len().saturating_sub(TOLD);
        if more > 0 { format!("{} and {more} more", shown.join(", ")) } else { shown.join(", ") }
    };
    let mut notes = Vec::new();
    if !unknown.is_empty() {
        let names: Vec<&String> = unknown.into_iter().collect();
        let text = format!(
            "Batches were split from {}, which the record does not hold; correct the names, or take these rows in.",
            told(&names)
        );
        notes.push(Note::new("unknown_parents", text));
    }
    if !kept.is_empty() {
        let text = format!(
            "Plants of {} that went to other batches are not among those taken away from it (removed=): they count twice, and those that are missing there as dead.",
            told(&kept)
        );
        notes.push(Note::new("split_counted_twice", text));
    }
    notes
}
