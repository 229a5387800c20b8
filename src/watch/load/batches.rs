//! From readings to batches: each at the reading that counts.

use std::collections::{BTreeMap, BTreeSet};

use super::dates::{season_of, shown_day};
use super::options::WatchOptions;
use super::parents::{circles, strangers, too_many};
use super::rows::Reading;
use crate::answer::Note;
use crate::error::{Issue, Severity};
use crate::watch::crop::Batch;

/// A reading counts from this share before the wanted age on, and from so many days at least.
const EARLY: f64 = 0.15;
const DAYS: i32 = 5;

/// What became of the readings.
#[derive(Debug, Clone, Default)]
pub(super) struct Batches {
    pub(super) batches: Vec<Batch>,
    pub(super) labels: Vec<Vec<String>>,
    pub(super) issues: Vec<Issue>,
    pub(super) notes: Vec<Note>,
    /// Names of all batches, those not due among them.
    pub(super) names: Vec<String>,
    /// Days after setting at which batches are judged.
    pub(super) age: i32,
}

/// Puts readings together and takes the one that counts of each batch.
pub(super) fn batches(readings: Vec<Reading>, options: &WatchOptions) -> Batches {
    let mut found = Batches::default();
    let mut named: BTreeMap<String, Vec<Reading>> = BTreeMap::new();
    for reading in readings {
        named.entry(reading.batch.clone()).or_default().push(reading);
    }
    for readings in named.values_mut() {
        readings.sort_by_key(|reading| (reading.read, reading.row));
        carry_taken_away(readings);
        found.issues.extend(at_odds(readings, options));
    }
    found.names = named.keys().cloned().collect();
    found.issues.extend(circles(&named, options));
    found.issues.extend(too_many(&named, options));
    found.notes.extend(strangers(&named));
    // What cannot be does not enter, where the others go on without it.
    let wrong: BTreeSet<u64> = found.issues.iter().filter_map(|issue| issue.row).collect();
    named.values_mut().for_each(|readings| readings.retain(|reading| !wrong.contains(&reading.row)));
    named.retain(|_, readings| !readings.is_empty());
    found.age = options.reading_age.map_or_else(|| usual_age(&named), |age| i32::try_from(age).unwrap_or(i32::MAX));
    let early = (EARLY * f64::from(found.age)).ceil() as i32;
    let from = found.age - early.max(DAYS);
    let mut late = Vec::new();
    let mut seasons: Vec<String> = named.values().flatten().filter_map(|reading| reading.season.clone()).collect();
    seasons.sort();
    seasons.dedup();
    for (name, readings) in &named {
        let Some(reading) = readings.iter().find(|reading| reading.read - reading.set >= from) else {
            if let Some(last) = readings.last() {
                let days = last.read - last.set;
                let reason =
                    format!("read {days} days after setting, before the {} at which batches are judged", found.age);
                let issue = Issue::of_input("not_due", reason, "it enters with a later reading").at_row(last.row);
                found.issues.push(issue.in_column(&options.reading_date).graded(Severity::Information));
            }
            continue;
        };
        let age = reading.read - reading.set;
        if age > found.age + early.max(DAYS) {
            late.push(age);
        }
        let of_year = season_of(reading.set, options.season_begins.unwrap_or(1));
        let season = reading.season.as_ref().and_then(|season| seasons.iter().position(|known| known == season));
        found.batches.push(Batch {
            name: name.clone(),
            row: reading.row,
            set: reading.set,
            read: reading.read,
            started: reading.started,
            alive: reading.alive,
            levels: Vec::new(),
            season: season.map_or(of_year, |season| season as i32),
            steps: steps_of(readings),
        });
        found.labels.push(reading.labels.clone());
    }
    found.notes.extend(late_note(&late, found.age, found.batches.len()));
    found.notes.extend(drift_note(&found.batches, found.age));
    found.notes.extend(split_note(&named));
    found
}

/// A blank says nothing of plants taken away: those known to be gone by an earlier reading still are.
fn carry_taken_away(readings: &mut [Reading]) {
    let mut gone = 0;
    for reading in readings {
        let fits = reading.started + reading.removed >= reading.alive + gone;
        if !reading.removed_known && gone < reading.started && fits {
            (reading.started, reading.removed) = (reading.started - gone, gone);
        }
        gone = gone.max(reading.removed);
    }
}

/// What was counted at each step, by the last reading that has it.
fn steps_of(readings: &[Reading]) -> Vec<Option<(u64, u64)>> {
    let count = readings.iter().map(|reading| reading.steps.len()).max().unwrap_or(0);
    let last = |at: usize| readings.iter().rev().find_map(|reading| reading.steps.get(at).copied().flatten());
    (0..count).map(last).collect()
}

/// The usual age of a batch's last reading: the median.
fn usual_age(named: &BTreeMap<String, Vec<Reading>>) -> i32 {
    let last = named.values().filter_map(|readings| readings.last());
    let mut ages: Vec<i32> = last.map(|reading| reading.read - reading.set).collect();
    ages.sort_unstable();
    ages.get(ages.len().saturating_sub(1) / 2).copied().unwrap_or_default()
}

/// What readings of one batch cannot be together.
fn at_odds(readings: &[Reading], options: &WatchOptions) -> Vec<Issue> {
    let mut issues = Vec::new();
    for (earlier, later) in readings.iter().zip(readings.iter().skip(1)) {
        let name = &later.batch;
        let at = |issue: Issue, column: &str| issue.at_row(later.row).in_column(column);
        let row = earlier.row;
        if earlier.set != later.set {
            let (one, two) = (shown_day(earlier.set), shown_day(later.set));
            let reason = format!("batch {name:?} was set on {one} by row {row} and on {two} here");
            let hint = "correct the date; where names start afresh each season name both columns, batch=[\"season\", \"batch\"]";
            issues.push(at(Issue::of_input("batch_set_twice", reason, hint), &options.set_date));
        } else if earlier.read == later.read {
            let reason =
                format!("batch {name:?} has a second reading of {}, beside that of row {row}", shown_day(later.read));
            // Two places of one batch are two lots of plants.
            let hint = if earlier.labels == later.labels {
                "keep one of the two"
            } else {
                "the two rows differ in place, cultivar or grafter: give each lot a batch name of its own, or keep one of the two"
            };
            issues.push(at(Issue::of_input("read_twice", reason, hint), &options.reading_date));
        } else if earlier.labels != later.labels {
            let pairs = || earlier.labels.iter().zip(&later.labels);
            let told: Vec<String> =
                pairs().filter(|(one, two)| one != two).map(|(one, two)| format!("{one:?} and {two:?}")).collect();
            let column = options.level_columns().zip(pairs()).find(|(_, (one, two))| one != two).map(|(name, _)| name);
            let reason = format!("batch {name:?} is told to be {} (row {row})", told.join(", "));
            let hint = "correct the label; of a batch that was moved give later rows the status moved, or a batch name of its own";
            let issue = Issue::of_input("batch_in_two_places", reason, hint);
            issues.push(at(issue, column.map_or("", String::as_str)));
        } else if let (Some(one), Some(two)) = (&earlier.parent, &later.parent)
            && one != two
        {
            let reason = format!("batch {name:?} was split from {one:?} by row {row} and from {two:?} here");
            let column = options.parent.as_deref().unwrap_or_default();
            issues.push(at(Issue::of_input("two_parents", reason, "name the one it was split from"), column));
        } else if earlier.started + earlier.removed != later.started + later.removed {
            let (one, two) = (earlier.started + earlier.removed, later.started + later.removed);
            let reason = format!("batch {name:?} began with {one} plants by row {row} and with {two} here");
            let hint = "give each row the number the batch began with, and plants taken away in a column of their own (removed=)";
            issues.push(at(Issue::of_input("started_differs", reason, hint), &options.started));
        } else if later.alive > earlier.alive {
            let reason = format!("batch {name:?} rises from {} alive (row {row}) to {}", earlier.alive, later.alive);
            issues.push(at(Issue::of_input("alive_rises", reason, "correct one of the two counts"), &options.alive));
        }
    }
    issues
}

fn late_note(late: &[i32], age: i32, all: usize) -> Option<Note> {
    let most = late.iter().max()?;
    let text = format!(
        "{} of {all} batches {} read late, up to {most} days after setting where {age} is usual: the longer a batch stands, the more of it can die. Read them in time, or give a later reading_age=.",
        late.len(),
        if late.len() == 1 { "was" } else { "were" }
    );
    Some(Note::new("late_readings", text))
}

/// Days by which the age of readings may drift over a record.
const DRIFT: f64 = 0.1;

/// That batches are read ever later or earlier.
fn drift_note(batches: &[Batch], age: i32) -> Option<Note> {
    let mut ordered: Vec<&Batch> = batches.iter().collect();
    ordered.sort_by_key(|batch| batch.set);
    let fifth = ordered.len() / 5;
    if fifth < 4 {
        return None;
    }
    let mean = |of: &[&Batch]| of.iter().map(|batch| f64::from(batch.read - batch.set)).sum::<f64>() / of.len() as f64;
    let (first, last) = (mean(ordered.get(..fifth)?), mean(ordered.get(ordered.len() - fifth..)?));
    if (last - first).abs() <= (DRIFT * f64::from(age)).max(2.0) {
        return None;
    }
    let text = format!(
        "The age at reading drifts: {first:.0} days after setting in the first fifth of the batches, {last:.0} in the last. Survival falls with age, so part of a drop may be this."
    );
    Some(Note::new("drifting_age", text))
}

/// The correlation within a batch at which a note on split batches says how much they may have in common.
const ALIKE: f64 = 0.05;

/// That batches were split from others, and by how much they tell less together were plants of one parent as alike as those of one batch.
fn split_note(named: &BTreeMap<String, Vec<Reading>>) -> Option<Note> {
    let mut parents: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for readings in named.values() {
        let parent = readings.iter().find_map(|reading| reading.parent.as_deref());
        if let Some((parent, last)) = parent.zip(readings.last()) {
            parents.entry(parent).or_default().push((last.started + last.removed) as f64);
        }
    }
    let children = parents.values().map(Vec::len).sum::<usize>();
    let variance = |plants: f64| plants * (1.0 + (plants - 1.0) * ALIKE);
    let apart: f64 = parents.values().flatten().map(|plants| variance(*plants)).sum();
    let together: f64 = parents.values().map(|children| variance(children.iter().sum())).sum();
    (children > 0).then(|| {
        let text = format!(
            "{} split from others: each is judged where it stands, and plants of one parent are taken to be no more alike than those of one set week and place. Were they as alike as plants of one batch, at a correlation of {ALIKE}, what they say together would have a standard error {:.0} % larger.",
            if children == 1 { "1 batch was".to_owned() } else { format!("{children} batches were") },
            100.0 * ((together / apart.max(f64::MIN_POSITIVE)).sqrt() - 1.0)
        );
        Note::new("split_batches", text)
    })
}
