//! What is known of single plants: between which visits something became of them, or until when they were seen waiting.

use std::collections::BTreeMap;

use serde::Serialize;

use super::table::{Cell, Ending};

/// So many plants with one history. Visits are numbered from 1 in the order of their days; 0 is the day of setting.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct History {
    /// The last visit at which they were seen waiting.
    pub after: usize,
    /// The visit at which the end was seen; the same as `after` where they are followed no further.
    pub by: usize,
    /// What became of them.
    pub ending: Ending,
    /// How many.
    pub count: f64,
}

impl History {
    /// True where the end lies between two visits of which none is missing.
    fn is_exact(&self) -> bool {
        self.ending == Ending::Waiting || self.by <= self.after + 1
    }
}

/// Histories of several trays summed together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tally {
    /// What lies between neighbouring visits, as counts of each cell.
    cells: Vec<Cell>,
    /// Plants by the last cell in which they were at risk: nothing yet summed up over later cells.
    last: Vec<f64>,
    /// Ends over missed visits.
    spans: BTreeMap<(usize, usize, Ending), f64>,
}

/// Fewer plants than this are none.
const ROUNDING: f64 = 1e-9;
/// Steps of the search for where ends over missed visits lie, and the share of all plants below which nothing moves.
const STEPS: usize = 1000;
const SETTLED: f64 = 1e-10;

impl Tally {
    pub(super) fn new(cells: usize) -> Self {
        Self { cells: vec![Cell::default(); cells], last: vec![0.0; cells], spans: BTreeMap::new() }
    }

    /// Adds the histories of a tray `times` over; -1 takes them out again.
    pub(super) fn add(&mut self, tray: &[History], times: f64) {
        for one in tray {
            let count = times * one.count;
            if !one.is_exact() {
                *self.spans.entry((one.after, one.by, one.ending)).or_insert(0.0) += count;
                continue;
            }
            let at = if one.ending == Ending::Waiting { one.after } else { one.by };
            let Some(at) = at.checked_sub(1) else { continue };
            self.last.get_mut(at).into_iter().for_each(|last| *last += count);
            self.cells.get_mut(at).into_iter().for_each(|cell| cell.add(one.ending, count));
        }
        self.spans.retain(|_, count| *count > 0.0);
    }

    /// True where some ends lie over missed visits.
    pub(super) fn has_spans(&self) -> bool {
        !self.spans.is_empty()
    }

    /// The tray that is all of `trays`.
    pub(super) fn of<'a>(cells: usize, trays: impl IntoIterator<Item = &'a [History]>) -> Self {
        let mut tally = Self::new(cells);
        trays.into_iter().for_each(|tray| tally.add(tray, 1.0));
        tally
    }

    /// Plants at risk and ends by cell. Ends over missed visits are shared out as the shares of these very plants say, until nothing moves.
    ///
    /// # References
    /// Turnbull 1976, J. R. Statist. Soc. B 38:290-295; Dempster, Laird and Rubin 1977.
    pub(super) fn table(&self) -> Vec<Cell> {
        self.table_from(&[])
    }

    /// The same, begun from the shares of a table that is near; evenly where there is none.
    pub(super) fn table_from(&self, near: &[Cell]) -> Vec<Cell> {
        let mut table = self.shared(near);
        if self.spans.is_empty() {
            return table;
        }
        let settled = SETTLED * table.first().map_or(1.0, |cell| cell.at_risk);
        for _ in 0..STEPS {
            let next = self.shared(&table);
            let moved = table.iter().zip(&next).map(|(one, two)| one.farthest(two)).fold(0.0, f64::max);
            table = next;
            if moved < settled {
                break;
            }
        }
        table
    }

    /// The same with ends over missed visits shared out by the shares of another table, evenly where it says nothing.
    pub(super) fn shared(&self, by: &[Cell]) -> Vec<Cell> {
        let (mut cells, mut last) = (self.cells.clone(), self.last.clone());
        for ((after, until, ending), count) in &self.spans {
            let mut waiting = 1.0;
            let chance = |at: usize| -> f64 {
                let share = by.get(at).map_or(1.0, |cell| cell.share(*ending));
                let found = waiting * share;
                waiting *= by.get(at).map_or(1.0, |cell| 1.0 - cell.share(Ending::Rooted) - cell.share(Ending::Dead));
                found
            };
            let mut chances: Vec<f64> = (*after..*until).map(chance).collect();
            let all: f64 = chances.iter().sum();
            if all <= 0.0 {
                let even = 1.0 / chances.len() as f64;
                chances.fill(even);
            } else {
                chances.iter_mut().for_each(|one| *one /= all);
            }
            for (at, chance) in (*after..*until).zip(chances) {
                last.get_mut(at).into_iter().for_each(|last| *last += count * chance);
                cells.get_mut(at).into_iter().for_each(|cell| cell.add(*ending, count * chance));
            }
        }
        let mut at_risk = 0.0;
        for (cell, last) in cells.iter_mut().zip(&last).rev() {
            at_risk += last;
            // What is left where trays were taken out and put back is rounding.
            let kept = |count: f64| if count > ROUNDING { count } else { 0.0 };
            *cell = Cell { at_risk: kept(at_risk), rooted: kept(cell.rooted), dead: kept(cell.dead) };
        }
        cells
    }
}
