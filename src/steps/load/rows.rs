//! Rows of a chain: each cell read once, each problem told with its row, column and value.

use super::cells::Cells;
use super::options::StepsOptions;
use crate::error::{Issue, Severity};
use crate::steps::chain::Passed;
use crate::steps::held::StepsBatch;
use crate::trial::{Texts, plants};

/// What the rows hold.
#[derive(Debug, Clone, Default)]
pub(super) struct Rows {
    pub(super) batches: Vec<StepsBatch>,
    pub(super) issues: Vec<Issue>,
}

/// Reads all rows.
pub(super) fn rows(texts: &Texts, options: &StepsOptions) -> Rows {
    let mut found = Rows::default();
    for (at, row) in texts.numbers().iter().enumerate() {
        if texts.is_blank(at) || options.leave_out.contains(row) {
            continue;
        }
        let reader = Reader { cells: Cells { texts, at, row: *row }, options };
        match reader.batch() {
            Ok(batch) => found.batches.push(batch),
            Err(mut issues) => found.issues.append(&mut issues),
        }
    }
    found
}

struct Reader<'a> {
    cells: Cells<'a>,
    options: &'a StepsOptions,
}

impl Reader<'_> {
    /// The number in a column; None where nothing is written.
    fn count(&self, column: &str, issues: &mut Vec<Issue>) -> Option<u64> {
        let cell = self.cells.cell(column)?;
        plants(cell).map_err(|(code, reason, hint)| issues.push(self.cells.issue(code, column, reason, hint))).ok()
    }

    fn batch(&self) -> Result<StepsBatch, Vec<Issue>> {
        let mut issues = Vec::new();
        let options = self.options;
        let counts: Vec<Option<u64>> = options.steps.iter().map(|step| self.count(step, &mut issues)).collect();
        let unread = !issues.is_empty();
        let gone: Vec<u64> = options.steps.iter().map(|step| self.gone(step, &mut issues)).collect();
        if !unread {
            self.gaps(&counts, &mut issues);
        }
        let started = counts.first().copied().flatten();
        if let (Some(0), Some(first)) = (started, options.steps.first()) {
            let hint = "write how many plants the batch began with, or leave the row out";
            issues.push(self.cells.issue("none_started", first, "no plant was started".to_owned(), hint));
        }
        let mut steps = Vec::new();
        for (at, (before, after)) in counts.iter().zip(counts.iter().skip(1)).enumerate() {
            let passed =
                before.zip(*after).and_then(|(before, after)| self.passed(at, (before, after), &gone, &mut issues));
            steps.push(passed);
        }
        let states = options.states.iter().map(|state| self.state(state, started, &mut issues)).collect();
        let labels = options.levels().into_iter().map(|(_, column)| self.cells.label(column, &mut issues)).collect();
        if !issues.is_empty() {
            return Err(issues);
        }
        let parts: Vec<&str> = options.batch.iter().filter_map(|name| self.cells.cell(name)).collect();
        let name = if parts.is_empty() { format!("row {}", self.cells.row) } else { parts.join(" ") };
        Ok(StepsBatch { name, row: self.cells.row, started: started.unwrap_or_default(), steps, states, labels })
    }

    /// Plants that left alive after a step.
    fn gone(&self, step: &str, issues: &mut Vec<Issue>) -> u64 {
        let columns = self.options.taken_away.iter().filter(|one| one.step == step);
        columns.filter_map(|one| self.count(&one.column, issues)).sum()
    }

    /// A blank is a plant too young at the end of the chain, and a gap before it.
    fn gaps(&self, counts: &[Option<u64>], issues: &mut Vec<Issue>) {
        let last = counts.iter().rposition(Option::is_some);
        for (at, (count, column)) in counts.iter().zip(&self.options.steps).enumerate() {
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

    fn passed(&self, at: usize, (before, after): (u64, u64), gone: &[u64], issues: &mut Vec<Issue>) -> Option<Passed> {
        let gone = gone.get(at).copied().unwrap_or_default();
        let (from, to) = (self.options.steps.get(at)?, self.options.steps.get(at + 1)?);
        let reached = before.saturating_sub(gone);
        if after > reached || gone > before {
            let left = if gone > 0 { format!(" after {gone} were taken away") } else { String::new() };
            let reason = format!("{after} at {to:?} of {before} at {from:?}{left}; counts never rise along the chain");
            let hint = "correct the smaller or the larger of the two; a state that may come and go, as callus, goes into states=";
            issues.push(self.cells.issue("rises_along_chain", to, reason, hint));
            return None;
        }
        Some(Passed { reached, passed: after })
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

/// Names that stand in several rows: a batch has one row.
pub(super) fn twice(batches: &[StepsBatch], options: &StepsOptions) -> Vec<Issue> {
    let mut known = std::collections::BTreeMap::new();
    let mut issues = Vec::new();
    for batch in batches {
        if let Some(first) = known.get(&batch.name) {
            let reason = format!("batch {:?} stands in row {first} too", batch.name);
            let hint =
                "give each batch one row; name further columns that tell trays apart, batch=[\"batch\", \"tray\"]";
            let issue = Issue::of_input("batch_twice", reason, hint).at_row(batch.row).with_value(batch.name.as_str());
            issues.push(match options.batch.last() {
                Some(column) => issue.in_column(column),
                None => issue,
            });
        } else {
            known.insert(batch.name.clone(), batch.row);
        }
    }
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
