//! A chain of steps as it was read: one line per batch.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::chain::Passed;
use crate::answer::{Answer, Note};
use crate::error::{Error, Issue, Result, Severity, StepsError};
use crate::report::whole;
use crate::trial::fingerprint;

/// The code of the note that rows were set aside.
pub(super) const SET_ASIDE: &str = "rows_set_aside";
/// Code of the note about batches that no plant is listed of where plants of others are.
pub(super) const NO_PLANTS: &str = "batches_without_plants";

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
    /// Where its plants differ in a level: those that are alike. None where all are alike.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<StepsPart>,
}

/// Plants of a batch that have the same levels, where others of it have other ones.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StepsPart {
    /// Their level in each column of levels; empty where they never came to the treatment.
    pub labels: Vec<String>,
    /// Those that reached and passed each step at these levels; None where none was counted.
    pub steps: Vec<Option<Passed>>,
}

impl StepsBatch {
    /// The levels in a column among the parts that came to a column of the chain or further; none where plants are alike.
    pub(super) fn levels_onward(&self, at: usize, from: usize) -> Vec<&str> {
        let comes = |part: &&StepsPart| part.steps.iter().skip(from).flatten().any(|one| one.reached > 0);
        let levels = self.parts.iter().filter(comes).filter_map(|part| part.labels.get(at)).map(String::as_str);
        levels.collect::<BTreeSet<&str>>().into_iter().collect()
    }
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

    /// Errors that tell of steps by their place tell of them by name; places are counted from column `from` of the chain on.
    pub(super) fn naming(&self, from: usize) -> impl Fn(Error) -> Error + '_ {
        let name = move |step: usize| self.columns.get(from + step).cloned().unwrap_or_default();
        move |error| match error {
            Error::Steps(StepsError::NothingReached { step }) => StepsError::NothingLeftFor { step: name(step) }.into(),
            Error::Steps(StepsError::OneBatchAtStep { step }) => {
                StepsError::OneBatchCounted { step: name(step) }.into()
            }
            other => other,
        }
    }

    /// That too few batches can be used, with the rows that were set aside, since these may be why.
    pub(super) fn too_few(&self, batches: usize) -> Error {
        let rows: BTreeSet<u64> = self.set_aside().iter().filter_map(|issue| issue.row).collect();
        match rows.len() {
            0 => StepsError::TooFewBatches { batches }.into(),
            set_aside => StepsError::TooFewLeft { batches, set_aside }.into(),
        }
    }

    /// Refuses a chain with a step at which no batch was counted.
    ///
    /// # Errors
    /// [`StepsError`] with the step.
    pub(super) fn counted_at_each_step(&self) -> Result<()> {
        let blank = |at: &usize| self.batches.iter().all(|batch| batch.steps.get(*at).is_none_or(Option::is_none));
        let step = (0..self.columns.len().saturating_sub(1)).find(blank).filter(|_| !self.batches.is_empty());
        match step.and_then(|at| self.columns.get(at + 1)) {
            Some(step) => Err(StepsError::StepNotCounted { step: step.clone() }.into()),
            None => Ok(()),
        }
    }

    /// Batches whose plants differ in a column of levels, among those that came to it.
    pub(super) fn parted(&self, at: usize) -> usize {
        let from = self.levels.get(at).map_or(0, |column| column.from);
        self.batches.iter().filter(|batch| batch.levels_onward(at, from).len() > 1).count()
    }

    /// An answer with what the record says of it: rows that were set aside, in its notes and in how it was made.
    pub(super) fn told<F>(&self, mut answer: Answer<F>) -> Answer<F> {
        answer
            .notes
            .extend(self.notes.iter().filter(|note| [SET_ASIDE, NO_PLANTS].contains(&note.code.as_str())).cloned());
        let aside = self.set_aside();
        let rows: BTreeSet<u64> = aside.iter().filter_map(|issue| issue.row).collect();
        if !rows.is_empty() {
            let mut codes = BTreeMap::<&str, BTreeSet<Option<u64>>>::new();
            aside.iter().for_each(|issue| {
                codes.entry(issue.code.as_str()).or_default().insert(issue.row);
            });
            let codes: Vec<String> = codes.iter().map(|(code, rows)| format!("{code} {}", rows.len())).collect();
            let told = format!("{}: {}", whole(rows.len() as u64, "row", "rows"), codes.join(", "));
            answer.made_with.options.push(("set_aside".to_owned(), told));
        }
        answer
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
