//! A record read, checked and coded.

use std::collections::{BTreeMap, BTreeSet};

use super::batches::{Batches, batches};
use super::dates::day_of;
use super::options::{QUESTIONS, WatchOptions};
use super::rows::rows;
use crate::answer::Note;
use crate::error::{ChoiceError, Error, Issue, RecordError, Result, Severity};
use crate::trial::{
    BadRows, Frame, Lines, Source, Texts, similar_levels, today as clock, unknown_column, unknown_question,
    unknown_rows,
};
use crate::watch::crop::{Grouping, Part};
use crate::watch::watched::{Record, Watch};

/// Reads delimited text.
///
/// # Errors
/// [`RecordError`] with every problem found; [`ChoiceError`] for an option that cannot be.
///
/// ```
/// use rootling::watch::{WatchOptions, read_csv};
/// let text = b"batch,room,set,read,started,alive\nb1,A,2026-01-05,2026-03-02,15,13\nb2,B,2026-01-05,2026-03-02,15,12\n";
/// let options = WatchOptions::columns("started", "alive", "set", "read").with_batch(&["batch"]).with_places(&["room"]);
/// let watch = read_csv(text, &options)?;
/// assert_eq!((watch.batches().len(), watch.batches()[0].alive), (2, 13));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn read_csv(bytes: &[u8], options: &WatchOptions) -> Result<Watch> {
    let (texts, notes) = Texts::of_csv(bytes, &wanted(options), options.header_row).map_err(of_batches)?;
    loaded(&texts, notes, options)
}

/// Reads the cells of a sheet; `notes` tell what whoever read the sheet found.
///
/// # Errors
/// As [`read_csv`].
pub fn read_cells(lines: Lines, notes: Vec<Note>, options: &WatchOptions) -> Result<Watch> {
    let (texts, more) = Texts::of_cells(lines, &wanted(options), options.header_row).map_err(of_batches)?;
    loaded(&texts, notes.into_iter().chain(more).collect(), options)
}

/// Reads a frame; dates stand in it as text.
///
/// # Errors
/// As [`read_csv`].
pub fn read_frame(frame: &Frame, source: Source, options: &WatchOptions) -> Result<Watch> {
    loaded(&Texts::of_frame(frame, source), Vec::new(), options)
}

/// What is wrong with a table, told of a record of batches.
fn of_batches(error: Error) -> Error {
    match error {
        Error::Data(data) => {
            let own = |issue: Issue| Issue {
                hint: issue.hint.replace("one row per tray or cutting", "one row per batch and reading"),
                ..issue
            };
            RecordError { issues: data.issues.into_iter().map(own).collect() }.into()
        }
        other => other,
    }
}

fn wanted(options: &WatchOptions) -> Vec<&str> {
    options.roles().into_iter().map(|(_, name)| name).collect()
}

fn stop(issues: Vec<Issue>) -> Result<()> {
    if issues.is_empty() { Ok(()) } else { Err(RecordError { issues }.into()) }
}

fn loaded(texts: &Texts, notes: Vec<Note>, options: &WatchOptions) -> Result<Watch> {
    let roles = options.roles();
    stop(roles.iter().filter_map(|(role, name)| unknown_column(role, name, texts.names())).collect())?;
    stop(two_roles(&roles))?;
    if let Some(unknown) = unknown_question(&options.checked, &QUESTIONS) {
        return Err(unknown.into());
    }
    let ends = texts.numbers().first().zip(texts.numbers().last());
    stop(ends.and_then(|(first, last)| unknown_rows(&options.leave_out, *first, *last)).into_iter().collect())?;
    if let Some(month) = options.season_begins.filter(|month| !(1..=12).contains(month)) {
        let names: Vec<String> = (1..=12).map(|month| month.to_string()).collect();
        return Err(ChoiceError::new("month in which a season begins", &month.to_string(), &names).into());
    }
    let read = rows(texts, options, today(options)?);
    let mut issues = read.issues;
    let Batches { batches, labels, issues: more, notes: told, names, age } = batches(read.readings, options);
    issues.extend(more);
    issues.extend(alike_names(&names, options));
    let columns = options.cultivars.iter().map(|name| (name, Part::Cultivar));
    let columns = columns.chain(options.grafter.iter().map(|name| (name, Part::Grafter)));
    let columns: Vec<(&String, Part)> = columns.chain(options.places.iter().map(|name| (name, Part::Place))).collect();
    let mut groupings = Vec::with_capacity(columns.len());
    let mut batches = batches;
    for (at, (name, part)) in columns.into_iter().enumerate() {
        let held: BTreeSet<&String> = labels.iter().filter_map(|labels| labels.get(at)).collect();
        let levels: Vec<String> = held.into_iter().cloned().collect();
        if !options.has_checked("similar_levels") {
            let asked = similar_levels(&levels, None).into_iter().map(|issue| issue.in_column(name));
            let hint = "write them alike if they are the same; if they really differ, say checked=[\"similar_levels\"]";
            let asked = asked.map(|issue| Issue { hint: hint.to_owned(), ..issue }.graded(Severity::Question));
            issues.extend(asked.map(|issue| issue.pasted("checked=[\"similar_levels\"]")));
        }
        for (batch, labels) in batches.iter_mut().zip(&labels) {
            let place = labels.get(at).and_then(|label| levels.binary_search(label).ok());
            batch.levels.push(place.unwrap_or_default() as u32);
        }
        groupings.push(Grouping { name: name.clone(), part, levels });
    }
    issues.sort_by_key(|issue| issue.row);
    if batches.is_empty() && !issues.iter().any(|issue| stops(issue, options.bad_rows)) {
        let hint = "give one row per batch and reading, with how many were alive";
        issues.push(Issue::of_input("no_usable_rows", "no batch has a reading that counts", hint));
    }
    if issues.iter().any(|issue| stops(issue, options.bad_rows)) {
        return Err(RecordError { issues }.into());
    }
    let mut notes = notes;
    notes.extend(told);
    notes.extend(confounded(&batches, &groupings));
    let record = Record { issues, notes, options: options.clone(), reading_age: Some(age) };
    Ok(Watch::of_record(batches, groupings, record))
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
        // A season or place can make the name of a batch together with others, and steps share their counts.
        if *first == "batch" || *role == "steps" {
            return None;
        }
        let reason = format!("named both as {first} and as {role}");
        Some(Issue::of_input("column_in_two_roles", reason, "give each column one part").in_column(name))
    });
    twice.collect()
}

/// Today, as said or by the clock.
fn today(options: &WatchOptions) -> Result<i32> {
    if let Some(said) = &options.today {
        return day_of(said).ok_or_else(|| ChoiceError::new("day of today=", said, &["2026-03-31"]).into());
    }
    Ok(clock())
}

/// Batches whose names differ by case, spaces or marks alone.
fn alike_names(names: &[String], options: &WatchOptions) -> Vec<Issue> {
    if options.has_checked("similar_batches") {
        return Vec::new();
    }
    let mut known: BTreeMap<String, &String> = BTreeMap::new();
    let mut issues = Vec::new();
    for name in names {
        let plain: String =
            name.chars().filter(|letter| letter.is_alphanumeric()).flat_map(char::to_lowercase).collect();
        if let Some(first) = known.insert(plain, name).filter(|first| *first != name) {
            let reason = format!("batches {first:?} and {name:?} look like one");
            let hint = "write one name alike, or say checked=[\"similar_batches\"]";
            let issue = Issue::of_input("similar_batches", reason, hint).with_value(name.as_str());
            let issue = match options.batch.last() {
                Some(column) => issue.in_column(column),
                None => issue,
            };
            issues.push(issue.graded(Severity::Question).pasted("checked=[\"similar_batches\"]"));
        }
    }
    issues
}

/// Pairs of columns that hold the same parts of the crop: one grafter per room.
fn confounded(batches: &[crate::watch::crop::Batch], groupings: &[Grouping]) -> Vec<Note> {
    let mut notes = Vec::new();
    for (i, one) in groupings.iter().enumerate() {
        for (j, other) in groupings.iter().enumerate().skip(i + 1) {
            let pairs: BTreeSet<(u32, u32)> =
                batches.iter().filter_map(|batch| Some((*batch.levels.get(i)?, *batch.levels.get(j)?))).collect();
            let count = |of: fn(&(u32, u32)) -> u32| pairs.iter().map(of).collect::<BTreeSet<u32>>().len();
            let levels = count(|pair| pair.0);
            if pairs.len() > 1 && pairs.len() == levels && pairs.len() == count(|pair| pair.1) {
                let (one, other) = (&one.name, &other.name);
                let text = format!(
                    "Each {one} has a {other} of its own, so what looks like a {other} may be the {one}: the two cannot be told apart."
                );
                notes.push(Note::new("confounded", text));
            }
        }
    }
    notes
}
