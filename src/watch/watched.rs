//! A crop under watch: its checked record, and the questions it is asked.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::answer::Note;
use crate::control::Control;
use crate::error::{Issue, Result, Severity, WatchError};
use crate::trial::fingerprint;
use crate::watch::baseline::Baseline;
use crate::watch::crop::{Batch, Grouping};
use crate::watch::load::WatchOptions;

/// Which batches make a baseline.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BaselineOptions {
    /// First day of reading, in days since 1970.
    pub since: Option<i32>,
    /// Last day of reading; None for the first two thirds of the batches.
    pub until: Option<i32>,
    /// Stretches of days of reading that are left out, first and last day each.
    pub without: Vec<(i32, i32)>,
}

/// What was found while a record was read.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Record {
    pub(super) issues: Vec<Issue>,
    pub(super) notes: Vec<Note>,
    pub(super) options: WatchOptions,
    pub(super) reading_age: Option<i32>,
}

/// A crop under watch.
#[derive(Debug, Clone, PartialEq)]
pub struct Watch {
    batches: Vec<Batch>,
    groupings: Vec<Grouping>,
    fingerprint: String,
    record: Record,
}

/// The least a baseline is made of.
const BATCHES: usize = 20;
const WEEKS: usize = 8;

/// A batch as one step of the chain counted it.
pub(super) fn at_step(batch: &Batch, step: usize) -> Option<Batch> {
    let (started, alive) = batch.steps.get(step).copied().flatten()?;
    Some(Batch { started, alive, ..batch.clone() })
}

impl Watch {
    /// A crop of these batches, each at the reading that counts.
    #[must_use]
    pub fn new(mut batches: Vec<Batch>, groupings: Vec<Grouping>) -> Self {
        batches.sort_by(|a, b| (a.read, a.set, &a.name, a.row).cmp(&(b.read, b.set, &b.name, b.row)));
        // The order of rows does not matter.
        let unplaced: Vec<Batch> = batches.iter().map(|batch| Batch { row: 0, ..batch.clone() }).collect();
        let fingerprint = fingerprint(&(&unplaced, &groupings));
        Self { batches, groupings, fingerprint, record: Record::default() }
    }

    /// The same with what was found while it was read.
    pub(super) fn of_record(batches: Vec<Batch>, groupings: Vec<Grouping>, record: Record) -> Self {
        Self { record, ..Self::new(batches, groupings) }
    }

    /// Everything found while reading.
    #[must_use]
    pub fn issues(&self) -> &[Issue] {
        &self.record.issues
    }

    /// Rows that do not enter, each with its reason.
    #[must_use]
    pub fn set_aside(&self) -> Vec<&Issue> {
        let told = |issue: &&Issue| issue.row.is_some() && issue.severity != Severity::Question;
        self.record.issues.iter().filter(told).collect()
    }

    /// Named cautions about the record.
    #[must_use]
    pub fn notes(&self) -> &[Note] {
        &self.record.notes
    }

    /// The options it was read with.
    #[must_use]
    pub fn options(&self) -> &WatchOptions {
        &self.record.options
    }

    /// Days after setting at which batches are judged.
    #[must_use]
    pub fn reading_age(&self) -> Option<i32> {
        self.record.reading_age
    }

    /// A short hash of the batches.
    #[must_use]
    pub fn fingerprint(&self) -> &str {
        &self.fingerprint
    }

    /// The batches in the order of their readings.
    #[must_use]
    pub fn batches(&self) -> &[Batch] {
        &self.batches
    }

    /// The columns of levels.
    #[must_use]
    pub fn groupings(&self) -> &[Grouping] {
        &self.groupings
    }

    /// Whether a batch makes part of a baseline.
    pub(super) fn is_within(&self, options: &BaselineOptions, batch: &Batch) -> bool {
        let third = || self.batches.get((2 * self.batches.len() / 3).saturating_sub(1)).map(|batch| batch.read);
        let until = options.until.or_else(third).unwrap_or(i32::MAX);
        let left_out = options.without.iter().any(|(from, to)| (*from..=*to).contains(&batch.read));
        batch.read <= until && options.since.is_none_or(|since| batch.read >= since) && !left_out
    }

    /// What the crop is expected to do, from batches read in a stretch of time.
    ///
    /// # Errors
    /// [`WatchError::TooFewBatches`]; interrupted where the user asked to stop.
    pub fn baseline(&self, options: &BaselineOptions, control: &Control) -> Result<Baseline> {
        let batches: Vec<&Batch> = self.batches.iter().filter(|batch| self.is_within(options, batch)).collect();
        let weeks: BTreeSet<i32> = batches.iter().map(|batch| batch.set_week()).collect();
        if batches.len() < BATCHES || weeks.len() < WEEKS {
            let (found, batches) = (weeks.len(), batches.len());
            return Err(WatchError::TooFewBatches { batches, needed: BATCHES, found, weeks: WEEKS }.into());
        }
        let mut baseline = Baseline::of(&batches, &self.groupings, &self.fingerprint, control)?;
        baseline.reading_age = self.record.reading_age;
        for (at, step) in self.record.options.steps.iter().enumerate() {
            let counted: Vec<Batch> = batches.iter().filter_map(|batch| at_step(batch, at)).collect();
            if counted.len() >= BATCHES {
                let counted: Vec<&Batch> = counted.iter().collect();
                let own = Baseline::of(&counted, &self.groupings, &self.fingerprint, control)?;
                baseline.steps.push((step.step.clone(), own));
            }
        }
        Ok(baseline)
    }
}
