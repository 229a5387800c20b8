//! Batches that were split from others: none can descend from itself.

use std::collections::{BTreeMap, BTreeSet};

use super::options::WatchOptions;
use super::rows::Reading;
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
