//! Rows of the record: each cell read once, each problem told with its row, column and value.

use super::dates::shown_day;
use super::options::{StepColumns, WatchOptions};
use crate::error::{Issue, Severity};
use crate::trial::{DateOrder, Texts, filled, order_of, plants, written};

/// Whether a row is a reading that counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Status {
    Read,
    NotDue,
    Moved,
    Sampled,
}

/// One row as it was read.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reading {
    /// Number of the row for the user.
    pub(super) row: u64,
    /// What the batch is called.
    pub(super) batch: String,
    pub(super) set: i32,
    pub(super) read: i32,
    pub(super) started: u64,
    pub(super) alive: u64,
    pub(super) removed: u64,
    /// False where nobody wrote how many were taken away.
    pub(super) removed_known: bool,
    /// Labels of cultivars, grafter and places, in that order.
    pub(super) labels: Vec<String>,
    pub(super) parent: Option<String>,
    pub(super) season: Option<String>,
    pub(super) steps: Vec<Option<(u64, u64)>>,
}

/// What the rows hold.
#[derive(Debug, Clone, Default)]
pub(super) struct Rows {
    pub(super) readings: Vec<Reading>,
    pub(super) issues: Vec<Issue>,
}

/// Reads all rows.
pub(super) fn rows(texts: &Texts, options: &WatchOptions, today: i32) -> Rows {
    let mut found = Rows::default();
    let order = order_of(texts, &[&options.set_date, &options.reading_date], options.day_first, &mut found.issues);
    for (at, row) in texts.numbers().iter().enumerate() {
        if texts.is_blank(at) || options.leave_out.contains(row) {
            continue;
        }
        let reader = Reader { texts, options, at, row: *row, order, today };
        match reader.reading() {
            Ok(Some(reading)) => found.readings.push(reading),
            Ok(None) => {}
            Err(mut issues) => found.issues.append(&mut issues),
        }
        found.issues.extend(reader.set_aside());
    }
    found
}

struct Reader<'a> {
    texts: &'a Texts,
    options: &'a WatchOptions,
    at: usize,
    row: u64,
    order: DateOrder,
    today: i32,
}

const STATUSES: [(&str, Status); 4] =
    [("read", Status::Read), ("not due", Status::NotDue), ("moved", Status::Moved), ("sampled", Status::Sampled)];

impl Reader<'_> {
    fn cell(&self, column: &str) -> Option<&str> {
        filled(self.texts.column(column)?.get(self.at)?)
    }

    fn issue(&self, code: &str, column: &str, reason: String, hint: &str) -> Issue {
        let issue = Issue::of_input(code, reason, hint).at_row(self.row).in_column(column);
        match self.cell(column) {
            Some(cell) => issue.with_value(cell),
            None => issue,
        }
    }

    fn status(&self) -> Result<Status, Issue> {
        let Some((column, cell)) = self.options.status.as_deref().and_then(|name| Some((name, self.cell(name)?)))
        else {
            return Ok(Status::Read);
        };
        let plain = cell.to_lowercase().replace(['_', '-'], " ");
        let known = STATUSES.iter().find(|(name, _)| *name == plain).map(|(_, status)| *status);
        known.ok_or_else(|| {
            let hint = "write read, not due, moved or sampled; blank is read";
            self.issue("unknown_status", column, format!("the status {cell:?} is not known"), hint)
        })
    }

    /// The reading of this row; None where it is none that counts.
    fn reading(&self) -> Result<Option<Reading>, Vec<Issue>> {
        let mut issues = Vec::new();
        let status = self.status().map_err(|issue| vec![issue])?;
        if status != Status::Read || self.cell(&self.options.alive).is_none() {
            return Ok(None);
        }
        let keep = |found: Result<_, Issue>, issues: &mut Vec<Issue>| found.map_err(|issue| issues.push(issue)).ok();
        let started = keep(self.count(&self.options.started), &mut issues);
        let alive = keep(self.count(&self.options.alive), &mut issues);
        let removed = match self.options.removed.as_deref() {
            Some(name) if self.cell(name).is_some() => keep(self.count(name), &mut issues),
            _ => Some(0),
        };
        let removed_known = self.options.removed.as_deref().is_some_and(|name| self.cell(name).is_some());
        let day = |found: Result<i32, Issue>, issues: &mut Vec<Issue>| found.map_err(|issue| issues.push(issue)).ok();
        let set = day(self.day(&self.options.set_date), &mut issues);
        let read = day(self.day(&self.options.reading_date), &mut issues);
        let labels = self.labels(&mut issues);
        let steps = self.steps(&mut issues);
        if let (Some(started), Some(alive), Some(removed)) = (started, alive, removed) {
            issues.extend(self.fits(started, alive, removed));
        }
        if let (Some(set), Some(read)) = (set, read) {
            issues.extend(self.in_order(set, read));
        }
        match (started, alive, removed, set, read) {
            (Some(started), Some(alive), Some(removed), Some(set), Some(read)) if issues.is_empty() => {
                let text = |name: &Option<String>| name.as_deref().and_then(|name| self.cell(name)).map(str::to_owned);
                Ok(Some(Reading {
                    row: self.row,
                    batch: self.name(),
                    set,
                    read,
                    started: started - removed,
                    alive,
                    removed,
                    removed_known,
                    labels,
                    parent: text(&self.options.parent),
                    season: text(&self.options.season),
                    steps,
                }))
            }
            _ => Err(issues),
        }
    }

    /// Why a row is set aside that is no mistake.
    fn set_aside(&self) -> Option<Issue> {
        let status = self.options.status.as_deref().unwrap_or(&self.options.alive);
        let told = |code: &str, reason: &str, hint: &str| {
            let column = if code == "not_read" { &self.options.alive } else { status };
            Some(self.issue(code, column, reason.to_owned(), hint).graded(Severity::Information))
        };
        match self.status().ok()? {
            Status::NotDue => told("not_due", "not due yet, so it says nothing so far", "nothing is to be done"),
            Status::Moved => told("moved", "moved, so it is no reading of this place", "nothing is to be done"),
            Status::Sampled => told("sampled", "sampled, so it is no reading of the batch", "nothing is to be done"),
            Status::Read if self.cell(&self.options.alive).is_none() => told(
                "not_read",
                "nobody wrote down how many were alive; a gap is never 0",
                "fill it in, or leave it out",
            ),
            Status::Read => None,
        }
    }

    fn name(&self) -> String {
        let parts: Vec<&str> = self.options.batch.iter().filter_map(|name| self.cell(name)).collect();
        if parts.is_empty() { format!("row {}", self.row) } else { parts.join(" ") }
    }

    fn labels(&self, issues: &mut Vec<Issue>) -> Vec<String> {
        let options = self.options;
        let mut labels = Vec::new();
        for column in options.level_columns().chain(&options.batch) {
            match self.cell(column) {
                Some(label) => labels.push(label.to_owned()),
                None => {
                    let hint = "write it in, or leave the row out";
                    issues.push(self.issue("missing_level", column, "nothing is written here".to_owned(), hint));
                }
            }
        }
        labels.truncate(labels.len().saturating_sub(options.batch.len()));
        labels
    }

    /// What was counted at each step; a step of which either count is blank was not.
    fn steps(&self, issues: &mut Vec<Issue>) -> Vec<Option<(u64, u64)>> {
        let one = |step: &StepColumns| {
            if self.cell(&step.started).is_none() || self.cell(&step.alive).is_none() {
                return None;
            }
            let counts = (self.count(&step.started), self.count(&step.alive));
            match counts {
                (Ok(started), Ok(alive)) if alive > started => {
                    let reason = format!("{alive} of {started} at the step {:?}", step.step);
                    let hint = "correct the smaller or the larger of the two";
                    issues.push(self.issue("alive_above_started", &step.alive, reason, hint));
                    None
                }
                (Ok(started), Ok(alive)) => Some((started, alive)).filter(|_| started > 0),
                (started, alive) => {
                    issues.extend(started.err().into_iter().chain(alive.err()));
                    None
                }
            }
        };
        self.options.steps.iter().map(one).collect()
    }

    fn count(&self, column: &str) -> Result<u64, Issue> {
        plants(self.cell(column).unwrap_or_default())
            .map_err(|(code, reason, hint)| self.issue(code, column, reason, hint))
    }

    fn day(&self, column: &str) -> Result<i32, Issue> {
        let Some(cell) = self.cell(column) else {
            return Err(self.issue(
                "missing_date",
                column,
                "no date is written here".to_owned(),
                "write it as 2026-03-31",
            ));
        };
        let found = written(cell).and_then(|date| date.day(self.order));
        found.ok_or_else(|| {
            let number = cell.parse::<f64>().is_ok_and(|value| (20_000.0..80_000.0).contains(&value));
            let hint = if number {
                "a spreadsheet turned it into a number of days; format the column as dates, or write 2026-03-31"
            } else {
                "write it as 2026-03-31"
            };
            self.issue("no_date", column, format!("{cell:?} is no date"), hint)
        })
    }

    fn fits(&self, started: u64, alive: u64, removed: u64) -> Option<Issue> {
        let column = &self.options.alive;
        if started == 0 {
            let hint = "write how many plants the batch began with";
            return Some(self.issue("none_started", &self.options.started, "no plant was started".to_owned(), hint));
        }
        if alive > started {
            let reason = format!("{alive} alive of {started} started");
            return Some(self.issue(
                "alive_above_started",
                column,
                reason,
                "correct the smaller or the larger of the two",
            ));
        }
        if removed >= started || alive + removed > started {
            let reason = format!("{alive} alive and {removed} taken away make more than {started} started");
            let hint = "plants taken away alive no longer count as alive; correct the numbers";
            return Some(self.issue("removed_above_started", column, reason, hint));
        }
        None
    }

    fn in_order(&self, set: i32, read: i32) -> Option<Issue> {
        let column = &self.options.reading_date;
        if read < set {
            let reason = format!("read on {}, before it was set on {}", shown_day(read), shown_day(set));
            return Some(self.issue("read_before_set", column, reason, "correct one of the two dates"));
        }
        if read > self.today {
            let reason = format!("{} is still to come", shown_day(read));
            let hint = "correct the date, or leave the row out until then";
            return Some(self.issue("future_date", column, reason, hint));
        }
        None
    }
}
