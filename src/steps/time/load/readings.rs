//! One row per tray and visit: each cell read once, each problem told with its row, column and value.

use super::cells::{Labels, Row};
use super::options::VisitsOptions;
use crate::error::Issue;
use crate::trial::Texts;

/// One tray at one visit; counts so far.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reading {
    pub(super) row: u64,
    pub(super) day: u64,
    pub(super) started: u64,
    pub(super) rooted: u64,
    pub(super) dead: u64,
    pub(super) sampled: u64,
    pub(super) labels: Labels,
}

impl Reading {
    pub(super) fn waiting(&self) -> u64 {
        self.started - self.rooted - self.dead - self.sampled
    }
}

/// Reads all rows.
pub(super) fn readings(texts: &Texts, options: &VisitsOptions) -> (Vec<Reading>, Vec<Issue>) {
    let (mut found, mut issues) = (Vec::new(), Vec::new());
    for row in Row::all(texts, options) {
        match reading(&row) {
            Ok(reading) => found.push(reading),
            Err(mut wrong) => issues.append(&mut wrong),
        }
    }
    (found, issues)
}

fn reading(row: &Row<'_>) -> Result<Reading, Vec<Issue>> {
    let (mut issues, options) = (Vec::new(), row.options);
    let labels = row.labels(&mut issues);
    let day = row.day(&options.day, &mut issues);
    let mut count = |column: &Option<String>| match column {
        Some(column) => row.count(column, &mut issues),
        None => Some(0),
    };
    let started = count(&options.started);
    let (rooted, dead, sampled) = (count(&options.rooted), count(&options.dead), count(&options.sampled));
    let (Some(day), Some(started), Some(rooted), Some(dead), Some(sampled)) = (day, started, rooted, dead, sampled)
    else {
        return Err(issues);
    };
    if started == 0 {
        let hint = "write how many plants the tray began with, or leave the row out";
        let column = options.started.as_deref().unwrap_or_default();
        issues.push(row.issue("none_started", column, "no plant was started".to_owned(), hint));
    }
    if rooted + dead + sampled > started {
        issues.push(above(row, started, [rooted, dead, sampled]));
    } else if day == 0 && rooted + dead + sampled > 0 {
        let hint = "days count from setting, which is day 0; correct the day or the counts";
        issues.push(row.issue(
            "before_setting",
            &options.day,
            "plants are counted on the day of setting".to_owned(),
            hint,
        ));
    }
    if issues.is_empty() {
        Ok(Reading { row: row.row, day, started, rooted, dead, sampled, labels })
    } else {
        Err(issues)
    }
}

/// The issue of more plants than were started.
fn above(row: &Row<'_>, started: u64, [rooted, dead, sampled]: [u64; 3]) -> Issue {
    let options = row.options;
    let told =
        [(rooted, "rooted", &options.rooted), (dead, "dead", &options.dead), (sampled, "taken away", &options.sampled)];
    let named: Vec<String> = told
        .iter()
        .filter(|(_, _, column)| column.is_some())
        .map(|(count, word, _)| format!("{count} {word}"))
        .collect();
    let most = told.iter().filter_map(|(count, _, column)| Some((count, column.as_deref()?))).max_by_key(|one| one.0);
    let column = most.map(|(_, column)| column).unwrap_or_default();
    let reason = format!("{} of {started} started", named.join(" and "));
    let hint = format!(
        "counts are so far and of different plants; correct one, or leave the row out: leave_out=[{}]",
        row.row
    );
    row.issue("above_started", column, reason, hint).pasted(&format!("leave_out=[{}]", row.row))
}
