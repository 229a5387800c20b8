//! One row per plant: the last step that each reached, put together by batch.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use super::cells::{Cells, part_names};
use super::days::Days;
use super::options::StepsOptions;
use super::parts::{Group, levels};
use super::totals::Totals;
use crate::error::{Issue, Severity, nearest};
use crate::report::capital;
use crate::steps::chain::Passed;
use crate::steps::held::StepsBatch;
use crate::trial::{Texts, plants as counted};

/// Why a plant is followed no further though it did not fail.
const LEFT: [&str; 4] = ["young", "sold", "sampled", "moved"];

/// Plants of one batch.
pub(super) struct Counted {
    /// The row of the first.
    pub(super) row: u64,
    /// The levels of the first.
    labels: Vec<String>,
    /// By their levels, since plants of a batch can have several treatments.
    pub(super) groups: BTreeMap<Vec<String>, Reached>,
}

/// Plants by the last step they reached: those that failed at the next, and those that left alive.
pub(super) struct Reached {
    failed: Vec<u64>,
    left: Vec<u64>,
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

/// Reads all plants and makes batches of them; what is wrong is added to `issues`.
pub(super) fn plants(texts: &Texts, options: &StepsOptions, issues: &mut Vec<Issue>) -> Vec<StepsBatch> {
    let (batches, came_from) = by_batch(texts, options, issues);
    let whole = with_parts(batches, &came_from, options, issues);
    let begins = options.begins();
    whole.into_iter().map(|(name, counted)| batch(name, counted, &begins)).collect()
}

/// Reads all plants and counts them by batch, with the batch that each came from.
pub(super) fn by_batch(
    texts: &Texts,
    options: &StepsOptions,
    issues: &mut Vec<Issue>,
) -> (BTreeMap<String, Counted>, BTreeMap<String, String>) {
    let mut batches: BTreeMap<String, Counted> = BTreeMap::new();
    let mut known: BTreeMap<String, u64> = BTreeMap::new();
    let mut came_from = BTreeMap::<String, String>::new();
    let reader = Reader { days: Days::of(texts, options, issues), begins: options.begins(), options };
    let mut totals = Totals::of(options);
    let nothing = vec![0; options.steps.len()];
    for (at, row) in texts.numbers().iter().enumerate() {
        if texts.is_blank(at) || options.leave_out.contains(row) {
            continue;
        }
        let cells = Cells { texts, at, row: *row };
        if let Some(issue) = totals.issue(&cells) {
            issues.push(issue);
            continue;
        }
        let Some(plant) = reader.plant(&cells, issues) else { continue };
        if let Some(issue) = named_before(&cells, options, &mut known) {
            issues.push(issue);
            continue;
        }
        let new = || Counted { row: *row, labels: plant.labels.clone(), groups: BTreeMap::new() };
        let counted = batches.entry(plant.batch.clone()).or_insert_with(new);
        let other = two_origins(&cells, &plant, options, &mut came_from);
        if let Some(issue) = other.or_else(|| two_kinds(&cells, &plant, counted, options)) {
            issues.push(issue);
            continue;
        }
        let fresh = || Reached { failed: nothing.clone(), left: nothing.clone() };
        let reached = counted.groups.entry(plant.labels).or_insert_with(fresh);
        let counts = if plant.left { &mut reached.left } else { &mut reached.failed };
        counts.get_mut(plant.last).into_iter().for_each(|count| *count += plant.times);
    }
    batches.retain(|_, counted| !counted.groups.is_empty());
    (batches, came_from)
}

/// Parts together with what they came from.
fn with_parts(
    batches: BTreeMap<String, Counted>,
    came_from: &BTreeMap<String, String>,
    options: &StepsOptions,
    issues: &mut Vec<Issue>,
) -> BTreeMap<String, Counted> {
    let mut whole: BTreeMap<String, Counted> = BTreeMap::new();
    let mut wrong = BTreeSet::new();
    for (name, counted) in batches {
        let placed = |issue: Issue| {
            let issue = issue.at_row(counted.row);
            options.parent.iter().fold(issue, |issue, column| issue.in_column(column))
        };
        let Some(root) = root(&name, came_from) else {
            let reason = format!("batch {name:?} descends from itself");
            let hint = "correct what it was split from, in one of these rows";
            issues.push(placed(Issue::of_input("parents_in_circle", reason, hint)));
            continue;
        };
        let Some(one) = whole.get_mut(&root) else {
            whole.insert(root, counted);
            continue;
        };
        if let Some((column, first, other)) = unlike(&one.labels, &counted.labels, options) {
            let reason = format!(
                "{name:?} is {other:?} and what it came from or was split with {first:?} (row {}), and nothing tells at which step they parted",
                one.row
            );
            let hint = format!(
                "name the column with the step before which they parted, treatments={{{column:?}: {:?}}}, or load without it",
                options.steps.last().map_or("", String::as_str)
            );
            let issue = Issue::of_input("parts_of_two_kinds", reason, hint).at_row(counted.row).in_column(column);
            issues.push(issue.with_value(other));
            wrong.insert(root);
            continue;
        }
        one.add(counted);
    }
    whole.retain(|root, _| !wrong.contains(root));
    whole
}

/// The first column in which all plants have to be alike and these two are not.
fn unlike<'a>(one: &'a [String], two: &'a [String], options: &'a StepsOptions) -> Option<(&'a str, &'a str, &'a str)> {
    let columns = options.levels().into_iter().zip(one.iter().zip(two));
    let unlike = |((role, _), (one, two)): &((&str, &str), (&String, &String))| *role != "treatments" && one != two;
    columns.into_iter().find(unlike).map(|((_, column), (one, two))| (column, one.as_str(), two.as_str()))
}

/// The issue of a plant that is of another kind than the first of its batch.
fn two_kinds(cells: &Cells<'_>, plant: &Plant, counted: &Counted, options: &StepsOptions) -> Option<Issue> {
    let (column, one, two) = unlike(&counted.labels, &plant.labels, options)?;
    let reason = format!("batch {:?} is {one:?} in row {} and {two:?} here", plant.batch, counted.row);
    let hint = "correct the label, or give each kind a batch of its own; what plants of a batch get at a later step goes into treatments=";
    Some(cells.issue("batch_of_two_kinds", column, reason, hint))
}

/// The issue of a plant whose batch came from another one by an earlier row.
fn two_origins(
    cells: &Cells<'_>,
    plant: &Plant,
    options: &StepsOptions,
    came_from: &mut BTreeMap<String, String>,
) -> Option<Issue> {
    let (parent, column) = (plant.parent.as_ref()?, options.parent.as_deref()?);
    let first = came_from.entry(plant.batch.clone()).or_insert_with(|| parent.clone());
    if first == parent {
        return None;
    }
    let reason = format!("batch {:?} came from {first:?} by a row above and from {parent:?} here", plant.batch);
    Some(cells.issue("batch_of_two_origins", column, reason, "correct one of the two, or the name of the batch"))
}

impl Counted {
    /// All plants.
    pub(super) fn plants(&self) -> u64 {
        self.came_to(0)
    }

    /// Plants whose last step is this one or a later one.
    pub(super) fn came_to(&self, step: usize) -> u64 {
        let groups =
            self.groups.values().flat_map(|one| one.failed.iter().skip(step).chain(one.left.iter().skip(step)));
        groups.sum()
    }

    /// The earliest last step of a plant; None where there is no plant.
    pub(super) fn least(&self) -> Option<usize> {
        let first = |counts: &[u64]| counts.iter().position(|count| *count > 0);
        self.groups.values().flat_map(|one| [first(&one.failed), first(&one.left)]).flatten().min()
    }

    /// The same with the plants of a part.
    fn add(&mut self, other: Self) {
        for (labels, reached) in other.groups {
            match self.groups.entry(labels) {
                Entry::Vacant(place) => {
                    place.insert(reached);
                }
                Entry::Occupied(mut place) => place.get_mut().add(&reached),
            }
        }
        self.row = self.row.min(other.row);
    }
}

impl Reached {
    fn add(&mut self, other: &Self) {
        self.failed.iter_mut().zip(&other.failed).for_each(|(sum, count)| *sum += count);
        self.left.iter_mut().zip(&other.left).for_each(|(sum, count)| *sum += count);
    }

    /// From a step on that all plants reached: those that came to each, None where that is not known, and those that left alive after it.
    pub(super) fn from(&self, first: usize) -> Vec<(Option<u64>, u64)> {
        let (started, steps) = self.steps();
        let came = |at: usize| match at.checked_sub(1) {
            None => Some(started),
            Some(before) => steps.get(before).copied().flatten().map(|one| one.passed),
        };
        self.left.iter().enumerate().skip(first).map(|(at, left)| (came(at), *left)).collect()
    }

    /// Plants at the start, and the steps: those that reached one and did not leave alive, and those that passed it.
    fn steps(&self) -> (u64, Vec<Option<Passed>>) {
        let started = self.failed.iter().chain(&self.left).sum();
        let mut here: u64 = started;
        // Where all that are left are too young or went away alive, nothing is known from there on; where none is left, none passes.
        let mut gone = false;
        let mut steps = Vec::new();
        for (failed, left) in self.failed.iter().zip(&self.left).take(self.failed.len().saturating_sub(1)) {
            let reached = here - left;
            gone |= *left > 0 && reached == 0;
            here = reached - failed;
            steps.push((!gone).then_some(Passed { reached, passed: here }));
        }
        (started, steps)
    }
}

/// A batch of these plants.
fn batch(name: String, counted: Counted, begins: &[usize]) -> StepsBatch {
    let known = |label: &String| Some(label.clone()).filter(|label| !label.is_empty());
    let of = |(labels, reached): (&Vec<String>, &Reached)| (labels.iter().map(known).collect(), reached.steps().1);
    let groups: Vec<Group> = counted.groups.iter().map(of).collect();
    let whole = counted.groups.into_values().reduce(|mut all, one| {
        all.add(&one);
        all
    });
    let (started, steps) = whole.map_or_else(Default::default, |whole| whole.steps());
    let (labels, parts) = levels(groups, begins);
    StepsBatch { name, row: counted.row, started, steps, states: Vec::new(), labels, dates: Vec::new(), parts }
}

/// The batch from which a batch came in the end; None of one that descends from itself.
fn root(name: &str, came_from: &BTreeMap<String, String>) -> Option<String> {
    let mut at = name;
    for _ in 0..=came_from.len() {
        match came_from.get(at) {
            Some(parent) => at = parent,
            None => return Some(at.to_owned()),
        }
    }
    None
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

/// What is needed to read a plant.
struct Reader<'a> {
    options: &'a StepsOptions,
    days: Days<'a>,
    /// The column of the chain from which on levels of each column can differ.
    begins: Vec<usize>,
}

impl Reader<'_> {
    /// The plant of a row; None where something is wrong with it, which is added to `all`.
    fn plant(&self, cells: &Cells<'_>, all: &mut Vec<Issue>) -> Option<Plant> {
        let mut issues = Vec::new();
        let options = self.options;
        let last = last_step(cells, options, &mut issues);
        let left = options.left.as_deref().and_then(|column| Some((column, cells.cell(column)?)));
        if let Some((column, word)) =
            left.filter(|(_, word)| !LEFT.iter().any(|known| known.eq_ignore_ascii_case(word)))
        {
            let hint = "write young, sold, sampled or moved; blank where the plant failed or reached the end";
            issues.push(cells.issue("unknown_status", column, format!("{word:?} is not known"), hint));
        }
        let dates = self.days.read(cells, |_| true, &mut issues);
        if let Some((last, step)) = last.zip(beyond(last, &dates, options)) {
            let reason = format!(
                "a date is written for {step:?}, though the last step is {:?}",
                options.steps.get(last).map_or("", String::as_str)
            );
            let hint = "correct the last step, or take the date out";
            let column = options.last_step.as_deref().unwrap_or_default();
            issues.push(cells.issue("date_beyond_last_step", column, reason, hint));
        }
        // A treatment is missing only where the plant came to it.
        let label = |((role, column), from): ((&str, &str), &usize), issues: &mut Vec<Issue>| {
            let early = role == "treatments" && last.is_some_and(|last| last < *from);
            if early || cells.texts.column(column).is_none() {
                cells.cell(column).unwrap_or_default().to_owned()
            } else {
                cells.label(column, issues)
            }
        };
        let labels = options.levels().into_iter().zip(&self.begins).map(|one| label(one, &mut issues)).collect();
        let parent = options.parent.as_deref().and_then(|column| Some((column, cells.cell(column)?)));
        if let Some((column, cell)) = parent.filter(|(_, cell)| part_names(cell).len() > 1) {
            let reason = format!("{cell:?} names several batches, and a plant is of one");
            let hint = "write the batch that this plant came from";
            issues.push(cells.issue("plant_of_two_batches", column, reason, hint));
        }
        let times = match options.times.as_deref().and_then(|column| Some((column, cells.cell(column)?))) {
            None => 1,
            Some((column, cell)) => counted(cell).unwrap_or_else(|(code, reason, hint)| {
                issues.push(cells.issue(code, column, reason, hint));
                0
            }),
        };
        let names: Vec<String> = options.batch.iter().map(|column| cells.label(column, &mut issues)).collect();
        let sound = issues.iter().all(|issue| issue.severity != Severity::Problem);
        all.append(&mut issues);
        last.filter(|_| sound).map(|last| Plant {
            batch: names.join(" "),
            parent: parent.map(|(_, cell)| cell.to_owned()),
            last,
            times,
            left: left.is_some(),
            labels,
        })
    }
}

/// The last step of a row, by its place in the chain.
fn last_step(cells: &Cells<'_>, options: &StepsOptions, issues: &mut Vec<Issue>) -> Option<usize> {
    let column = options.last_step.as_deref()?;
    let Some(step) = cells.cell(column) else {
        let hint = "write the last step that the plant reached";
        issues.push(cells.issue("missing_step", column, "nothing is written here".to_owned(), hint));
        return None;
    };
    let found = options.steps.iter().position(|known| known.eq_ignore_ascii_case(step));
    if found.is_none() {
        let write = format!("write one of {}", options.steps.join(", "));
        let hint = match nearest(step, &options.steps) {
            Some(near) => format!("did you mean {near:?}? {}, or correct steps=", capital(&write)),
            None => write,
        };
        issues.push(cells.issue("unknown_step", column, format!("{step:?} is no step of the chain"), &hint));
    }
    found
}

/// A step beyond the last one for which a date is written.
fn beyond<'a>(last: Option<usize>, dates: &[Option<i32>], options: &'a StepsOptions) -> Option<&'a str> {
    let dated = options.steps.iter().zip(dates).enumerate().skip(last? + 1);
    dated.into_iter().find_map(|(_, (step, date))| date.is_some().then_some(step.as_str()))
}
