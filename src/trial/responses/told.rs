//! What the design says of each response: of how many cuttings it is, between what, and where little can be said.

use crate::answer::Note;
use crate::report::whole;
use crate::trial::columns::Units;
use crate::trial::responses::{Measured, ResponseKind, ResponseUnit};
use crate::trial::roles::LoadOptions;

/// More roots than a cutting usually has.
const MANY_ROOTS: f64 = 60.0;
/// Lengths in mm and masses in mg that are more than usual of what roots.
const LONG: f64 = 1_000.0;
const HEAVY: f64 = 1_000_000.0;

/// Adds lines and notes on the responses of a trial.
pub(in crate::trial) fn tell(
    measured: &[Measured],
    units: &Units,
    options: &LoadOptions,
    lines: &mut Vec<String>,
    notes: &mut Vec<Note>,
) {
    for one in measured {
        lines.push(line(one));
        notes.extend(of_one(one, units));
    }
    if !measured.is_empty() {
        lines.push(ranked(measured, options));
    }
}

fn line(one: &Measured) -> String {
    let name = &one.response.column;
    let number: u64 = one.times.iter().sum();
    let (low, high) = one.values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(*v), b.max(*v)));
    if number == 0 {
        return format!("{name}: nothing was measured");
    }
    let whose = if one.response.is_of_all() { "cuttings" } else { "rooted cuttings" };
    let means = if one.response.means_of.is_some() { " as tray means" } else { "" };
    let span = if low < high { format!("{} to {}", written(low), written(high)) } else { written(low) };
    let unit = one.response.unit.map_or_else(String::new, |unit| format!(" {}", unit.name()));
    let kind = match one.response.kind {
        ResponseKind::Count => "counts",
        ResponseKind::Length => "lengths",
        ResponseKind::Mass => "masses",
        ResponseKind::Grade => "grades",
    };
    let scale = match (one.response.lowest, one.response.highest) {
        (Some(low), Some(high)) => format!(" on the scale {low} to {high}"),
        _ => String::new(),
    };
    format!("{name}: {kind} of {number} {whose}{means}, {span}{unit}{scale}")
}

/// Which response was named beforehand, and which stand beside it.
fn ranked(measured: &[Measured], options: &LoadOptions) -> String {
    let primary = options.primary.as_deref().unwrap_or("take");
    let all = std::iter::once("take").chain(measured.iter().map(|one| one.response.column.as_str()));
    let others: Vec<&str> = all.filter(|name| *name != primary).collect();
    let named = if options.primary.is_some() { "named beforehand" } else { "since no other was named with primary=" };
    format!("the primary response is {primary}, {named}; secondary: {}", others.join(", "))
}

fn of_one(one: &Measured, units: &Units) -> Vec<Note> {
    let name = &one.response.column;
    let mut notes = Vec::new();
    let grade = one.response.kind == ResponseKind::Grade;
    let first = one.values.first().copied();
    match first {
        None => {
            let why = if units.rooted.iter().all(|rooted| *rooted == 0) {
                "no cutting rooted"
            } else {
                "nothing was measured"
            };
            let text = format!("{name}: {why}, so there is nothing to compare.");
            notes.push(Note::new("nothing_measured", text));
        }
        Some(value) if grade && one.values.iter().all(|other| *other == value) => {
            let text =
                format!("{name}: every cutting has the grade {}, and one grade tells nothing apart.", written(value));
            notes.push(Note::new("one_grade", text));
        }
        Some(_) => notes.extend(unusual(one)),
    }
    let single = (0..one.len()).filter(|unit| one.number(*unit) == 1).count();
    if single > 0 && !grade && units.stuck.iter().any(|stuck| *stuck > 1) {
        let text = format!(
            "{name}: in {} a single cutting was measured, so the mean of that tray is one cutting.",
            whole(single as u64, "tray", "trays")
        );
        notes.push(Note::new("single_cuttings", text));
    }
    if one.response.means_of.is_some() {
        let text = format!(
            "{name}: each tray gives its mean alone, so how cuttings of a tray differ is lost: no law of the counts can be fitted, and nothing tells single odd cuttings."
        );
        notes.push(Note::new("spread_within_lost", text));
    }
    notes
}

fn unusual(one: &Measured) -> Option<Note> {
    let most = one.values.iter().copied().fold(0.0, f64::max);
    let usual = match (one.response.kind, one.response.unit) {
        (ResponseKind::Count, _) => MANY_ROOTS,
        (ResponseKind::Length, Some(unit)) => LONG / unit.size(),
        (ResponseKind::Mass, Some(unit)) => HEAVY / unit.size(),
        _ => return None,
    };
    let unit = one.response.unit.map(ResponseUnit::name).map_or_else(String::new, |unit| format!(" {unit}"));
    (most > usual).then(|| {
        let text = format!(
            "{}: {}{unit} is unusual for a cutting; check the entry and the unit.",
            one.response.column,
            written(most)
        );
        Note::new("unusual_response", text)
    })
}

/// A value as it was most likely entered.
fn written(value: f64) -> String {
    format!("{}", (value * 1e6).round() / 1e6)
}
