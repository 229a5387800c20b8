//! The margins of a table, and the ways to fill a column of it.

use std::ops::ControlFlow;

use super::budget::{COLUMN_STEPS, Halt, Spent, Work};
use super::classes::{ByClass, FINE, Factorials, LARGEST_TOTAL, MOST_ROWS, Taken, Totals, take_column};
use super::lists::Masses;
use super::split::Split;
use crate::control::Control;

/// Relative slack within which two table probabilities count as equal.
pub(super) const SLACK: f64 = 1e-7;

/// Columns taken between two looks at budget and control.
const ASK_EVERY: u64 = 4096;

/// Entries a worker holds before they are sorted and merged, and different entries it adds up (36 and 64 bytes each).
const MOST_UNSORTED: usize = 1_000_000;

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
