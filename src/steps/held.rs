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
    /// Its levels: seedling, rootstock, scion, season, as far as they were named.
    pub labels: Vec<String>,
}

/// A chain of steps, checked. Asked for its yields.
#[derive(Debug, Clone, PartialEq)]
pub struct Steps {
    batches: Vec<StepsBatch>,
    columns: Vec<String>,
    issues: Vec<Issue>,
    notes: Vec<Note>,
    fingerprint: String,
}

impl Steps {
    /// A chain of these batches; `columns` name the start and each step.
    #[must_use]
    pub fn new(mut batches: Vec<StepsBatch>, columns: Vec<String>, issues: Vec<Issue>, notes: Vec<Note>) -> Self {
        batches.sort_by(|a, b| (&a.name, a.row).cmp(&(&b.name, b.row)));
        // The order of rows does not matter.
        let unplaced: Vec<StepsBatch> = batches.iter().map(|batch| StepsBatch { row: 0, ..batch.clone() }).collect();
        let fingerprint = fingerprint(&(&unplaced, &columns));
        Self { batches, columns, issues, notes, fingerprint }
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
