//! The exact sum over all tables with the margins of the observed one.
//!
//! The columns are split into a left part, one middle column and a right part. A part's tables matter only through the row
//! totals they use, up to the order of rows, so for every class of row totals the probabilities of its tables are listed
//! once, sorted, with equal ones merged. A whole table is then a left entry, a middle column and a right entry; for fixed
//! row totals the sum over all pairs that stay below the observed probability is one walk along two sorted lists, and
//! bounds on the most and least probable completion decide most of them without a walk.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;

use super::classes::{ByClass, Class, Factorials, LARGEST_TOTAL, MOST_ROWS, Taken, Totals, classes, take_column};
use super::lists::{Fine, Masses};
use crate::control::Control;
use crate::error::Error;

/// Relative slack within which two table probabilities count as equal.
pub(super) const SLACK: f64 = 1e-7;
/// Columns taken between two looks at budget and control.
const ASK_EVERY: u64 = 4096;
/// Pairs walked between two looks at budget and control.
const LOOK_EVERY: u64 = 1 << 21;
/// A column taken costs as much as this many list entries visited.
const COLUMN_STEPS: u64 = 8;

/// What exact work may cost.
#[derive(Debug, Clone, Copy)]
pub(super) struct Budget {
    /// Steps: columns taken and list entries visited.
    pub(super) steps: u64,
    /// List entries held at one time (about 50 bytes each).
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

type Work<T> = std::result::Result<T, Halt>;

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

    fn steps(&self, steps: u64) -> Work<()> {
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
    rows: Totals,
    used: usize,
    total: u32,
    columns: Vec<u32>,
    factorials: Factorials,
}

type Layer = ByClass<Masses>;

impl Margins {
    /// `None` when the table has too many rows and columns or totals that are too large for exact work.
    pub(super) fn new(row_totals: &[u64], column_totals: &[u64]) -> Option<Self> {
        let (rows, columns) = if row_totals.len() <= column_totals.len() {
            (row_totals, column_totals)
        } else {
            (column_totals, row_totals)
        };
        let total: u64 = rows.iter().sum();
        if rows.len() > MOST_ROWS || total > LARGEST_TOTAL {
            return None;
        }
        let falling = |given: &[u64]| {
            let mut sorted: Vec<u32> = given.iter().filter_map(|total| u32::try_from(*total).ok()).collect();
            sorted.sort_unstable_by(|a, b| b.cmp(a));
            sorted
        };
        let mut totals = [0; MOST_ROWS];
        for (place, total) in totals.iter_mut().zip(falling(rows)) {
            *place = total;
        }
        let total = u32::try_from(total).ok()?;
        let factorials = Factorials::up_to(u64::from(total) + MOST_ROWS as u64);
        Some(Self { rows: totals, used: rows.len(), total, columns: falling(columns), factorials })
    }

    /// ln P of a table given its margins.
    pub(super) fn ln_probability(&self, cells: &[Vec<u64>]) -> f64 {
        let ln = |n: u32| self.factorials.ln(n);
        let margins: f64 = self.rows.iter().chain(&self.columns).map(|total| ln(*total)).sum();
        let cells: f64 = cells.iter().flatten().filter_map(|cell| u32::try_from(*cell).ok()).map(ln).sum();
        margins - ln(self.total) - cells
    }

    /// Sum of the probabilities of all tables whose ln P is at most `limit`.
    ///
    /// # Errors
    /// [`Halt`] when the budget does not suffice or the control was stopped. Whether it suffices does not depend on the number
    /// of threads: all parts of the work are counted, in whatever order they are done.
    pub(super) fn sum_up_to(&self, limit: f64, spent: &Spent, control: &Control) -> Work<f64> {
        let (left, middle, right) = self.parts();
        let used: u32 = left.iter().sum();
        let halfway = classes(&self.rows, self.total - used).ok_or(Halt::TooMuch)?;
        // Do not begin what cannot be ended: about a quarter of the ways to spread the middle column fit each class.
        let ways = self.factorials.ln_choose(middle + self.used as u32 - 1, self.used as u32 - 1).exp();
        if halfway.len() as f64 * ways / 4.0 * COLUMN_STEPS as f64 > spent.allowed.steps as f64 {
            return Err(Halt::TooMuch);
        }
        let left_layer = self.layer(left, spent, control)?;
        let right_layer = self.layer(right, spent, control)?;
        let join = Join { margins: self, left: &left_layer, right: &right_layer, middle, limit, spent, control };
        let parts: Vec<f64> = halfway.par_iter().map(|class| join.through(*class)).collect::<Work<_>>()?;
        Ok(parts.into_iter().sum())
    }

    /// Columns of the left part, the middle column, columns of the right part. The left part is not multiplied out with
    /// the rest, so the largest columns go there and the smallest is the middle one.
    fn parts(&self) -> (&[u32], u32, &[u32]) {
        let Some((middle, others)) = self.columns.split_last() else { return (&[], 0, &[]) };
        let (left, right) = others.split_at(others.len() / 2);
        (left, *middle, right)
    }

    /// The lists of all classes that `columns` can use up.
    fn layer(&self, columns: &[u32], spent: &Spent, control: &Control) -> Work<Layer> {
        let mut layer = Layer::default();
        layer.insert(Class::of([0; MOST_ROWS]), Masses::nothing());
        let mut sum = 0;
        for column in columns {
            sum += column;
            let longer = classes(&self.rows, sum).ok_or(Halt::TooMuch)?;
            let made: Vec<(Class, Masses)> = longer
                .into_par_iter()
                .map(|class| Ok((class, self.longer(class, (*column, sum), &layer, spent, control)?)))
                .collect::<Work<_>>()?;
            layer = made.into_iter().collect();
        }
        Ok(layer)
    }

    /// The list of one class with one column more; `sums` are that column and all columns so far.
    fn longer(
        &self,
        class: Class,
        sums: (u32, u32),
        shorter: &Layer,
        spent: &Spent,
        control: &Control,
    ) -> Work<Masses> {
        let all = self.factorials.ln_choose(sums.1, sums.0);
        let mut entries = Vec::new();
        self.visit(&class.totals(), sums.0, (spent, control), |taken| {
            if let Some(masses) = shorter.get(&Class::of(taken.rest)) {
                let ln_weight = taken.ln_ways - all;
                let weight = ln_weight.exp() * taken.alike;
                entries.extend(masses.entries().map(|(ln, mass)| (ln + ln_weight, mass * weight)));
            }
            entries.len()
        })?;
        spent.steps(entries.len() as u64)?;
        let masses = Masses::sorted(entries);
        // A list costs something even when it is short.
        spent.entries(masses.len() as u64 + 4)?;
        Ok(masses)
    }

    /// Visits the ways to take a column, asking budget and control on the way; the visitor returns how many entries it holds.
    fn visit(
        &self,
        totals: &Totals,
        column: u32,
        (spent, control): (&Spent, &Control),
        mut visitor: impl FnMut(&Taken) -> usize,
    ) -> Work<()> {
        let most = spent.allowed.entries as usize;
        let mut seen = 0_u64;
        let mut ended = control.step().map_err(Halt::from);
        take_column(totals, self.used, column, &self.factorials, &mut |taken| {
            seen += 1;
            if seen.is_multiple_of(ASK_EVERY) && ended.is_ok() {
                ended = control.step().map_err(Halt::from).and_then(|()| spent.steps(COLUMN_STEPS * ASK_EVERY));
            }
            if ended.is_ok() && visitor(taken) > most {
                ended = Err(Halt::TooMuch);
            }
            if ended.is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
        });
        ended?;
        spent.steps(COLUMN_STEPS * (seen % ASK_EVERY))
    }
}

struct Join<'a> {
    margins: &'a Margins,
    left: &'a Layer,
    right: &'a Layer,
    middle: u32,
    limit: f64,
    spent: &'a Spent,
    control: &'a Control,
}

/// A middle column: the right list it leads to, ln of its probability, and how many columns are alike.
struct Middle<'a> {
    class: Class,
    right: &'a Masses,
    ln_weight: f64,
    alike: f64,
}

impl Join<'_> {
    /// The sum over all tables that leave the row totals of `class`, in any order, to the middle and right columns.
    fn through(&self, class: Class) -> Work<f64> {
        let middles = self.middles(class)?;
        let most = middles.iter().map(|one| one.ln_weight + one.right.greatest()).fold(f64::NEG_INFINITY, f64::max);
        let least = middles.iter().map(|one| one.ln_weight + one.right.least()).fold(f64::INFINITY, f64::min);
        let (mut sum, undecided) = self.left_lists(class, most, least)?;
        if undecided.is_empty() {
            return Ok(sum);
        }
        let undecided = Fine::of(&undecided);
        let mut steps = 0;
        for one in &middles {
            let (pairs, walked) = undecided.pairs_up_to(one.right, self.limit - one.ln_weight);
            if pairs > 0.0 {
                sum += pairs * one.ln_weight.exp() * one.alike;
            }
            steps += walked;
            if steps >= LOOK_EVERY {
                self.control.step()?;
                self.spent.steps(std::mem::take(&mut steps))?;
            }
        }
        self.spent.steps(steps)?;
        Ok(sum)
    }

    /// What left parts add whatever follows, and those that the rest (ln probability `least` to `most`) still decides.
    fn left_lists(&self, class: Class, most: f64, least: f64) -> Work<(f64, Masses)> {
        let room = self.spent.allowed.entries as usize;
        let (mut sum, mut undecided) = (0.0, Vec::new());
        self.orders(class, &mut |masses, ln_weight, alike| {
            let weight = ln_weight.exp() * alike;
            let (low, high) = (self.limit - most - ln_weight, self.limit - least - ln_weight);
            // Whatever follows, those up to `low` stay below the limit and those above `high` never do.
            sum += weight * masses.up_to(low);
            if undecided.len() <= room {
                undecided.extend(masses.between(low, high).map(|(ln, mass)| (ln + ln_weight, mass * weight)));
            }
        });
        if undecided.len() > room {
            return Err(Halt::TooMuch);
        }
        self.spent.steps(undecided.len() as u64)?;
        Ok((sum, Masses::sorted(undecided)))
    }

    fn middles(&self, class: Class) -> Work<Vec<Middle<'_>>> {
        let margins = self.margins;
        let totals = class.totals();
        let all = margins.factorials.ln_choose(totals.iter().sum(), self.middle);
        let mut found = Vec::new();
        margins.visit(&totals, self.middle, (self.spent, self.control), |taken| {
            let class = Class::of(taken.rest);
            if let Some(right) = self.right.get(&class) {
                found.push(Middle { class, right, ln_weight: taken.ln_ways - all, alike: taken.alike });
            }
            found.len()
        })?;
        // Columns that lead to the same list stand together, so that it is still at hand.
        found.sort_unstable_by(|a, b| a.class.cmp(&b.class).then(a.ln_weight.total_cmp(&b.ln_weight)));
        Ok(found)
    }

    /// Visits the orders in which the totals of `class` can be what the left part leaves of each row.
    fn orders(&self, class: Class, visit: &mut impl FnMut(&Masses, f64, f64)) {
        let margins = self.margins;
        let left_over: u32 = class.totals().iter().sum();
        let all = margins.factorials.ln_choose(margins.total, left_over);
        let mut seen = |order: &Order| {
            if let Some(masses) = self.left.get(&Class::of(order.used)) {
                visit(masses, order.ln_ways - all, order.alike);
            }
        };
        let start =
            Order { used: [0; MOST_ROWS], free: class.totals(), ln_ways: 0.0, alike: 1.0, last: 0, place: 0, run: 0 };
        margins.arrange(0, &start, &mut seen);
    }
}

/// A partly arranged order of row totals.
#[derive(Debug, Clone, Copy)]
struct Order {
    used: Totals,
    free: Totals,
    ln_ways: f64,
    alike: f64,
    last: u32,
    place: u32,
    run: u32,
}

const PLACED: u32 = u32::MAX;

impl Margins {
    fn arrange(&self, at: usize, order: &Order, visit: &mut impl FnMut(&Order)) {
        if at == self.used {
            visit(order);
            return;
        }
        let Some(total) = self.rows.get(at) else { return };
        let same = at > 0 && self.rows.get(at - 1) == Some(total);
        let mut before = PLACED;
        for (from, value) in order.free.iter().take(self.used).enumerate() {
            // Equal values are tried once; under equal row totals they come in falling order.
            if *value == PLACED || *value == before || value > total || (same && *value > order.last) {
                continue;
            }
            before = *value;
            let (place, run) = match (same, *value == order.last) {
                (false, _) => (1, 1),
                (true, true) => (order.place + 1, order.run + 1),
                (true, false) => (order.place + 1, 1),
            };
            let mut next = Order { last: *value, place, run, ..*order };
            if let Some(used) = next.used.get_mut(at) {
                *used = total - value;
            }
            if let Some(free) = next.free.get_mut(from) {
                *free = PLACED;
            }
            next.ln_ways += self.factorials.ln_choose(*total, *value);
            next.alike *= f64::from(place) / f64::from(run);
            self.arrange(at + 1, &next, visit);
        }
    }
}
