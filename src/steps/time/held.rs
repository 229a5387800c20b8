//! Visits to a trial as they were read: trays, their plants and what became of these between visits.

use serde::Serialize;

use super::histories::{History, Tally};
use super::table::Cell;
use crate::answer::Note;
use crate::error::{ChoiceError, Issue, Result, Severity};
use crate::math::rng;
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
    /// True where plants that stand alone were dealt to parts.
    split: bool,
}

/// Parts to which plants that stand alone are dealt, and the seed of that.
const PARTS: usize = 60;
const PARTS_BY_LOT: u64 = 1;

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
        Self { days, trays, columns, issues, notes, fingerprint, split: false }
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

    /// Plants that stand alone dealt to parts by lot, where some were missed at visits: leaving out part after part says what such plants
    /// tell of the days between, which counts that were shared out do not. None where trays were named or nothing was missed.
    pub(super) fn in_parts(&self) -> Option<Self> {
        let missed = self.trays.iter().flat_map(|tray| &tray.histories).any(|one| !one.is_exact());
        if self.columns.trays || !missed {
            return None;
        }
        let of = |(at, tray): (usize, &VisitTray)| -> Vec<VisitTray> {
            let mut plants: Vec<History> = Vec::new();
            for one in &tray.histories {
                plants.extend(std::iter::repeat_n(History { count: 1.0, ..*one }, one.count as usize));
            }
            let all = plants.len();
            rng::deal(&mut rng::stream(PARTS_BY_LOT, at as u64), &mut plants, all);
            let parts = plants.len().min(PARTS);
            let part = |part: usize| {
                let histories: Vec<History> = plants.iter().skip(part).step_by(parts).copied().collect();
                VisitTray {
                    name: part.to_string(),
                    started: histories.len() as u64,
                    histories,
                    ..VisitTray { histories: Vec::new(), ..tray.clone() }
                }
            };
            (0..parts).map(part).collect()
        };
        let trays = self.trays.iter().enumerate().flat_map(of).collect();
        Some(Self { trays, split: true, ..self.clone() })
    }

    /// True where plants that stand alone were dealt to parts.
    pub(super) fn is_split(&self) -> bool {
        self.split
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
