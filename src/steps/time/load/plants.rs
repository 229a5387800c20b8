//! One row per plant: the last day it was seen waiting, the day its end was seen, and what became of it.

use std::collections::BTreeMap;

use super::cells::{Labels, Row, at_odds};
use super::options::VisitsOptions;
use crate::error::Issue;
use crate::steps::time::table::Ending;
use crate::trial::Texts;

/// Words for plants that are followed no further.
const LEFT: [&str; 5] = ["waiting", "young", "sold", "sampled", "moved"];

/// One plant, with days.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Plant {
    pub(super) after: u64,
    pub(super) by: u64,
    pub(super) ending: Ending,
    pub(super) labels: Labels,
}

/// Reads all plants.
pub(super) fn plants(texts: &Texts, options: &VisitsOptions) -> (Vec<Plant>, Vec<Issue>) {
    let (mut found, mut issues) = (Vec::new(), Vec::new());
    let mut names: BTreeMap<String, u64> = BTreeMap::new();
    let mut trays: BTreeMap<String, (u64, Labels)> = BTreeMap::new();
    for row in Row::all(texts, options) {
        let plant = match plant(&row) {
            Ok(plant) => plant,
            Err(mut wrong) => {
                issues.append(&mut wrong);
                continue;
            }
        };
        if let Some(issue) = twice(&row, &mut names) {
            issues.push(issue);
            continue;
        }
        if options.tray.is_some() {
            let (first, known) =
                trays.entry(plant.labels.tray.clone()).or_insert_with(|| (row.row, plant.labels.clone()));
            if let Some((column, one, two)) = at_odds(options, known, &plant.labels) {
                let reason = format!("tray {:?} is {one:?} in row {first} and {two:?} here", plant.labels.tray);
                let hint = "correct the label, or give trays names of their own";
                issues.push(row.issue("tray_of_two_kinds", &column, reason, hint));
                continue;
            }
        }
        found.push(plant);
    }
    (found, issues)
}

/// The issue of a plant whose name stood in a row before.
fn twice(row: &Row<'_>, names: &mut BTreeMap<String, u64>) -> Option<Issue> {
    let column = row.options.plant.as_deref()?;
    let name = row.cell(column)?.to_owned();
    let tray = row.options.tray.as_deref().and_then(|tray| row.cell(tray)).unwrap_or_default();
    let Some(first) = names.get(&format!("{tray}\u{0}{name}")) else {
        names.insert(format!("{tray}\u{0}{name}"), row.row);
        return None;
    };
    let reason = format!("plant {name:?} stands in row {first} too");
    let paste = format!("leave_out=[{}]", row.row);
    Some(row.issue("plant_twice", column, reason, format!("give each plant one row: {paste}")).pasted(&paste))
}

fn plant(row: &Row<'_>) -> Result<Plant, Vec<Issue>> {
    let (mut issues, options) = (Vec::new(), row.options);
    let labels = row.labels(&mut issues);
    let day = row.day(&options.day, &mut issues);
    let became = options.became.as_deref().unwrap_or_default();
    let ending = match row.cell(became) {
        None => Some(Ending::Waiting),
        Some(word) if word.eq_ignore_ascii_case("rooted") => Some(Ending::Rooted),
        Some(word) if word.eq_ignore_ascii_case("dead") => Some(Ending::Dead),
        Some(word) if LEFT.iter().any(|known| known.eq_ignore_ascii_case(word)) => Some(Ending::Waiting),
        Some(word) => {
            let hint = "write rooted or dead; blank, young, sold, sampled or moved where it was followed no further";
            issues.push(row.issue("unknown_ending", became, format!("{word:?} is not known"), hint));
            None
        }
    };
    let last = options.last_without.as_deref().unwrap_or_default();
    // Of a plant that is followed no further the last day on which it was seen is all there is to know.
    let after = match ending {
        Some(Ending::Waiting) => day,
        _ => row.day(last, &mut issues),
    };
    let (Some(by), Some(after), Some(ending), true) = (day, after, ending, issues.is_empty()) else {
        return Err(issues);
    };
    if ending != Ending::Waiting && after >= by {
        let word = if ending == Ending::Rooted { "rooted" } else { "dead" };
        let reason = format!("seen {word} on day {by}, and still without on day {after}");
        let hint =
            format!("the day of its end comes after the last day without; correct one, or leave_out=[{}]", row.row);
        let issue = row.issue("day_before_last_without", last, reason, hint);
        return Err(vec![issue.pasted(&format!("leave_out=[{}]", row.row))]);
    }
    Ok(Plant { after, by, ending, labels })
}
