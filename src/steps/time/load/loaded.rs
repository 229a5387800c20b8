//! Visits read, checked and held.

use std::collections::{BTreeMap, BTreeSet};

use super::followed::{in_order, tray};
use super::options::{QUESTIONS, VisitsOptions};
use super::plants::{Plant, plants};
use super::readings::readings;
use crate::answer::Note;
use crate::error::{DataError, Issue, Result, Severity, StepsError};
use crate::steps::time::held::{VisitColumns, VisitTray, Visits};
use crate::steps::time::histories::History;
use crate::steps::time::table::Ending;
use crate::trial::{
    BadRows, Frame, Lines, Source, Texts, similar_levels, unknown_column, unknown_question, unknown_rows,
};

/// Reads delimited text: one row per tray and visit with how many have rooted (died, been taken away) so far, or one row per plant.
///
/// # Errors
/// [`DataError`] with every problem found; [`StepsError`] where it is neither of the two.
///
/// ```
/// use rootling::steps::{VisitsOptions, read_visits};
/// let text = b"tray,day,started,rooted\na,14,20,3\na,28,20,11\nb,14,20,2\nb,28,20,9\n";
/// let visits = read_visits(text, &VisitsOptions::counts("tray", "day", "started", "rooted"))?;
/// assert_eq!((visits.days(), visits.trays().len()), (&[14, 28][..], 2));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn read_visits(bytes: &[u8], options: &VisitsOptions) -> Result<Visits> {
    let (texts, notes) = Texts::of_csv(bytes, &wanted(options), options.header_row)?;
    loaded(&texts, notes, options)
}

/// Reads the cells of a sheet; `notes` tell what whoever read the sheet found.
///
/// # Errors
/// As [`read_visits`].
pub fn read_visits_cells(lines: Lines, notes: Vec<Note>, options: &VisitsOptions) -> Result<Visits> {
    let (texts, more) = Texts::of_cells(lines, &wanted(options), options.header_row)?;
    loaded(&texts, notes.into_iter().chain(more).collect(), options)
}

/// Reads a frame.
///
/// # Errors
/// As [`read_visits`].
pub fn read_visits_frame(frame: &Frame, source: Source, options: &VisitsOptions) -> Result<Visits> {
    loaded(&Texts::of_frame(frame, source), Vec::new(), options)
}

fn wanted(options: &VisitsOptions) -> Vec<&str> {
    options.roles().into_iter().map(|(_, name)| name).collect()
}

fn stop(issues: Vec<Issue>) -> Result<()> {
    if issues.is_empty() { Ok(()) } else { Err(DataError { issues }.into()) }
}

/// Columns and options that cannot be.
fn check(texts: &Texts, options: &VisitsOptions) -> Result<()> {
    let counts = options.started.is_some() && options.rooted.is_some() && options.tray.is_some();
    let plants = options.became.is_some() && options.last_without.is_some();
    let mixed = options.by_plant()
        && [&options.started, &options.rooted, &options.dead, &options.sampled].iter().any(|one| one.is_some());
    if mixed || counts == plants {
        return Err(StepsError::NeitherCountsNorPlants.into());
    }
    let roles = options.roles();
    stop(roles.iter().filter_map(|(role, name)| unknown_column(role, name, texts.names())).collect())?;
    let twice = roles.iter().enumerate().filter_map(|(at, (role, name))| {
        let (first, _) = roles.iter().take(at).find(|(_, earlier)| earlier == name)?;
        let reason = format!("named both as {first} and as {role}");
        Some(Issue::of_input("column_in_two_roles", reason, "give each column one part").in_column(name))
    });
    stop(twice.collect())?;
    if let Some(unknown) = unknown_question(&options.checked, &QUESTIONS) {
        return Err(unknown.into());
    }
    let ends = texts.numbers().first().zip(texts.numbers().last());
    stop(ends.and_then(|(first, last)| unknown_rows(&options.leave_out, *first, *last)).into_iter().collect())
}

fn loaded(texts: &Texts, mut notes: Vec<Note>, options: &VisitsOptions) -> Result<Visits> {
    check(texts, options)?;
    let (days, trays, mut issues) =
        if options.by_plant() { of_plants(texts, options, &mut notes) } else { of_counts(texts, options, &mut notes) };
    let levels: Vec<Vec<String>> = (0..options.treatments.len()).map(|at| levels(&trays, at)).collect();
    if !options.checked.iter().any(|one| one == "similar_levels") {
        for (column, levels) in options.treatments.iter().zip(&levels) {
            let hint = "write them alike if they are the same; if they really differ, say checked=[\"similar_levels\"]";
            let asked = similar_levels(levels, None).into_iter().map(|issue| issue.in_column(column));
            let asked = asked.map(|issue| Issue { hint: hint.to_owned(), ..issue }.graded(Severity::Question));
            issues.extend(asked.map(|issue| issue.pasted("checked=[\"similar_levels\"]")));
        }
    }
    issues.sort_by_key(|issue| issue.row);
    let stops = |issue: &Issue| match options.bad_rows {
        BadRows::Stop => issue.severity != Severity::Information,
        BadRows::SetAside => issue.severity == Severity::Problem && issue.row.is_none(),
    };
    if !issues.iter().any(stops) {
        issues.extend(nothing(&days, &trays));
    }
    if issues.iter().any(stops) {
        return Err(DataError { issues }.into());
    }
    let columns = VisitColumns {
        treatments: options.treatments.clone(),
        levels,
        trays: options.tray.is_some(),
        deaths: options.dead.is_some()
            || trays.iter().flat_map(|tray| &tray.histories).any(|one| one.ending == Ending::Dead),
    };
    Ok(Visits::new(days, trays, columns, issues, notes))
}

/// That there is nothing, or no more than one visit.
fn nothing(days: &[u64], trays: &[VisitTray]) -> Option<Issue> {
    let ended = trays.iter().flat_map(|tray| &tray.histories).any(|one| one.ending != Ending::Waiting);
    match days {
        _ if trays.is_empty() => {
            let hint = "give one row per tray and visit, or one row per plant";
            Some(Issue::of_input("no_usable_rows", "no row can be used", hint))
        }
        [] | [_] => {
            let day = days.first().map_or("the day of setting".to_owned(), |day| format!("day {day}"));
            let hint = "times need at least two visits; counts of one visit are a trial, rl.load_trial(...)";
            Some(Issue::of_input("one_visit", format!("all was read once, on {day}"), hint))
        }
        _ if !ended => {
            let hint = "look whether the columns are the right ones; counts are so far, not of those still waiting";
            Some(Issue::of_input("nothing_happened", "no plant rooted or died at any visit", hint))
        }
        _ => None,
    }
}

/// The levels of a treatment, numbers by their size.
fn levels(trays: &[VisitTray], at: usize) -> Vec<String> {
    let found: BTreeSet<&String> = trays.iter().filter_map(|tray| tray.levels.get(at)).collect();
    let mut levels: Vec<String> = found.into_iter().cloned().collect();
    let number = |level: &String| level.trim().parse::<f64>().ok().filter(|number| number.is_finite());
    if levels.iter().all(|level| number(level).is_some()) {
        levels.sort_by(|a, b| number(a).unwrap_or(0.0).total_cmp(&number(b).unwrap_or(0.0)));
    }
    levels
}

type Found = (Vec<u64>, Vec<VisitTray>, Vec<Issue>);

/// Days that count as one visit, by the last of each; and the number of the visit of each day.
fn visits(days: BTreeSet<u64>, apart: u64, notes: &mut Vec<Note>) -> (Vec<u64>, BTreeMap<u64, usize>) {
    let (mut shown, mut number): (Vec<u64>, BTreeMap<u64, usize>) = (Vec::new(), BTreeMap::new());
    let mut first = None;
    for day in days.into_iter().filter(|day| *day > 0) {
        if first.is_none_or(|first| day - first > apart) {
            first = Some(day);
            shown.push(day);
        }
        shown.last_mut().into_iter().for_each(|last| *last = day);
        number.insert(day, shown.len());
    }
    if number.len() > shown.len() {
        let text = format!(
            "Visits up to {apart} {} apart count as one, by its last day: {} days make {} visits.",
            if apart == 1 { "day" } else { "days" },
            number.len(),
            shown.len()
        );
        notes.push(Note::new("visits_joined", text));
    }
    (shown, number)
}

fn of_counts(texts: &Texts, options: &VisitsOptions, notes: &mut Vec<Note>) -> Found {
    let (readings, mut issues) = readings(texts, options);
    let mut named = in_order(readings, options, &mut issues);
    let days = named.values().flatten().map(|reading| reading.day).collect();
    let (shown, number) = visits(days, options.same_visit, notes);
    let visit = |day: u64| number.get(&day).copied().unwrap_or_default();
    // Of two readings within one visit the later holds all of the earlier.
    for readings in named.values_mut() {
        let later: Vec<usize> = readings.iter().skip(1).map(|next| visit(next.day)).chain([usize::MAX]).collect();
        let mut later = later.into_iter();
        readings.retain(|reading| later.next() != Some(visit(reading.day)) || reading.day == 0);
    }
    let missed = named.values().filter(|readings| misses(readings, &shown, &visit)).count();
    if missed > 0 {
        let text = format!(
            "{missed} of {} trays {} not read at every visit between the first and their last: what happened over visits that were missed is shared out as in the other trays. Where trays were set on different days, same_visit=2 takes visits up to 2 days apart as one.",
            named.len(),
            if missed == 1 { "was" } else { "were" }
        );
        notes.push(Note::new("visits_missed", text));
    }
    let trays = named.into_iter().filter_map(|(name, readings)| tray(name, &readings, visit)).collect();
    (shown, trays, issues)
}

/// True where a tray was not read at some visit before its last.
fn misses(readings: &[super::readings::Reading], days: &[u64], visit: &impl Fn(u64) -> usize) -> bool {
    let read = readings.iter().filter(|reading| reading.day > 0).count();
    let last = readings.last().map_or(0, |reading| visit(reading.day));
    read < last.min(days.len())
}

/// Plants by their history.
type Counted = BTreeMap<(usize, usize, Ending), u64>;

fn of_plants(texts: &Texts, options: &VisitsOptions, notes: &mut Vec<Note>) -> Found {
    let (plants, issues) = plants(texts, options);
    let days = plants.iter().flat_map(|plant| [plant.after, plant.by]).collect();
    let (shown, number) = visits(days, options.same_visit, notes);
    let visit = |day: u64| number.get(&day).copied().unwrap_or_default();
    let mut trays: BTreeMap<(String, Vec<String>, String), Counted> = BTreeMap::new();
    for Plant { after, by, ending, labels } in plants {
        let (mut after, by) = (visit(after), visit(by));
        if ending != Ending::Waiting && after == by {
            after -= 1;
        }
        let held = trays.entry((labels.tray, labels.levels, labels.block)).or_default();
        *held.entry((after, by, ending)).or_insert(0) += 1;
    }
    let made = trays.into_iter().map(|((name, levels, block), held)| VisitTray {
        name: if options.tray.is_some() { name } else { levels.join(" ") },
        levels,
        block,
        started: held.values().sum(),
        histories: held
            .into_iter()
            .map(|((after, by, ending), count)| History { after, by, ending, count: count as f64 })
            .collect(),
    });
    (shown, made.collect(), issues)
}
