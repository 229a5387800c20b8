//! Left part, middle column and right part put together.

use super::budget::{Spent, Work};
use super::classes::{Class, MOST_ROWS, Totals};
use super::lists::{Board, Masses};
use super::margins::{Layer, Margins};
use super::pairs::Fine;
use crate::control::Control;

/// Entries gone through between two looks at budget and control.
const LOOK_EVERY: u64 = 1 << 21;

/// What all classes share.
pub(super) struct Join<'a> {
    pub(super) margins: &'a Margins,
    pub(super) left: &'a Layer,
    pub(super) right: &'a Layer,
    /// Left and right part may be exchanged: pairs of classes are gone through in one order only.
    pub(super) mirrored: bool,
    pub(super) limit: i64,
    pub(super) spent: &'a Spent,
    pub(super) control: &'a Control,
}

/// A middle column: the right list it leads to, its own share of the entry, and its probability.
struct Middle<'a> {
    class: Class,
    right: &'a Masses,
    steps: i64,
    weight: f64,
}

impl Join<'_> {
    /// The sum over all tables that leave the row totals of `class`, in any order, to the middle and right columns.
    pub(super) fn through(&self, class: Class, board: &mut Board<'_>) -> Work<f64> {
        let middles = self.middles(class)?;
        let Some(most) = middles.iter().map(|one| one.steps + one.right.greatest()).max() else { return Ok(0.0) };
        let least = middles.iter().map(|one| one.steps + one.right.least()).min().unwrap_or(most);
        // Whatever follows, left parts up to the first bound stay below the limit, and those above the second never do.
        let bounds = (self.limit - most, self.limit - least);
        let rest: f64 = middles.iter().map(|one| one.weight * one.right.total()).sum();
        let mut sum = rest * self.left_lists(class, bounds, board)?;
        let undecided = board.take();
        if undecided.is_empty() {
            return Ok(sum);
        }
        let undecided = Fine::of(undecided);
        let mut steps = 0;
        for one in &middles {
            let (pairs, walked) = undecided.pairs_up_to(one.right, self.limit - one.steps);
            sum += pairs * one.weight;
            steps += walked;
            if steps >= LOOK_EVERY {
                self.control.step()?;
                self.spent.steps(std::mem::take(&mut steps))?;
            }
        }
        self.spent.steps(steps)?;
        Ok(sum)
    }

    /// Probability of the left parts up to the first of `bounds`; those up to the second go on the board.
    fn left_lists(&self, class: Class, bounds: (i64, i64), board: &mut Board<'_>) -> Work<f64> {
        let (mut sum, mut added) = (0.0, 0);
        self.orders(class, &mut |masses, weight| {
            sum += weight * masses.up_to(bounds.0);
            added += board.add(masses, bounds, weight);
        });
        self.spent.steps(added)?;
        Ok(sum)
    }

    fn middles(&self, class: Class) -> Work<Vec<Middle<'_>>> {
        let margins = self.margins;
        let (totals, middle) = (class.totals(), margins.split.middle);
        let all = margins.factorials.ln_choose(totals.iter().sum(), middle);
        let own = self.mirrored.then(|| {
            let mut used = margins.rows;
            used.iter_mut().zip(totals).for_each(|(row, left)| *row -= left);
            Class::of(used)
        });
        let mut found = Vec::new();
        margins.visit(&totals, middle, (self.spent, self.control), |taken| {
            let class = Class::of(taken.rest);
            let times = match own {
                Some(own) if class > own => 0.0,
                Some(own) if class < own => 2.0,
                _ => 1.0,
            };
            if times > 0.0
                && let Some(right) = self.right.get(&class)
            {
                let weight = (taken.ln_ways - all).exp() * taken.alike * times;
                found.push(Middle { class, right, steps: taken.steps, weight });
            }
            found.len()
        })?;
        // Columns that lead to the same list stand together, so that it is still at hand.
        found.sort_unstable_by(|a, b| a.class.cmp(&b.class).then(a.steps.cmp(&b.steps)));
        Ok(found)
    }

    /// Visits the orders in which the totals of `class` can be what the left part leaves of each row, with their probability.
    fn orders(&self, class: Class, visit: &mut impl FnMut(&Masses, f64)) {
        let margins = self.margins;
        let left_over: u32 = class.totals().iter().sum();
        let all = margins.factorials.ln_choose(margins.total, left_over);
        let mut seen = |order: &Order| {
            if let Some(masses) = self.left.get(&Class::of(order.used)) {
                visit(masses, (order.ln_ways - all).exp() * order.alike);
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
