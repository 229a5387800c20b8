//! One row per plant: the last step that each reached, put together by batch.

use std::collections::BTreeMap;

use super::cells::{Cells, part_names};
use super::days::Days;
use super::options::StepsOptions;
use crate::error::Issue;
use crate::steps::chain::Passed;
use crate::steps::held::StepsBatch;
use crate::trial::{Texts, plants as counted};

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
    parent: Option<String>,
    last: usize,
    times: u64,
    left: bool,
    labels: Vec<String>,
}

/// Reads all plants and counts them by batch; what is wrong is added to `issues`.
pub(super) fn plants(texts: &Texts, options: &StepsOptions, issues: &mut Vec<Issue>) -> Vec<StepsBatch> {
    let mut batches: BTreeMap<String, Counted> = BTreeMap::new();
    let mut known: BTreeMap<String, u64> = BTreeMap::new();
    let mut came_from = BTreeMap::<String, String>::new();
    let days = Days::of(texts, options, issues);
    let steps = options.steps.len();
    for (at, row) in texts.numbers().iter().enumerate() {
        if texts.is_blank(at) || options.leave_out.contains(row) {
            continue;
        }
        let cells = Cells { texts, at, row: *row };
        let plant = match plant(&cells, options, &days) {
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
        if let Some(parent) = &plant.parent {
            came_from.insert(plant.batch.clone(), parent.clone());
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
        counts.get_mut(plant.last).into_iter().for_each(|count| *count += plant.times);
    }
    let mut whole: BTreeMap<String, Counted> = BTreeMap::new();
    for (name, counted) in batches {
        let root = root(&name, &came_from);
        match whole.get_mut(&root) {
            Some(one) => one.add(&counted),
            None => {
                whole.insert(root, counted);
            }
        }
    }
    whole.into_iter().map(|(name, counted)| batch(name, counted)).collect()
}

impl Counted {
    /// The same with the plants of a part.
    fn add(&mut self, other: &Self) {
        self.failed.iter_mut().zip(&other.failed).for_each(|(sum, count)| *sum += count);
        self.left.iter_mut().zip(&other.left).for_each(|(sum, count)| *sum += count);
        self.row = self.row.min(other.row);
    }
}

/// The batch from which a batch came in the end; one that descends from itself stays what it is.
fn root(name: &str, came_from: &BTreeMap<String, String>) -> String {
    let mut at = name;
    for _ in 0..=came_from.len() {
        match came_from.get(at) {
            Some(parent) => at = parent,
            None => return at.to_owned(),
        }
    }
    name.to_owned()
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

fn plant(cells: &Cells<'_>, options: &StepsOptions, days: &Days<'_>) -> Result<Plant, Vec<Issue>> {
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
    let dates = days.read(cells, &mut issues);
    if let Some((last, step)) = last.zip(beyond(last, &dates, options)) {
        let reason = format!(
            "a date is written for {step:?}, though the last step is {:?}",
            options.steps.get(last).map_or("", String::as_str)
        );
        issues.push(cells.issue(
            "date_beyond_last_step",
            column,
            reason,
            "correct the last step, or take the date out",
        ));
    }
    let labels = options.levels().into_iter().map(|(_, column)| cells.label(column, &mut issues)).collect();
    let parent = options.parent.as_deref().and_then(|column| Some((column, cells.cell(column)?)));
    if let Some((column, cell)) = parent.filter(|(_, cell)| part_names(cell).len() > 1) {
        let reason = format!("{cell:?} names several batches, and a plant is of one");
        issues.push(cells.issue("plant_of_two_batches", column, reason, "write the batch that this plant came from"));
    }
    let times = match options.times.as_deref().and_then(|column| Some((column, cells.cell(column)?))) {
        None => 1,
        Some((column, cell)) => counted(cell).unwrap_or_else(|(code, reason, hint)| {
            issues.push(cells.issue(code, column, reason, hint));
            0
        }),
    };
    let names: Vec<String> = options.batch.iter().map(|column| cells.label(column, &mut issues)).collect();
    match last {
        Some(last) if issues.is_empty() => Ok(Plant {
            batch: names.join(" "),
            parent: parent.map(|(_, cell)| cell.to_owned()),
            last,
            times,
            left: left.is_some(),
            labels,
        }),
        _ => Err(issues),
    }
}

/// A step beyond the last one for which a date is written.
fn beyond<'a>(last: Option<usize>, dates: &[Option<i32>], options: &'a StepsOptions) -> Option<&'a str> {
    let dated = options.steps.iter().zip(dates).enumerate().skip(last? + 1);
    dated.into_iter().find_map(|(_, (step, date))| date.is_some().then_some(step.as_str()))
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
    StepsBatch { name, row, started, steps, states: Vec::new(), labels, dates: Vec::new() }
}
