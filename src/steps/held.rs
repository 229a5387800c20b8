//! A chain of steps as it was read: one line per batch.

use serde::Serialize;

use super::chain::Passed;
use crate::answer::Note;
use crate::error::{Issue, Severity};
use crate::trial::fingerprint;

/// One batch or tray.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StepsBatch {
    /// What it is called.
    pub name: String,
    /// Its row, as the user sees rows.
    pub row: u64,
    /// Plants started.
    pub started: u64,
    /// Plants that reached and passed each step after the start; None where the batch is too young for it.
    pub steps: Vec<Option<Passed>>,
    /// Plants in each state beside the chain; None where it was not counted.
    pub states: Vec<Option<u64>>,
    /// Its level in each column of levels.
    pub labels: Vec<String>,
    /// The day of the start and of each step, counted from 1 January 1970; None where none is written.
    pub dates: Vec<Option<i32>>,
}

/// A column of levels.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LevelColumn {
    /// The part it plays: seedling, rootstock, scion, season, room, grafter, levels or treatments.
    pub role: String,
    /// The column.
    pub column: String,
    /// The column of the chain from which on levels can differ: 0 for the start, later for treatments of a later step.
    pub from: usize,
}

/// A chain of steps, checked. Asked for its yields.
#[derive(Debug, Clone, PartialEq)]
pub struct Steps {
    batches: Vec<StepsBatch>,
    columns: Vec<String>,
    levels: Vec<LevelColumn>,
    issues: Vec<Issue>,
    notes: Vec<Note>,
    fingerprint: String,
}

impl Steps {
    /// A chain of these batches; `columns` name the start and each step, `levels` what the labels of batches are.
    #[must_use]
    pub fn new(
        mut batches: Vec<StepsBatch>,
        columns: Vec<String>,
        levels: Vec<LevelColumn>,
        issues: Vec<Issue>,
        notes: Vec<Note>,
    ) -> Self {
        batches.sort_by(|a, b| (&a.name, a.row).cmp(&(&b.name, b.row)));
        // The order of rows does not matter.
        let unplaced: Vec<StepsBatch> = batches.iter().map(|batch| StepsBatch { row: 0, ..batch.clone() }).collect();
        let fingerprint = fingerprint(&(&unplaced, &columns, &levels));
        Self { batches, columns, levels, issues, notes, fingerprint }
    }

    /// The batches, by name.
    #[must_use]
    pub fn batches(&self) -> &[StepsBatch] {
        &self.batches
    }

    /// The columns of the chain; the first is what was started.
    #[must_use]
    pub fn columns(&self) -> &[String] {
        &self.columns
    }

    /// The columns of levels, in the order of a batch's labels.
    #[must_use]
    pub fn level_columns(&self) -> &[LevelColumn] {
        &self.levels
    }

    /// The season of each of these batches as a number; None where no season is named.
    pub(super) fn seasons_of(&self, batches: &[&StepsBatch]) -> Option<Vec<usize>> {
        let at = self.levels.iter().position(|one| one.role == "season")?;
        let label = |batch: &&StepsBatch| batch.labels.get(at).cloned().unwrap_or_default();
        let mut known: Vec<String> = batches.iter().map(label).collect();
        known.sort();
        known.dedup();
        Some(batches.iter().map(|batch| known.binary_search(&label(batch)).unwrap_or_default()).collect())
    }

    /// Everything found while reading.
    #[must_use]
    pub fn issues(&self) -> &[Issue] {
        &self.issues
    }

    /// Rows that do not enter, each with its reason.
    #[must_use]
    pub fn set_aside(&self) -> Vec<&Issue> {
        let told = |issue: &&Issue| issue.row.is_some() && issue.severity == Severity::Problem;
        self.issues.iter().filter(told).collect()
    }

    /// Named cautions about the record.
    #[must_use]
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// A short hash of the batches.
    #[must_use]
    pub fn fingerprint(&self) -> &str {
        &self.fingerprint
    }
}
