//! The exact sum over all tables with the margins of the observed one.
//!
//! The columns are split into a left part, one middle column and a right part (`split.rs` chooses them). A part's tables matter
//! only through the row totals they use, up to the order of rows, so for every class of row totals the probabilities of its
//! tables are listed once, sorted, with equal ones merged (`lists.rs`). A whole table is then a left entry, a middle column and a
//! right entry; `join.rs` sums the products of those that stay below the observed probability.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;

use super::classes::{
    ByClass, Class, FINE, Factorials, LARGEST_TOTAL, MOST_CLASSES, MOST_ROWS, Taken, Totals, classes, take_column,
};
use super::join::Join;
use super::lists::{Board, Dictionary, Entry, Masses, Sorting};
use super::split::Split;
use crate::control::Control;
use crate::error::Error;

/// Relative slack within which two table probabilities count as equal.
pub(super) const SLACK: f64 = 1e-7;
/// Columns taken between two looks at budget and control.
const ASK_EVERY: u64 = 4096;
/// Classes are shared out to this many workers at most, each of which needs room of its own.
const LANES: usize = 8;
/// Entries a worker holds before they are sorted and merged, and different entries it adds up (36 and 64 bytes each).
const MOST_UNSORTED: usize = 1_000_000;
const MOST_DIFFERENT: usize = 500_000;
/// A column taken costs as much as this many list entries visited.
const COLUMN_STEPS: u64 = 8;

/// What exact work may cost.
#[derive(Debug, Clone, Copy)]
pub(super) struct Budget {
    /// Steps: columns taken and list entries visited.
    pub(super) steps: u64,
    /// List entries held at one time (28 bytes each).
    pub(super) entries: u64,
}

/// Why exact work ended early.
#[derive(Debug)]
pub(super) enum Halt {
    /// The budget does not suffice.
    TooMuch,
    /// The control was stopped.
    Stopped(Error),
}

impl From<Error> for Halt {
    fn from(error: Error) -> Self {
        Self::Stopped(error)
    }
}

pub(super) type Work<T> = std::result::Result<T, Halt>;

/// What it did cost.
#[derive(Debug)]
pub(super) struct Spent {
    allowed: Budget,
    steps: AtomicU64,
    entries: AtomicU64,
}

impl Spent {
    pub(super) fn of(allowed: Budget) -> Self {
        Self { allowed, steps: AtomicU64::new(0), entries: AtomicU64::new(0) }
    }

    pub(super) fn steps(&self, steps: u64) -> Work<()> {
        let so_far = self.steps.fetch_add(steps, Ordering::Relaxed) + steps;
        if so_far <= self.allowed.steps { Ok(()) } else { Err(Halt::TooMuch) }
    }

    fn entries(&self, entries: u64) -> Work<()> {
        let so_far = self.entries.fetch_add(entries, Ordering::Relaxed) + entries;
        if so_far <= self.allowed.entries { Ok(()) } else { Err(Halt::TooMuch) }
    }

    /// Steps so far.
    pub(super) fn total_steps(&self) -> u64 {
        self.steps.load(Ordering::Relaxed)
    }
}

/// A table with at most [`MOST_ROWS`] rows, its totals in falling order.
pub(super) struct Margins {
    pub(super) rows: Totals,
    pub(super) used: usize,
    pub(super) total: u32,
    pub(super) split: Split,
    pub(super) factorials: Factorials,
}

pub(super) type Layer = ByClass<Masses>;

impl Margins {
    /// `None` when the table has too many rows and columns or totals that are too large for exact work.
    pub(super) fn new(rows: &[u64], columns: &[u64]) -> Option<Self> {
        let total: u64 = rows.iter().sum();
        if rows.len().min(columns.len()) > MOST_ROWS || total > LARGEST_TOTAL {
            return None;
        }
        let falling = |given: &[u64]| {
            let mut sorted: Vec<u32> = given.iter().filter_map(|total| u32::try_from(*total).ok()).collect();
            sorted.sort_unstable_by(|a, b| b.cmp(a));
            sorted
        };
        // The expected work asks for the total and a cell per row and column.
        let factorials = Factorials::up_to(total as usize + MOST_ROWS * (rows.len().max(columns.len()) + 1));
        let split = Split::best(&falling(rows), &falling(columns), &factorials)?;
        let mut totals = [0; MOST_ROWS];
        for (place, total) in totals.iter_mut().zip(&split.rows) {
            *place = *total;
        }
        Some(Self { rows: totals, used: split.rows.len(), total: u32::try_from(total).ok()?, split, factorials })
    }

    /// What a table's entry is at most when it is not more probable than this one, but for the slack.
    pub(super) fn limit(&self, cells: &[Vec<u64>]) -> i64 {
        let counts = cells.iter().flatten().filter_map(|cell| u32::try_from(*cell).ok());
        counts.map(|count| self.factorials.steps(count)).sum::<i64>() + (SLACK * FINE) as i64
    }

    /// Sum of the probabilities of all tables whose entry is at most `limit`.
    ///
    /// # Errors
    /// [`Halt`] when the budget does not suffice or the control was stopped. Whether it suffices does not depend on the number
    /// of threads: all parts of the work are counted, in whatever order they are done.
    pub(super) fn sum_up_to(&self, limit: i64, spent: &Spent, control: &Control) -> Work<f64> {
        let Split { left, middle, right, .. } = &self.split;
        let used: u32 = left.iter().sum();
        let halfway = classes(&self.rows, self.total - used, MOST_CLASSES).ok_or(Halt::TooMuch)?;
        // Do not begin what cannot be ended: about a quarter of the ways to spread the middle column fit each class.
        let ways = self.factorials.ln_choose(middle + self.used as u32 - 1, self.used as u32 - 1).exp();
        if halfway.len() as f64 * ways / 4.0 * COLUMN_STEPS as f64 > spent.allowed.steps as f64 {
            return Err(Halt::TooMuch);
        }
        let mut left_layer = self.layer(left, spent, control)?;
        let right_layer = self.layer(right, spent, control)?;
        let dictionary = Dictionary::of(left_layer.values_mut(), MOST_DIFFERENT).ok_or(Halt::TooMuch)?;
        let mirrored = self.split.mirrored();
        let join = Join { margins: self, left: &left_layer, right: &right_layer, mirrored, limit, spent, control };
        control.expect(halfway.len() as u64);
        let lane = |lane: usize| {
            let mut board = Board::of(&dictionary);
            let through = |class: &Class| {
                let found = join.through(*class, &mut board);
                control.finish(1);
                found
            };
            halfway.iter().skip(lane).step_by(LANES).map(through).sum::<Work<f64>>()
        };
        let parts: Vec<f64> = (0..LANES).into_par_iter().map(lane).collect::<Work<_>>()?;
        Ok(parts.into_iter().sum())
    }

    /// The lists of all classes that `columns` can use up.
    fn layer(&self, columns: &[u32], spent: &Spent, control: &Control) -> Work<Layer> {
        let mut layer = Layer::default();
        layer.insert(Class::of([0; MOST_ROWS]), Masses::nothing());
        let mut sum = 0;
        for column in columns {
            sum += column;
            let longer = classes(&self.rows, sum, MOST_CLASSES).ok_or(Halt::TooMuch)?;
            let lane = |lane: usize| {
                let mut room = Room::default();
                let own = longer.iter().skip(lane).step_by(LANES);
                own.map(|class| Ok((*class, self.longer(*class, (*column, sum), &layer, (spent, control), &mut room)?)))
                    .collect()
            };
            let made: Vec<Vec<(Class, Masses)>> = (0..LANES).into_par_iter().map(lane).collect::<Work<_>>()?;
            layer = made.into_iter().flatten().collect();
        }
        Ok(layer)
    }

    /// The list of one class with one column more; `sums` are that column and all columns so far.
    fn longer(
        &self,
        class: Class,
        sums: (u32, u32),
        shorter: &Layer,
        (spent, control): (&Spent, &Control),
        room: &mut Room,
    ) -> Work<Masses> {
        let all = self.factorials.ln_choose(sums.1, sums.0);
        let Room { entries, sorting } = room;
        entries.clear();
        self.visit(&class.totals(), sums.0, (spent, control), |taken| {
            if let Some(masses) = shorter.get(&Class::of(taken.rest)) {
                let weight = (taken.ln_ways - all).exp() * taken.alike;
                entries.extend(masses.entries().iter().map(|(steps, mass)| (steps + taken.steps, mass * weight)));
            }
            entries.len()
        })?;
        spent.steps(entries.len() as u64)?;
        let masses = Masses::sorted(entries, sorting);
        // A list costs something even when it is short.
        spent.entries(masses.len() as u64 + 4)?;
        Ok(masses)
    }

    /// Visits the ways to take a column, asking budget and control on the way; the visitor returns how many entries it holds.
    pub(super) fn visit(
        &self,
        totals: &Totals,
        column: u32,
        (spent, control): (&Spent, &Control),
        mut visitor: impl FnMut(&Taken) -> usize,
    ) -> Work<()> {
        let mut seen = 0_u64;
        let mut ended = control.step().map_err(Halt::from);
        take_column(totals, self.used, column, &self.factorials, &mut |taken| {
            seen += 1;
            if seen.is_multiple_of(ASK_EVERY) && ended.is_ok() {
                ended = control.step().map_err(Halt::from).and_then(|()| spent.steps(COLUMN_STEPS * ASK_EVERY));
            }
            if ended.is_ok() && visitor(taken) > MOST_UNSORTED {
                ended = Err(Halt::TooMuch);
            }
            if ended.is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
        });
        ended?;
        spent.steps(COLUMN_STEPS * (seen % ASK_EVERY))
    }
}

/// What a worker keeps from list to list.
#[derive(Debug, Default)]
struct Room {
    entries: Vec<Entry>,
    sorting: Sorting,
}
