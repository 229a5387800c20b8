//! Counts of a chain read, checked and held.

use std::collections::{BTreeMap, BTreeSet};

use super::asked::{check, of_batches};
use super::both::with_plants;
use super::days::odd_seasons;
use super::options::StepsOptions;
use super::plants::{by_batch, plants};
use super::rows::{once, rows, young};
use super::table::StepsTable;
use super::together::batches;
use crate::answer::Note;
use crate::error::{Issue, RecordError, Result, Severity};
use crate::report::{join, whole};
use crate::steps::held::{LevelColumn, NO_PLANTS, SET_ASIDE, Steps, StepsBatch};
use crate::trial::{BadRows, Frame, Lines, Source, Texts, similar_levels};

/// Reads delimited text: one row per batch or tray, a column for each step with the plants that reached it.
///
/// A blank at the end of the chain is a batch too young for the step; plants taken away alive leave the number that could pass the next.
///
/// # Errors
/// [`RecordError`] with every problem found; [`StepsError`](crate::error::StepsError) for a chain of fewer than two columns.
///
/// ```
/// use rootling::steps::{StepsOptions, read_csv};
/// let text = b"batch,grafted,taken,rooted\nb1,50,40,30\nb2,50,42,\n";
/// let steps = read_csv(text, &StepsOptions::columns(&["grafted", "taken", "rooted"]).with_batch(&["batch"]))?;
/// assert_eq!((steps.batches().len(), steps.issues()[0].code.as_str()), (2, "too_young"));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn read_csv(bytes: &[u8], options: &StepsOptions) -> Result<Steps> {
    let (texts, notes) = Texts::of_csv(bytes, &wanted(options), options.header_row).map_err(of_batches)?;
    loaded(&texts, None, notes, options)
}

/// Reads the cells of a sheet; `notes` tell what whoever read the sheet found.
///
/// # Errors
/// As [`read_csv`].
pub fn read_cells(lines: Lines, notes: Vec<Note>, options: &StepsOptions) -> Result<Steps> {
    let (texts, more) = Texts::of_cells(lines, &wanted(options), options.header_row).map_err(of_batches)?;
    loaded(&texts, None, notes.into_iter().chain(more).collect(), options)
}

/// Reads a frame.
///
/// # Errors
/// As [`read_csv`].
pub fn read_frame(frame: &Frame, source: Source, options: &StepsOptions) -> Result<Steps> {
    loaded(&Texts::of_frame(frame, source), None, Vec::new(), options)
}

/// Reads counts of batches for early steps together with one row per plant for later ones, joined by batch.
///
/// Plants of a batch are listed from a step on at which as many were counted; where later steps were counted too they have to agree with the
/// plants. Treatments may stand in either table. Columns of steps that only plants came to need not be there.
///
/// # Errors
/// As [`read_csv`]; where counts and plants do not agree, with both numbers.
///
/// ```
/// use rootling::steps::{StepsOptions, StepsTable, read_with_plants};
/// let options = StepsOptions {
///     last_step: Some("last".to_owned()),
///     ..StepsOptions::columns(&["grafted", "taken", "rooted"]).with_batch(&["batch"])
/// };
/// let counts = StepsTable::of_csv(b"batch,grafted,taken\nb1,5,3\nb2,4,2\n", &["batch", "grafted"], None)?;
/// let plants = StepsTable::of_csv(b"batch,last\nb1,taken\nb1,rooted\nb1,rooted\nb2,taken\nb2,rooted\n", &["batch", "last"], None)?;
/// let steps = read_with_plants(&counts, &plants, &options)?;
/// assert_eq!(steps.batches()[0].steps[1].map(|one| (one.reached, one.passed)), Some((3, 2)));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn read_with_plants(counts: &StepsTable, plants: &StepsTable, options: &StepsOptions) -> Result<Steps> {
    let notes = counts.notes.iter().chain(&plants.notes).cloned().collect();
    loaded(&counts.texts, Some(&plants.texts), notes, options)
}

fn wanted(options: &StepsOptions) -> Vec<&str> {
    options.roles().into_iter().map(|(_, name)| name).collect()
}

fn loaded(texts: &Texts, plants: Option<&Texts>, notes: Vec<Note>, options: &StepsOptions) -> Result<Steps> {
    check(texts, plants, options)?;
    let (mut issues, mut batches) = read(texts, plants, options);
    let wrong: BTreeSet<u64> =
        issues.iter().filter(|one| one.severity == Severity::Problem).filter_map(|issue| issue.row).collect();
    // Where plants stand in a table of their own its rows have numbers of their own, and batches of wrong rows are not made.
    batches.retain(|batch| plants.is_some() || !wrong.contains(&batch.row));
    issues.extend(young(&batches, options));
    for (at, (role, column)) in options.levels().into_iter().enumerate() {
        let levels = levels_of(&batches, at);
        if role == "season" && !options.has_checked("odd_year") {
            issues.extend(odd_seasons(&first_rows(&batches, at), column));
        }
        if !options.has_checked("similar_levels") {
            let hint = "write them alike if they are the same; if they really differ, say checked=[\"similar_levels\"]";
            let asked = similar_levels(&levels, None).into_iter().map(|issue| issue.in_column(column));
            let asked = asked.map(|issue| Issue { hint: hint.to_owned(), ..issue }.graded(Severity::Question));
            issues.extend(asked.map(|issue| issue.pasted("checked=[\"similar_levels\"]")));
        }
    }
    issues.sort_by_key(|issue| issue.row);
    if batches.is_empty() && !issues.iter().any(|issue| stops(issue, options.bad_rows)) {
        let hint = "give one row per batch or tray, with how many reached each step";
        issues.push(Issue::of_input("no_usable_rows", "no batch can be used", hint));
    }
    if issues.iter().any(|issue| stops(issue, options.bad_rows)) {
        return Err(RecordError { issues }.into());
    }
    let is_read = |(at, row): &(usize, &u64)| !texts.is_blank(*at) && !options.leave_out.contains(row);
    let rows = texts.numbers().iter().enumerate().filter(is_read).count();
    let unlisted = plants.and_then(|_| without_plants(&batches));
    let notes = notes.into_iter().chain(set_aside(&issues, rows)).chain(unlisted).collect();
    Ok(Steps::new(batches, options.steps.clone(), level_columns(options), issues, notes))
}

/// The levels of a column among all batches and their parts.
fn levels_of(batches: &[StepsBatch], at: usize) -> Vec<String> {
    let parts = batches.iter().flat_map(|batch| &batch.parts).filter_map(|part| part.labels.get(at));
    let held: BTreeSet<&String> = batches.iter().filter_map(|batch| batch.labels.get(at)).chain(parts).collect();
    held.into_iter().filter(|level| !level.is_empty()).cloned().collect()
}

/// The levels of a column with the first row of each.
fn first_rows(batches: &[StepsBatch], at: usize) -> Vec<(&str, u64)> {
    let mut rows = BTreeMap::<&str, u64>::new();
    for (label, row) in batches.iter().filter_map(|batch| Some((batch.labels.get(at)?, batch.row))) {
        rows.entry(label).and_modify(|first| *first = row.min(*first)).or_insert(row);
    }
    rows.into_iter().collect()
}

/// Rows told one by one of those that were set aside.
const TOLD: usize = 3;

/// That rows were set aside, and why; None where none was.
fn set_aside(issues: &[Issue], rows: usize) -> Option<Note> {
    let mut told = BTreeMap::<u64, &Issue>::new();
    for issue in issues.iter().filter(|issue| issue.severity == Severity::Problem) {
        told.entry(issue.row?).or_insert(issue);
    }
    if told.is_empty() {
        return None;
    }
    let each: Vec<String> =
        told.iter().take(TOLD).map(|(row, issue)| format!("row {row} ({})", issue.reason)).collect();
    let more = told.len().saturating_sub(TOLD);
    let more = if more > 0 { format!(", and {more} more") } else { String::new() };
    let were = if told.len() == 1 { "was" } else { "were" };
    let speak = if 5 * told.len() > rows { "; what is left may not speak for all batches" } else { "" };
    let text = format!(
        "{} of {} {were} set aside, so nothing here counts what they hold: {}{more}{speak}. Look at .set_aside and correct the record.",
        told.len(),
        whole(rows as u64, "row", "rows"),
        each.join(", ")
    );
    Some(Note::new(SET_ASIDE, text))
}

/// Batches that were not counted to the end and of which no plant is listed, where plants of others are: too young, or forgotten.
fn without_plants(batches: &[StepsBatch]) -> Option<Note> {
    let open = |batch: &&StepsBatch| batch.parts.is_empty() && batch.steps.iter().any(Option::is_none);
    let names: Vec<String> = batches.iter().filter(open).map(|batch| format!("{:?}", batch.name)).collect();
    if names.is_empty() || names.len() == batches.len() {
        return None;
    }
    let shown: Vec<&str> = names.iter().take(TOLD).map(String::as_str).collect();
    let more = names.len().saturating_sub(TOLD);
    let (have, are) = if names.len() == 1 { ("has", "is") } else { ("have", "are") };
    let text = format!(
        "{}{} {have} no plant in plants= and {are} taken to be too young for the steps behind their last count; list their plants if they are not.",
        if more > 0 { shown.join(", ") } else { join(&shown) },
        if more > 0 { format!(" and {more} more batches") } else { String::new() },
    );
    Some(Note::new(NO_PLANTS, text))
}

/// The batches, from their own rows, from those of plants, or from both.
fn read(texts: &Texts, of_plants: Option<&Texts>, options: &StepsOptions) -> (Vec<Issue>, Vec<StepsBatch>) {
    let mut issues = Vec::new();
    if options.last_step.is_some() && of_plants.is_none() {
        let batches = plants(texts, options, &mut issues);
        return (issues, batches);
    }
    let counted = StepsOptions { last_step: None, ..options.clone() };
    let mut rows = rows(texts, &counted, &mut issues);
    issues.extend(once(&mut rows, options));
    if let Some(table) = of_plants {
        let alone = StepsOptions { parent: None, leave_out: Vec::new(), ..options.clone() };
        let mut wrong = Vec::new();
        let (listed, _) = by_batch(table, &alone, &mut wrong);
        let told = |issue: Issue| Issue { reason: format!("in plants=, {}", issue.reason), ..issue };
        issues.extend(wrong.into_iter().map(told));
        with_plants(&mut rows, &listed, options, &mut issues);
    }
    let found = batches(&rows, &counted, &mut issues);
    (issues, found)
}

/// The columns of levels, treatments with the column of the chain before which they are given.
fn level_columns(options: &StepsOptions) -> Vec<LevelColumn> {
    let each = options.levels().into_iter().zip(options.begins());
    each.map(|((role, column), from)| LevelColumn { role: role.to_owned(), column: column.to_owned(), from }).collect()
}

fn stops(issue: &Issue, bad_rows: BadRows) -> bool {
    match bad_rows {
        BadRows::Stop => issue.severity != Severity::Information,
        BadRows::SetAside => issue.severity == Severity::Problem && issue.row.is_none(),
    }
}
