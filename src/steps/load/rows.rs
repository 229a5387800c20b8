//! Rows of a chain: each cell read once, each problem told with its row, column and value.

use super::cells::{Cells, part_names};
use super::days::Days;
use super::options::StepsOptions;
use super::totals::Totals;
use crate::error::{Issue, Severity};
use crate::steps::held::StepsBatch;
use crate::trial::{Texts, plants};

/// One row: a batch, or a part of one.
#[derive(Debug, Clone, Default)]
pub(super) struct Row {
    pub(super) name: String,
    pub(super) row: u64,
    /// Plants at each column of the chain.
    pub(super) counts: Vec<Option<u64>>,
    /// Plants that left alive after each.
    pub(super) gone: Vec<u64>,
    pub(super) states: Vec<Option<u64>>,
    /// Levels; None where a part leaves them to what it came from.
    pub(super) labels: Vec<Option<String>>,
    /// What it was split from or merged of.
    pub(super) parents: Vec<String>,
    pub(super) dates: Vec<Option<i32>>,
    /// True where something in it is wrong: neither it nor batches of its descent can be used.
    pub(super) bad: bool,
}

impl Row {
    /// The first column of the chain that was counted.
    pub(super) fn first(&self) -> usize {
        self.counts.iter().position(Option::is_some).unwrap_or_default()
    }

    /// The last column of the chain that was counted.
    pub(super) fn last(&self) -> usize {
        self.counts.iter().rposition(Option::is_some).unwrap_or_default()
    }

    pub(super) fn count(&self, at: usize) -> u64 {
        self.counts.get(at).copied().flatten().unwrap_or_default()
    }

    /// Plants at a column that did not leave alive after it.
    pub(super) fn stayed(&self, at: usize) -> u64 {
        self.count(at).saturating_sub(self.gone.get(at).copied().unwrap_or_default())
    }
}

/// Reads all rows; what is wrong is added to `issues`.
pub(super) fn rows(texts: &Texts, options: &StepsOptions, issues: &mut Vec<Issue>) -> Vec<Row> {
    let days = Days::of(texts, options, issues);
    let mut totals = Totals::of(options);
    let mut found = Vec::new();
    for (at, row) in texts.numbers().iter().enumerate() {
        if texts.is_blank(at) || options.leave_out.contains(row) {
            continue;
        }
        let cells = Cells { texts, at, row: *row };
        if let Some(issue) = totals.issue(&cells) {
            issues.push(issue);
            continue;
        }
        found.push(Reader { cells, options, days: &days }.row(issues));
    }
    found
}

struct Reader<'a> {
    cells: Cells<'a>,
    options: &'a StepsOptions,
    days: &'a Days<'a>,
}

impl Reader<'_> {
    /// The number in a column; None where nothing is written.
    fn count(&self, column: &str, issues: &mut Vec<Issue>) -> Option<u64> {
        let cell = self.cells.cell(column)?;
        plants(cell).map_err(|(code, reason, hint)| issues.push(self.cells.issue(code, column, reason, hint))).ok()
    }

    fn row(&self, all: &mut Vec<Issue>) -> Row {
        let mut issues = Vec::new();
        let options = self.options;
        let counts: Vec<Option<u64>> = options.steps.iter().map(|step| self.count(step, &mut issues)).collect();
        let unread = !issues.is_empty();
        let gone: Vec<u64> = options.steps.iter().map(|step| self.gone(step, &mut issues)).collect();
        let parents = options.parent.as_deref().and_then(|column| self.cells.cell(column)).map(part_names);
        let parents = parents.unwrap_or_default();
        if !unread {
            self.gaps(&counts, !parents.is_empty(), &mut issues);
        }
        let started = counts.iter().copied().flatten().next();
        if let (Some(0), Some(first)) = (started.filter(|_| parents.is_empty()), options.steps.first()) {
            let hint = "write how many plants the batch began with, or leave the row out";
            issues.push(self.cells.issue("none_started", first, "no plant was started".to_owned(), hint));
        }
        if !unread {
            self.rises(&counts, &gone, &mut issues);
        }
        let states = options.states.iter().map(|state| self.state(state, started, &mut issues)).collect();
        // A part has the level of its origin where it names none; a treatment is missing only where plants came to it.
        let label = |role: &str, column: &str, issues: &mut Vec<Issue>| {
            if parents.is_empty() && role != "treatments" && self.cells.texts.column(column).is_some() {
                Some(self.cells.label(column, issues))
            } else {
                self.cells.cell(column).map(str::to_owned)
            }
        };
        let labels = options.levels().into_iter().map(|(role, column)| label(role, column, &mut issues)).collect();
        let is_counted = |at: usize| counts.get(at).copied().flatten().is_some();
        let dates = self.days.read(&self.cells, is_counted, &mut issues);
        let name = self.name(&mut issues);
        let bad = issues.iter().any(|issue| issue.severity == Severity::Problem);
        all.append(&mut issues);
        Row { name, row: self.cells.row, counts, gone, states, labels, parents, dates, bad }
    }

    /// What the batch is called.
    fn name(&self, issues: &mut Vec<Issue>) -> String {
        let Some(first) = self.options.batch.first() else { return format!("row {}", self.cells.row) };
        if self.cells.cell(first).is_none() {
            let hint = "write its name here, or leave the row out; names that stand once above several rows have to stand in each";
            issues.push(self.cells.issue("missing_batch", first, "the row has no batch".to_owned(), hint));
        }
        let parts: Vec<&str> = self.options.batch.iter().filter_map(|name| self.cells.cell(name)).collect();
        parts.join(" ")
    }

    /// Plants that left alive after a step.
    fn gone(&self, step: &str, issues: &mut Vec<Issue>) -> u64 {
        let columns = self.options.taken_away.iter().filter(|one| one.step == step);
        columns.filter_map(|one| self.count(&one.column, issues)).sum()
    }

    /// A blank is a plant too young at the end of the chain, and a gap before it; a part begins where it was split off.
    fn gaps(&self, counts: &[Option<u64>], of_others: bool, issues: &mut Vec<Issue>) {
        let last = counts.iter().rposition(Option::is_some);
        let begins = if of_others { counts.iter().position(Option::is_some).unwrap_or_default() } else { 0 };
        for (at, (count, column)) in counts.iter().zip(&self.options.steps).enumerate().skip(begins) {
            if count.is_none() && last.is_none_or(|last| at < last) {
                let reason = "nothing is written here, though a later step was counted".to_owned();
                let (reason, hint) = if at == 0 {
                    ("nothing says how many were started".to_owned(), "write the number of plants")
                } else {
                    (reason, "write the number; leave only steps blank that the batch is too young for")
                };
                issues.push(self.cells.issue("step_missing", column, reason, hint));
                if last.is_none() {
                    return;
                }
            }
        }
    }

    fn rises(&self, counts: &[Option<u64>], gone: &[u64], issues: &mut Vec<Issue>) {
        let pairs = counts.iter().zip(counts.iter().skip(1)).zip(gone);
        for ((pair, gone), names) in pairs.zip(self.options.steps.windows(2)) {
            let ((Some(before), Some(after)), [from, to]) = (pair, names) else { continue };
            if *after <= before.saturating_sub(*gone) && gone <= before {
                continue;
            }
            let left = if *gone > 0 { format!(" after {gone} were taken away") } else { String::new() };
            let reason = format!("{after} at {to:?} of {before} at {from:?}{left}; counts never rise along the chain");
            let hint = "correct the smaller or the larger of the two; a state that may come and go, as callus, goes into states=";
            issues.push(self.cells.issue("rises_along_chain", to, reason, hint));
        }
    }

    fn state(&self, column: &str, started: Option<u64>, issues: &mut Vec<Issue>) -> Option<u64> {
        let count = self.count(column, issues)?;
        if started.is_some_and(|started| count > started) {
            let reason = format!("{count} with {column:?} of {} started", started.unwrap_or_default());
            issues.push(self.cells.issue("state_above_started", column, reason, "correct one of the two counts"));
        }
        Some(count)
    }
}

/// Takes out rows of a name that stood before: a batch has one row.
pub(super) fn once(rows: &mut Vec<Row>, options: &StepsOptions) -> Vec<Issue> {
    let mut known = std::collections::BTreeMap::new();
    let mut issues = Vec::new();
    rows.retain(|row| {
        if row.bad {
            return true;
        }
        let Some(first) = known.get(&row.name) else {
            known.insert(row.name.clone(), row.row);
            return true;
        };
        let reason = format!("batch {:?} stands in row {first} too", row.name);
        let hint = "give each batch one row; name further columns that tell trays apart, batch=[\"batch\", \"tray\"]";
        let issue = Issue::of_input("batch_twice", reason, hint).at_row(row.row).with_value(row.name.as_str());
        issues.push(match options.batch.last() {
            Some(column) => issue.in_column(column),
            None => issue,
        });
        false
    });
    issues
}

/// Batches that are too young for the last steps.
pub(super) fn young(batches: &[StepsBatch], options: &StepsOptions) -> Vec<Issue> {
    let of = |batch: &StepsBatch| {
        let at = batch.steps.iter().position(Option::is_none)?;
        let column = options.steps.get(at + 1)?;
        let reason = format!("not counted from {column:?} on, so the batch is too young for it and lost nothing there");
        let issue = Issue::of_input("too_young", reason, "it enters with a later count").at_row(batch.row);
        Some(issue.in_column(column).graded(Severity::Information))
    };
    batches.iter().filter_map(of).collect()
}
