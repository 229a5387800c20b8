//! Readings of a tray in the order of their days, and what became of its plants between them.

use std::collections::BTreeMap;

use super::cells::at_odds;
use super::options::VisitsOptions;
use super::readings::Reading;
use crate::error::Issue;
use crate::steps::time::held::VisitTray;
use crate::steps::time::histories::History;
use crate::steps::time::table::Ending;

/// Readings by tray, in order; rows that cannot be together are told and taken out.
pub(super) fn in_order(
    readings: Vec<Reading>,
    options: &VisitsOptions,
    issues: &mut Vec<Issue>,
) -> BTreeMap<String, Vec<Reading>> {
    let mut trays: BTreeMap<String, Vec<Reading>> = BTreeMap::new();
    for reading in readings {
        trays.entry(reading.labels.tray.clone()).or_default().push(reading);
    }
    for (name, readings) in &mut trays {
        readings.sort_by_key(|reading| (reading.day, reading.row));
        let mut kept: Vec<Reading> = Vec::new();
        for later in readings.drain(..) {
            match kept.last().and_then(|earlier| wrong(name, earlier, &later, options)) {
                Some(issue) => issues.push(issue),
                None => kept.push(later),
            }
        }
        *readings = kept;
    }
    trays.retain(|_, readings| !readings.is_empty());
    trays
}

/// What a reading cannot be after another of the same tray.
fn wrong(name: &str, earlier: &Reading, later: &Reading, options: &VisitsOptions) -> Option<Issue> {
    let row = earlier.row;
    let at = |issue: Issue, column: &str| issue.at_row(later.row).in_column(column);
    if let Some((column, one, two)) = at_odds(options, &earlier.labels, &later.labels) {
        let reason = format!("tray {name:?} is {one:?} in row {row} and {two:?} here");
        let hint =
            "correct the label; where names start afresh in each block or treatment give trays names of their own";
        return Some(at(Issue::of_input("tray_of_two_kinds", reason, hint), &column).with_value(two));
    }
    let paste = format!("leave_out=[{}]", later.row);
    if earlier.day == later.day {
        let reason = format!("tray {name:?} has a second row of day {}, beside row {row}", later.day);
        let issue = Issue::of_input("visited_twice", reason, format!("keep one of the two: {paste}"));
        return Some(at(issue, &options.day).with_value(later.day.to_string()).pasted(&paste));
    }
    if earlier.started != later.started {
        let column = options.started.as_deref().unwrap_or_default();
        let reason =
            format!("tray {name:?} began with {} plants by row {row} and with {} here", earlier.started, later.started);
        let hint =
            "give each row of a tray the number it began with; plants taken away have a column of their own, sampled=";
        return Some(
            at(Issue::of_input("started_differs", reason, hint), column).with_value(later.started.to_string()),
        );
    }
    let counts = [
        (earlier.rooted, later.rooted, "rooted", &options.rooted),
        (earlier.dead, later.dead, "dead", &options.dead),
        (earlier.sampled, later.sampled, "taken away", &options.sampled),
    ];
    let (before, after, word, column) = counts.into_iter().find(|(before, after, _, _)| after < before)?;
    let reason = format!(
        "tray {name:?} falls from {before} {word} on day {} (row {row}) to {after} on day {}; counts are so far, so they never fall",
        earlier.day, later.day
    );
    let hint = format!("correct one of the two, or leave this row out: {paste}");
    let issue = Issue::of_input("falls_over_time", reason, hint).with_value(after.to_string());
    Some(at(issue, column.as_deref().unwrap_or_default()).pasted(&paste))
}

/// What became of the plants of a tray; `visit` is the number of a day, from 1 on.
pub(super) fn tray(name: String, readings: &[Reading], visit: impl Fn(u64) -> usize) -> Option<VisitTray> {
    let first = readings.first()?;
    let mut histories = Vec::new();
    let mut add = |after: usize, by: usize, ending: Ending, count: u64| {
        if count > 0 {
            histories.push(History { after, by, ending, count: count as f64 });
        }
    };
    let (mut after, mut before) = (0, [0; 3]);
    for reading in readings.iter().filter(|reading| reading.day > 0) {
        let by = visit(reading.day);
        add(after, by, Ending::Rooted, reading.rooted - before[0]);
        add(after, by, Ending::Dead, reading.dead - before[1]);
        // Plants taken away were looked at on that day and seen waiting.
        add(by, by, Ending::Waiting, reading.sampled - before[2]);
        (after, before) = (by, [reading.rooted, reading.dead, reading.sampled]);
    }
    add(after, after, Ending::Waiting, readings.last().map_or(0, Reading::waiting));
    Some(VisitTray {
        name,
        levels: first.labels.levels.clone(),
        block: first.labels.block.clone(),
        started: first.started,
        histories,
    })
}
