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
    pub(super) fn is_exact(&self) -> bool {
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
        // Of each ending what a table says of every cell, and plants of spans over it for one share that they have.
        let mut even = [vec![0.0; cells.len() + 1], vec![0.0; cells.len() + 1]];
        let mut told = even.clone();
        let chances = chances(by);
        for ((after, until, ending), count) in &self.spans {
            let kind = usize::from(*ending == Ending::Dead);
            let so_far = |at: usize| chances.get(kind).and_then(|one| one.so_far.get(at)).copied();
            let all = so_far(*until).zip(so_far(*after)).map_or(0.0, |(end, start)| end - start);
            // What is left of differences of sums that are alike is rounding.
            let known = all > 1e-12;
            let (share, of) =
                if known { (count / all, &mut told) } else { (count / (until - after) as f64, &mut even) };
            let Some(of) = of.get_mut(kind) else { continue };
            of.get_mut(*after).into_iter().for_each(|begun| *begun += share);
            of.get_mut(*until).into_iter().for_each(|ended| *ended -= share);
        }
        for (kind, ending) in [Ending::Rooted, Ending::Dead].into_iter().enumerate() {
            let (Some(even), Some(told), Some(chances)) = (even.get(kind), told.get(kind), chances.get(kind)) else {
                continue;
            };
            let (mut evenly, mut by_table) = (0.0, 0.0);
            for (at, (cell, last)) in cells.iter_mut().zip(&mut last).enumerate() {
                evenly += even.get(at).copied().unwrap_or_default();
                by_table += told.get(at).copied().unwrap_or_default();
                let count = evenly.max(0.0) + by_table.max(0.0) * chances.here.get(at).copied().unwrap_or_default();
                *last += count;
                cell.add(ending, count);
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

/// What a table says of an ending: its chance in each cell for a plant that was started, and up to each.
#[derive(Default)]
struct Chances {
    here: Vec<f64>,
    so_far: Vec<f64>,
}

fn chances(table: &[Cell]) -> [Chances; 2] {
    [Ending::Rooted, Ending::Dead].map(|ending| {
        let mut found = Chances { here: Vec::with_capacity(table.len()), so_far: vec![0.0] };
        let (mut waiting, mut sum) = (1.0, 0.0);
        for cell in table {
            let here = waiting * cell.share(ending);
            sum += here;
            found.here.push(here);
            found.so_far.push(sum);
            waiting *= (1.0 - cell.share(Ending::Rooted) - cell.share(Ending::Dead)).max(0.0);
        }
        found
    })
}
