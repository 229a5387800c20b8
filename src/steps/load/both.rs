//! Counts of batches for early steps with one row per plant for later ones: plants become parts of the batch that they were counted in.

use std::collections::BTreeMap;

use super::options::StepsOptions;
use super::plants::Counted;
use super::rows::Row;
use crate::error::Issue;

/// Adds the plants of each batch to its row, as parts that begin at the last step counted with them; what does not agree is added to `issues`.
pub(super) fn with_plants(
    rows: &mut Vec<Row>,
    plants: &BTreeMap<String, Counted>,
    options: &StepsOptions,
    issues: &mut Vec<Issue>,
) {
    let mut split = BTreeMap::<(String, usize), u64>::new();
    for row in rows.iter() {
        for parent in &row.parents {
            *split.entry((parent.clone(), row.first())).or_default() += row.count(row.first());
        }
    }
    let mut unknown: BTreeMap<&str, u64> = plants.iter().map(|(name, one)| (name.as_str(), one.row)).collect();
    let mut parts = Vec::new();
    for row in rows.iter_mut() {
        unknown.remove(row.name.as_str());
        let Some(counted) = plants.get(&row.name).filter(|_| !row.bad) else { continue };
        let given = |at: usize| split.get(&(row.name.clone(), at)).copied().unwrap_or_default();
        match begins(row, counted, given).and_then(|first| agrees(row, counted, first).map(|()| first)) {
            Ok(first) => {
                let one = |(at, (labels, reached)): (usize, (&Vec<String>, &super::plants::Reached))| {
                    part(row, at, labels, &reached.from(first), first)
                };
                parts.extend(counted.groups.iter().enumerate().map(one));
                // From there on plants carry the counts.
                row.counts.iter_mut().skip(first + 1).for_each(|count| *count = None);
                row.gone.iter_mut().skip(first + 1).for_each(|gone| *gone = 0);
            }
            Err((at, reason)) => {
                row.bad = true;
                let hint = "correct the count, or the rows of its plants in plants=";
                let issue = Issue::of_input("plants_do_not_agree", reason, hint).at_row(row.row);
                let issue = options.steps.get(at).into_iter().fold(issue, |issue, step| issue.in_column(step));
                issues.push(issue.with_value(row.count(at).to_string()));
            }
        }
    }
    rows.extend(parts);
    for (name, row) in unknown {
        let reason = format!("in plants=, batch {name:?} has no row of counts");
        let hint = "write the name as it stands in the counts, or give the batch a row there";
        let issue = Issue::of_input("plants_of_no_batch", reason, hint).at_row(row).with_value(name);
        issues.push(options.batch.last().into_iter().fold(issue, |issue, column| issue.in_column(column)));
    }
}

/// What does not agree, and at which column of the chain.
type Unlike = (usize, String);

/// The last column at which as many were counted as there are plants, and that all of these reached.
fn begins(row: &Row, counted: &Counted, given: impl Fn(usize) -> u64) -> Result<usize, Unlike> {
    let (all, last) = (counted.plants(), row.last());
    let least = counted.least();
    if least.is_none() {
        return Err((last, format!("batch {:?} has no plant in plants=", row.name)));
    }
    let most = last.min(least.unwrap_or_default());
    let had = |at: usize| row.stayed(at).saturating_sub(given(at));
    let found = (0..=most).rev().find(|at| row.counts.get(*at).is_some_and(Option::is_some) && had(*at) == all);
    found.ok_or_else(|| {
        let reason = format!("batch {:?} has {} here and {all} plants in plants=", row.name, had(most));
        (most, reason)
    })
}

/// Counts behind the first column that plants are listed from have to be those of the plants.
fn agrees(row: &Row, counted: &Counted, first: usize) -> Result<(), Unlike> {
    for at in first + 1..=row.last() {
        let (here, listed) = (row.count(at), counted.came_to(at));
        if here != listed {
            let reason =
                format!("batch {:?} has {here} here, and {listed} of its plants in plants= came to it", row.name);
            return Err((at, reason));
        }
    }
    Ok(())
}

/// Plants that are alike as a part of their batch.
fn part(row: &Row, at: usize, labels: &[String], counts: &[(Option<u64>, u64)], first: usize) -> Row {
    let before = || std::iter::repeat_n(None, first);
    Row {
        name: format!("plants {} of {}", at + 1, row.name),
        row: row.row,
        counts: before().chain(counts.iter().map(|one| one.0)).collect(),
        gone: std::iter::repeat_n(0, first).chain(counts.iter().map(|one| one.1)).collect(),
        states: vec![None; row.states.len()],
        labels: labels.iter().map(|label| Some(label.clone()).filter(|label| !label.is_empty())).collect(),
        parents: vec![row.name.clone()],
        dates: vec![None; row.dates.len()],
        bad: false,
    }
}
