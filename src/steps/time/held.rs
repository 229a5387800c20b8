//! Visits to a trial as they were read: trays, their plants and what became of these between visits.

use serde::Serialize;

use super::histories::{History, Tally};
use super::table::Cell;
use crate::answer::Note;
use crate::error::{ChoiceError, Issue, Result, Severity};
use crate::trial::fingerprint;

/// One tray; without trays all plants of one combination of levels.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisitTray {
    /// What it is called.
    pub name: String,
    /// Its levels, in the order of the treatments.
    pub levels: Vec<String>,
    /// Its block; blank where none was named.
    pub block: String,
    /// Plants started.
    pub started: u64,
    /// What is known of them.
    pub histories: Vec<History>,
}

/// What was named when the visits were loaded.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct VisitColumns {
    /// Columns of treatments.
    pub treatments: Vec<String>,
    /// Levels of each treatment, in order.
    pub levels: Vec<Vec<String>>,
    /// Were trays named?
    pub trays: bool,
    /// Were deaths counted?
    pub deaths: bool,
}

/// Visits to trays or plants, checked. Asked when plants root.
#[derive(Debug, Clone, PartialEq)]
pub struct Visits {
    days: Vec<u64>,
    trays: Vec<VisitTray>,
    columns: VisitColumns,
    issues: Vec<Issue>,
    notes: Vec<Note>,
    fingerprint: String,
}

/// Plants of a tray at one visit, as a row of a table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisitRow {
    /// The tray.
    pub tray: String,
    /// Its levels.
    pub levels: Vec<String>,
    /// The day of the visit.
    pub day: u64,
    /// Plants that were waiting before it.
    pub at_risk: f64,
    /// Of these, rooted at it.
    pub rooted: f64,
    /// Of these, dead at it.
    pub dead: f64,
}

impl Visits {
    /// Visits on these days to these trays.
    #[must_use]
    pub fn new(
        days: Vec<u64>,
        mut trays: Vec<VisitTray>,
        columns: VisitColumns,
        issues: Vec<Issue>,
        notes: Vec<Note>,
    ) -> Self {
        trays.sort_by(|a, b| (&a.block, &a.levels, &a.name).cmp(&(&b.block, &b.levels, &b.name)));
        let fingerprint = fingerprint(&(&days, &trays, &columns));
        Self { days, trays, columns, issues, notes, fingerprint }
    }

    /// The days of the visits, since setting.
    #[must_use]
    pub fn days(&self) -> &[u64] {
        &self.days
    }

    /// The trays.
    #[must_use]
    pub fn trays(&self) -> &[VisitTray] {
        &self.trays
    }

    /// What was named when they were loaded.
    #[must_use]
    pub fn columns(&self) -> &VisitColumns {
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

    /// A short hash of the trays; the order of rows does not matter.
    #[must_use]
    pub fn fingerprint(&self) -> &str {
        &self.fingerprint
    }

    /// Plants at risk and what became of them, by tray and visit.
    #[must_use]
    pub fn rows(&self) -> Vec<VisitRow> {
        let whole = Tally::of(self.days.len(), self.trays.iter().map(|tray| tray.histories.as_slice())).table();
        let of = |tray: &VisitTray| -> Vec<VisitRow> {
            let cells = Tally::of(self.days.len(), [tray.histories.as_slice()]).shared(&whole);
            let there = cells.into_iter().zip(&self.days).filter(|(cell, _)| cell.at_risk > 0.0);
            let row = |(Cell { at_risk, rooted, dead }, day): (Cell, &u64)| VisitRow {
                tray: tray.name.clone(),
                levels: tray.levels.clone(),
                day: *day,
                at_risk,
                rooted,
                dead,
            };
            there.map(row).collect()
        };
        self.trays.iter().flat_map(of).collect()
    }

    /// The place of a treatment.
    pub(super) fn treatment(&self, name: &str) -> Result<usize> {
        let found = self.columns.treatments.iter().position(|known| known == name);
        found.ok_or_else(|| ChoiceError::new("treatment", name, &self.columns.treatments).into())
    }

    /// The levels of a treatment.
    pub(super) fn levels(&self, treatment: usize) -> &[String] {
        self.columns.levels.get(treatment).map_or(&[], Vec::as_slice)
    }

    /// A level as it is written, where the treatment has it.
    pub(super) fn level(&self, treatment: usize, level: &str) -> Result<String> {
        let levels = self.levels(treatment);
        let name = self.columns.treatments.get(treatment).map(String::as_str).unwrap_or_default();
        let found = levels.iter().find(|known| *known == level).cloned();
        found.ok_or_else(|| ChoiceError::new(&format!("level of {name}"), level, levels).into())
    }
}
