//! The exact sum over all tables with the margins of the observed one.
//!
//! The columns are split into a left part, one middle column and a right part (`split.rs` chooses them). A part's tables matter
//! only through the row totals they use, up to the order of rows, so for every class of row totals the probabilities of its
//! tables are listed once, sorted, with equal ones merged (`lists.rs`). A whole table is then a left entry, a middle column and a
//! right entry; `join.rs` sums the products of those that stay below the observed probability.

use rayon::prelude::*;

use super::budget::{COLUMN_STEPS, Halt, Spent, Work};
use super::classes::{Class, MOST_CLASSES, MOST_ROWS, classes};
use super::join::Join;
use super::lists::{Board, Dictionary, Entry, Masses, Sorting};
use super::margins::{Layer, Margins};
use super::split::Split;
use crate::control::Control;

/// Classes are shared out to this many workers at most, each of which needs room of its own.
const LANES: usize = 8;
const MOST_DIFFERENT: usize = 500_000;

impl Margins {
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
}

/// What a worker keeps from list to list.
#[derive(Debug, Default)]
struct Room {
    entries: Vec<Entry>,
    sorting: Sorting,
}
