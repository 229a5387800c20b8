//! Counts of a chain read, checked and held.

use std::collections::BTreeSet;

use super::lineage::batches;
use super::options::{QUESTIONS, StepsOptions};
use super::plants::plants;
use super::rows::{once, rows, young};
use crate::answer::Note;
use crate::error::{ChoiceError, Error, Issue, RecordError, Result, Severity, StepsError};
use crate::steps::held::{LevelColumn, Steps, StepsBatch};
use crate::trial::{
    BadRows, Frame, Lines, Source, Texts, similar_levels, unknown_column, unknown_question, unknown_rows,
};

/// Reads delimited text: one row per batch or tray, a column for each step with the plants that reached it.
///
/// A blank at the end of the chain is a batch too young for the step; plants taken away alive leave the number that could pass the next.
///
/// # Errors
/// [`RecordError`] with every problem found; [`StepsError`] for a chain of fewer than two columns.
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
    loaded(&texts, notes, options)
}

/// Reads the cells of a sheet; `notes` tell what whoever read the sheet found.
///
/// # Errors
/// As [`read_csv`].
pub fn read_cells(lines: Lines, notes: Vec<Note>, options: &StepsOptions) -> Result<Steps> {
    let (texts, more) = Texts::of_cells(lines, &wanted(options), options.header_row).map_err(of_batches)?;
    loaded(&texts, notes.into_iter().chain(more).collect(), options)
}

/// Reads a frame.
///
/// # Errors
/// As [`read_csv`].
pub fn read_frame(frame: &Frame, source: Source, options: &StepsOptions) -> Result<Steps> {
    loaded(&Texts::of_frame(frame, source), Vec::new(), options)
}

/// What is wrong with a table, told of a record of batches.
fn of_batches(error: Error) -> Error {
    let Error::Data(data) = error else { return error };
    let own = |issue: Issue| Issue {
        hint: issue.hint.replace("one row per tray or cutting", "one row per batch or tray"),
        ..issue
    };
    RecordError { issues: data.issues.into_iter().map(own).collect() }.into()
}

fn wanted(options: &StepsOptions) -> Vec<&str> {
    options.roles().into_iter().map(|(_, name)| name).collect()
}

fn stop(issues: Vec<Issue>) -> Result<()> {
    if issues.is_empty() { Ok(()) } else { Err(RecordError { issues }.into()) }
}

fn loaded(texts: &Texts, notes: Vec<Note>, options: &StepsOptions) -> Result<Steps> {
    let roles = options.roles();
    if options.steps.len() < 2 {
        return Err(StepsError::OneStep.into());
    }
    if options.last_step.is_some() && (options.batch.is_empty() || !options.taken_away.is_empty()) {
        return Err(StepsError::PlantsOfNoBatch.into());
    }
    stop(roles.iter().filter_map(|(role, name)| unknown_column(role, name, texts.names())).collect())?;
    stop(two_roles(&roles))?;
    known_steps(options)?;
    if let Some(unknown) = unknown_question(&options.checked, &QUESTIONS) {
        return Err(unknown.into());
    }
    let ends = texts.numbers().first().zip(texts.numbers().last());
    stop(ends.and_then(|(first, last)| unknown_rows(&options.leave_out, *first, *last)).into_iter().collect())?;
    let (mut issues, mut batches) = read(texts, options);
    let wrong: BTreeSet<u64> =
        issues.iter().filter(|one| one.severity == Severity::Problem).filter_map(|issue| issue.row).collect();
    batches.retain(|batch| !wrong.contains(&batch.row));
    issues.extend(young(&batches, options));
    for (at, (_, column)) in options.levels().into_iter().enumerate() {
        let held: BTreeSet<&String> = batches.iter().filter_map(|batch| batch.labels.get(at)).collect();
        let levels: Vec<String> = held.into_iter().cloned().collect();
        if !options.checked.iter().any(|one| one == "similar_levels") {
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
    Ok(Steps::new(batches, options.steps.clone(), level_columns(options), issues, notes))
}

/// The batches, from their own rows or from those of plants.
fn read(texts: &Texts, options: &StepsOptions) -> (Vec<Issue>, Vec<StepsBatch>) {
    if options.last_step.is_some() {
        let mut issues = Vec::new();
        let batches = plants(texts, options, &mut issues);
        return (issues, batches);
    }
    let mut issues = Vec::new();
    let mut rows = rows(texts, options, &mut issues);
    issues.extend(once(&mut rows, options));
    let found = batches(&rows, options, &mut issues);
    (issues, found)
}

/// Steps that are named beside the chain have to be of it.
fn known_steps(options: &StepsOptions) -> Result<()> {
    let away = options.taken_away.iter().map(|one| ("step of taken_away=", &one.step, false));
    let dates = options.dates.iter().map(|one| ("step of dates=", &one.step, true));
    let given = options.treatments.iter().map(|one| ("step of treatments=", &one.step, false));
    for (what, step, last) in away.chain(dates).chain(given) {
        let of_plants = last && options.last_step.as_ref() == Some(step);
        if !of_plants && !options.steps.contains(step) {
            let names: Vec<&str> = options.steps.iter().map(String::as_str).collect();
            return Err(ChoiceError::new(what, step, &names).into());
        }
    }
    Ok(())
}

/// The columns of levels, treatments with the column of the chain before which they are given.
fn level_columns(options: &StepsOptions) -> Vec<LevelColumn> {
    let from = |column: &str| {
        let given = options.treatments.iter().find(|one| one.column == column)?;
        Some(options.steps.iter().position(|step| *step == given.step)?.saturating_sub(1))
    };
    let each = options.levels().into_iter();
    each.map(|(role, column)| LevelColumn {
        role: role.to_owned(),
        column: column.to_owned(),
        from: if role == "treatments" { from(column).unwrap_or_default() } else { 0 },
    })
    .collect()
}

fn stops(issue: &Issue, bad_rows: BadRows) -> bool {
    match bad_rows {
        BadRows::Stop => issue.severity != Severity::Information,
        BadRows::SetAside => issue.severity == Severity::Problem && issue.row.is_none(),
    }
}

fn two_roles(roles: &[(&'static str, &str)]) -> Vec<Issue> {
    let twice = roles.iter().enumerate().filter_map(|(at, (role, name))| {
        let (first, _) = roles.iter().take(at).find(|(_, earlier)| earlier == name)?;
        // A season or a cultivar can make the name of a batch together with others.
        if *first == "batch" && !["steps", "states", "taken_away", "dates", "parent"].contains(role) {
            return None;
        }
        let reason = format!("named both as {first} and as {role}");
        Some(Issue::of_input("column_in_two_roles", reason, "give each column one part").in_column(name))
    });
    twice.collect()
}
