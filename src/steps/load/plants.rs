//! One row per plant: the last step that each reached, put together by batch.

use std::collections::BTreeMap;

use super::cells::Cells;
use super::options::StepsOptions;
use crate::error::Issue;
use crate::steps::chain::Passed;
use crate::steps::held::StepsBatch;
use crate::trial::Texts;

/// Why a plant is followed no further though it did not fail.
const LEFT: [&str; 4] = ["young", "sold", "sampled", "moved"];

/// Plants of one batch by the last step they reached: those that failed at the next, and those that left alive.
struct Counted {
    row: u64,
    failed: Vec<u64>,
    left: Vec<u64>,
    labels: Vec<String>,
}

/// One plant.
struct Plant {
    batch: String,
    last: usize,
    left: bool,
    labels: Vec<String>,
}

/// Reads all plants and counts them by batch; what is wrong is added to `issues`.
pub(super) fn plants(texts: &Texts, options: &StepsOptions, issues: &mut Vec<Issue>) -> Vec<StepsBatch> {
    let mut batches: BTreeMap<String, Counted> = BTreeMap::new();
    let mut known: BTreeMap<String, u64> = BTreeMap::new();
    let steps = options.steps.len();
    for (at, row) in texts.numbers().iter().enumerate() {
        if texts.is_blank(at) || options.leave_out.contains(row) {
            continue;
        }
        let cells = Cells { texts, at, row: *row };
        let plant = match plant(&cells, options) {
            Ok(plant) => plant,
            Err(mut found) => {
                issues.append(&mut found);
                continue;
            }
        };
        if let Some(issue) = named_before(&cells, options, &mut known) {
            issues.push(issue);
            continue;
        }
        let new = || Counted { row: *row, failed: vec![0; steps], left: vec![0; steps], labels: plant.labels.clone() };
        let counted = batches.entry(plant.batch.clone()).or_insert_with(new);
        if let Some((one, two)) = counted.labels.iter().zip(&plant.labels).find(|(one, two)| one != two) {
            let column = options.levels().into_iter().zip(counted.labels.iter().zip(&plant.labels));
            let column = column.into_iter().find(|(_, (one, two))| one != two).map_or("", |((_, name), _)| name);
            let reason = format!("batch {:?} is {one:?} in row {} and {two:?} here", plant.batch, counted.row);
            issues.push(cells.issue(
                "batch_of_two_kinds",
                column,
                reason,
                "correct the label, or give each kind a batch of its own",
            ));
            continue;
        }
        let counts = if plant.left { &mut counted.left } else { &mut counted.failed };
        counts.get_mut(plant.last).into_iter().for_each(|count| *count += 1);
    }
    batches.into_iter().map(|(name, counted)| batch(name, counted)).collect()
}

/// The issue of a plant whose name stood in a row before.
fn named_before(cells: &Cells<'_>, options: &StepsOptions, known: &mut BTreeMap<String, u64>) -> Option<Issue> {
    let column = options.plant.as_deref()?;
    let name = cells.cell(column)?.to_owned();
    let Some(first) = known.get(&name) else {
        known.insert(name, cells.row);
        return None;
    };
    let reason = format!("plant {name:?} stands in row {first} too");
    Some(cells.issue("plant_twice", column, reason, "give each plant one row, in one batch"))
}

fn plant(cells: &Cells<'_>, options: &StepsOptions) -> Result<Plant, Vec<Issue>> {
    let mut issues = Vec::new();
    let column = options.last_step.as_deref().unwrap_or_default();
    let last = match cells.cell(column) {
        None => {
            let hint = "write the last step that the plant reached";
            issues.push(cells.issue("missing_step", column, "nothing is written here".to_owned(), hint));
            None
        }
        Some(step) => {
            let found = options.steps.iter().position(|known| known.eq_ignore_ascii_case(step));
            if found.is_none() {
                let hint = format!("write one of {}", options.steps.join(", "));
                issues.push(cells.issue("unknown_step", column, format!("{step:?} is no step of the chain"), &hint));
            }
            found
        }
    };
    let left = options.left.as_deref().and_then(|column| Some((column, cells.cell(column)?)));
    if let Some((column, word)) = left.filter(|(_, word)| !LEFT.iter().any(|known| known.eq_ignore_ascii_case(word))) {
        let hint = "write young, sold, sampled or moved; blank where the plant failed or reached the end";
        issues.push(cells.issue("unknown_status", column, format!("{word:?} is not known"), hint));
    }
    let labels = options.levels().into_iter().map(|(_, column)| cells.label(column, &mut issues)).collect();
    let names: Vec<String> = options.batch.iter().map(|column| cells.label(column, &mut issues)).collect();
    match last {
        Some(last) if issues.is_empty() => Ok(Plant { batch: names.join(" "), last, left: left.is_some(), labels }),
        _ => Err(issues),
    }
}

/// The steps of a batch: those that reached one and did not leave alive, and those that passed it.
fn batch(name: String, counted: Counted) -> StepsBatch {
    let Counted { row, failed, left, labels } = counted;
    let started = failed.iter().chain(&left).sum();
    let mut here: u64 = started;
    // Where all that are left are too young or went away alive, nothing is known from there on; where none is left, none passes.
    let mut gone = false;
    let mut steps = Vec::new();
    for (failed, left) in failed.iter().zip(&left).take(failed.len().saturating_sub(1)) {
        let reached = here - left;
        gone |= *left > 0 && reached == 0;
        here = reached - failed;
        steps.push((!gone).then_some(Passed { reached, passed: here }));
    }
    StepsBatch { name, row, started, steps, states: Vec::new(), labels }
}
