//! The exact sum over all tables with the margins of the observed one.
//!
//! The columns are split into a left part, one middle column and a right part. A part's tables matter only through the row
//! totals they use, up to the order of rows, so for every class of row totals the probabilities of its tables are listed
//! once, sorted, with equal ones merged. A whole table is then a left entry, a middle column and a right entry; for fixed
//! row totals the sum over all pairs that stay below the observed probability is one walk along two sorted lists, and
//! bounds on the most and least probable completion decide most of them without a walk.

use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;

use super::classes::{ByClass, Class, Factorials, LARGEST_TOTAL, MOST_ROWS, Taken, Totals, classes, take_column};
use super::lists::{Fine, Masses};
use crate::control::Control;
use crate::error::Result;

/// Relative slack within which two table probabilities count as equal.
pub(super) const SLACK: f64 = 1e-7;

/// What exact work may cost.
#[derive(Debug, Clone, Copy)]
pub(super) struct Budget {
    /// Steps: columns taken and list entries visited.
    pub(super) steps: u64,
    /// List entries held at one time (about 50 bytes each).
    pub(super) entries: u64,
}

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

    fn steps(&self, steps: u64) -> Option<()> {
        (self.steps.fetch_add(steps, Ordering::Relaxed) + steps <= self.allowed.steps).then_some(())
    }

    fn entries(&self, entries: u64) -> Option<()> {
        (self.entries.fetch_add(entries, Ordering::Relaxed) + entries <= self.allowed.entries).then_some(())
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
        let factorials = Factorials::up_to(u64::from(total));
        Some(Self { rows: totals, used: rows.len(), total, columns: falling(columns), factorials })
    }

    /// ln P of a table given its margins.
    pub(super) fn ln_probability(&self, cells: &[Vec<u64>]) -> f64 {
        let ln = |n: u32| self.factorials.ln(n);
        let margins: f64 = self.rows.iter().chain(&self.columns).map(|total| ln(*total)).sum();
        let cells: f64 = cells.iter().flatten().filter_map(|cell| u32::try_from(*cell).ok()).map(ln).sum();
        margins - ln(self.total) - cells
    }

    /// Sum of the probabilities of all tables whose ln P is at most `limit`; `None` when the budget does not suffice.
    pub(super) fn sum_up_to(&self, limit: f64, spent: &Spent, control: &Control) -> Result<Option<f64>> {
        let (left, middle, right) = self.parts();
        let Some(left_layer) = self.layer(left, spent, control)? else { return Ok(None) };
        let Some(right_layer) = self.layer(right, spent, control)? else { return Ok(None) };
        let used: u32 = left.iter().sum();
        let Some(halfway) = classes(&self.rows, self.total - used) else { return Ok(None) };
        let join = Join { margins: self, left: &left_layer, right: &right_layer, middle, limit, spent };
        let parts: Result<Vec<Option<f64>>> = halfway
            .par_iter()
            .map(|class| {
                control.step()?;
                join.through(*class, control)
            })
            .collect();
        Ok(parts?.into_iter().sum())
    }

    /// Columns of the left part, the middle column, columns of the right part. The left part is not multiplied out with
    /// the rest, so the largest columns go there and the smallest is the middle one.
    fn parts(&self) -> (&[u32], u32, &[u32]) {
        let Some((middle, others)) = self.columns.split_last() else { return (&[], 0, &[]) };
        let (left, right) = others.split_at(others.len() / 2);
        (left, *middle, right)
    }

    /// The lists of all classes that `columns` can use up.
    fn layer(&self, columns: &[u32], spent: &Spent, control: &Control) -> Result<Option<Layer>> {
        let mut layer = Layer::default();
        layer.insert(Class::of([0; MOST_ROWS]), Masses::nothing());
        let mut sum = 0;
        for column in columns {
            sum += column;
            let Some(longer) = classes(&self.rows, sum) else { return Ok(None) };
            let made: Result<Vec<Option<(Class, Masses)>>> = longer
                .into_par_iter()
                .map(|class| {
                    control.step()?;
                    Ok(self.longer(class, *column, sum, &layer, spent).map(|masses| (class, masses)))
                })
                .collect();
            let made: Option<Layer> = made?.into_iter().collect();
            let Some(made) = made else { return Ok(None) };
            layer = made;
        }
        Ok(Some(layer))
    }

    /// The list of one class with one column more.
    fn longer(&self, class: Class, column: u32, sum: u32, shorter: &Layer, spent: &Spent) -> Option<Masses> {
        let all = self.factorials.ln_choose(sum, column);
        let mut entries = Vec::new();
        let most = spent.allowed.entries as usize;
        take_column(&class.totals(), self.used, column, &self.factorials, &mut |taken: &Taken| {
            if let Some(masses) = shorter.get(&Class::of(taken.rest)).filter(|_| entries.len() <= most) {
                let ln_weight = taken.ln_ways - all;
                let weight = ln_weight.exp() * taken.alike;
                entries.extend(masses.entries().map(|(ln, mass)| (ln + ln_weight, mass * weight)));
            }
        });
        if entries.len() > most {
            return None;
        }
        spent.steps(entries.len() as u64)?;
        let masses = Masses::sorted(entries);
        spent.entries(masses.len() as u64)?;
        Some(masses)
    }
}

struct Join<'a> {
    margins: &'a Margins,
    left: &'a Layer,
    right: &'a Layer,
    middle: u32,
    limit: f64,
    spent: &'a Spent,
}

/// A middle column: the right list it leads to, ln of its probability, and how many columns are alike.
struct Middle<'a> {
    right: &'a Masses,
    ln_weight: f64,
    alike: f64,
}

impl Join<'_> {
    /// The sum over all tables that leave the row totals of `class`, in any order, to the middle and right columns.
    fn through(&self, class: Class, control: &Control) -> Result<Option<f64>> {
        let mut sum = 0.0;
        let middles = self.middles(class);
        if middles.len() > self.spent.allowed.entries as usize || self.spent.steps(middles.len() as u64).is_none() {
            return Ok(None);
        }
        let most = middles.iter().map(|one| one.ln_weight + one.right.greatest()).fold(f64::NEG_INFINITY, f64::max);
        let least = middles.iter().map(|one| one.ln_weight + one.right.least()).fold(f64::INFINITY, f64::min);
        let mut undecided = Vec::new();
        let room = self.spent.allowed.entries as usize;
        self.orders(class, &mut |masses, ln_weight, alike| {
            let weight = ln_weight.exp() * alike;
            // Whatever follows, these stay below the limit; those above `limit - least` never do.
            sum += weight * masses.up_to(self.limit - most - ln_weight);
            let open = masses.between(self.limit - most - ln_weight, self.limit - least - ln_weight);
            undecided.extend(
                open.map(|(ln, mass)| (ln + ln_weight, mass * weight)).take(room + 1 - undecided.len().min(room)),
            );
        });
        if undecided.len() > room || self.spent.steps(undecided.len() as u64).is_none() {
            return Ok(None);
        }
        let undecided = Masses::sorted(undecided);
        if undecided.is_empty() {
            return Ok(Some(sum));
        }
        let undecided = Fine::of(&undecided);
        for some in middles.chunks(4096) {
            control.step()?;
            let mut steps = 0;
            for one in some {
                let (pairs, walked) = undecided.pairs_up_to(one.right, self.limit - one.ln_weight);
                if pairs > 0.0 {
                    sum += pairs * one.ln_weight.exp() * one.alike;
                }
                steps += walked;
            }
            if self.spent.steps(steps).is_none() {
                return Ok(None);
            }
        }
        Ok(Some(sum))
    }

    fn middles(&self, class: Class) -> Vec<Middle<'_>> {
        let margins = self.margins;
        let totals = class.totals();
        let all = margins.factorials.ln_choose(totals.iter().sum(), self.middle);
        let mut found = Vec::new();
        let most = self.spent.allowed.entries as usize;
        take_column(&totals, margins.used, self.middle, &margins.factorials, &mut |taken: &Taken| {
            if found.len() > most {
                return;
            }
            if let Some(right) = self.right.get(&Class::of(taken.rest)) {
                found.push(Middle { right, ln_weight: taken.ln_ways - all, alike: taken.alike });
            }
        });
        found
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
