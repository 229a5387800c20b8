//! Margins left over, as classes: two sets of row totals that differ only in their order have the same completions.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};
use std::ops::ControlFlow;

/// Rows a class can hold.
pub(super) const MOST_ROWS: usize = 8;
/// Largest row total a class can hold.
pub(super) const LARGEST_TOTAL: u64 = 65_535;

/// Classes beyond this number are beyond exact work.
pub(super) const MOST_CLASSES: usize = 1_000_000;

/// Row totals; entries beyond the number of rows are 0.
pub(super) type Totals = [u32; MOST_ROWS];

/// Row totals in falling order, packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Class(u128);

impl Class {
    /// The class of row totals in any order.
    #[inline]
    pub(super) fn of(mut totals: Totals) -> Self {
        totals.sort_unstable_by(|a, b| b.cmp(a));
        Self(totals.iter().fold(0_u128, |key, total| key << 16 | u128::from(*total)))
    }

    /// Its totals, largest first.
    pub(super) fn totals(self) -> Totals {
        let mut key = self.0;
        let mut totals = [0; MOST_ROWS];
        for total in totals.iter_mut().rev() {
            *total = (key & 0xffff) as u32;
            key >>= 16;
        }
        totals
    }
}

/// A quick hash of packed totals: they are small numbers, so a multiplication spreads them well enough.
#[derive(Debug, Default)]
pub(super) struct Spread(u64);

impl Hasher for Spread {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }

    #[inline]
    fn write_u64(&mut self, part: u64) {
        let mixed = (self.0 ^ part).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        self.0 = mixed ^ mixed >> 29;
    }

    #[inline]
    fn write_u128(&mut self, key: u128) {
        self.write_u64(key as u64);
        self.write_u64((key >> 64) as u64);
    }
}

/// A map from classes.
pub(super) type ByClass<T> = HashMap<Class, T, BuildHasherDefault<Spread>>;

/// All classes with the given sum that fit under `most` (row totals in falling order); `None` when there are `too_many`.
pub(super) fn classes(most: &Totals, sum: u32, too_many: usize) -> Option<Vec<Class>> {
    let mut found = Classes { too_many, chosen: [0; MOST_ROWS], found: Vec::new() };
    descend(most, sum, u32::MAX, 0, &mut found);
    (found.found.len() < too_many).then_some(found.found)
}

struct Classes {
    too_many: usize,
    chosen: Totals,
    found: Vec<Class>,
}

fn descend(most: &Totals, left: u32, above: u32, at: usize, so_far: &mut Classes) {
    if so_far.found.len() >= so_far.too_many {
        return;
    }
    let Some(limit) = most.get(at) else {
        if left == 0 {
            so_far.found.push(Class::of(so_far.chosen));
        }
        return;
    };
    let top = (*limit).min(above).min(left);
    let room: u32 = most.iter().skip(at + 1).sum();
    let bottom = left.saturating_sub(room);
    for value in (bottom..=top).rev() {
        // Falling order: the rest cannot exceed `value` each.
        let rows = (MOST_ROWS - at) as u64;
        if u64::from(left) > rows * u64::from(value) {
            break;
        }
        if let Some(place) = so_far.chosen.get_mut(at) {
            *place = value;
        }
        descend(most, left - value, value, at + 1, so_far);
    }
    if let Some(place) = so_far.chosen.get_mut(at) {
        *place = 0;
    }
}

/// Steps per unit of a logarithm.
pub(super) const FINE: f64 = 4_398_046_511_104.0;

/// ln n! up to some n: as numbers, and as whole steps of 2^-42.
#[derive(Debug)]
pub(super) struct Factorials {
    ln: Vec<f64>,
    steps: Vec<i64>,
}

impl Factorials {
    pub(super) fn up_to(n: usize) -> Self {
        Self {
            ln: (0..=n).map(|k| crate::math::special::ln_gamma(k as f64 + 1.0)).collect(),
            steps: factorials_in_steps(n),
        }
    }

    /// ln n!
    #[inline]
    pub(super) fn ln(&self, n: u32) -> f64 {
        self.ln.get(n as usize).copied().unwrap_or(f64::NAN)
    }

    /// Minus ln n! in steps: what a count adds to the logarithm of its table's probability.
    #[inline]
    pub(super) fn steps(&self, n: u32) -> i64 {
        -self.steps.get(n as usize).copied().unwrap_or(0)
    }

    /// ln of n choose k, k at most n.
    #[inline]
    pub(super) fn ln_choose(&self, n: u32, k: u32) -> f64 {
        self.ln(n) - self.ln(k) - self.ln(n - k)
    }
}

/// ln of 0!, 1!, ... n! in steps, each the sum of those of its prime factors: equal products have equal sums, whatever their
/// factors, and are found equal by comparing whole numbers.
fn factorials_in_steps(n: usize) -> Vec<i64> {
    let mut sums = vec![0_i64; n + 1];
    for prime in 2..=n {
        if sums.get(prime) != Some(&0) {
            continue;
        }
        let step = ((prime as f64).ln() * FINE).round() as i64;
        let mut power = prime;
        while power <= n {
            sums.iter_mut().skip(power).step_by(power).for_each(|sum| *sum += step);
            power = power.saturating_mul(prime);
        }
    }
    let mut sum = 0;
    for steps in &mut sums {
        sum += *steps;
        *steps = sum;
    }
    sums
}

/// One way to take a column from row totals.
#[derive(Debug, Clone, Copy)]
pub(super) struct Taken {
    /// Row totals that are left.
    pub(super) rest: Totals,
    /// ln of the product of "row total choose count".
    pub(super) ln_ways: f64,
    /// Minus the sum of ln of the factorials of the counts taken, in steps.
    pub(super) steps: i64,
    /// How many columns look the same after exchanging rows with equal totals.
    pub(super) alike: f64,
}

/// Visits the ways to take `column` from `totals`, of which `rows` are in use; rows with equal totals must stand together.
///
/// Counts taken from rows with equal totals come in rising order only; `alike` says how many orders that stands for. The
/// visitor may break off.
pub(super) fn take_column(
    totals: &Totals,
    rows: usize,
    column: u32,
    factorials: &Factorials,
    visit: &mut impl FnMut(&Taken) -> ControlFlow<()>,
) {
    let mut room = [0; MOST_ROWS];
    let mut after = 0;
    for (place, total) in room.iter_mut().zip(totals).take(rows).rev() {
        *place = after;
        after += total;
    }
    if column <= after {
        let walk = Walk { totals, room: &room, rows, factorials };
        let start = Taken { rest: *totals, ln_ways: 0.0, steps: 0, alike: 1.0 };
        // Broken off or not: the visitor knows.
        let _ = walk.row(0, column, &Equal { total: u32::MAX, taken: 0, place: 0, run: 0 }, start, visit);
    }
}

struct Walk<'a> {
    totals: &'a Totals,
    room: &'a Totals,
    rows: usize,
    factorials: &'a Factorials,
}

/// The row before: its total, what was taken there, its place among equal totals and among equal counts.
struct Equal {
    total: u32,
    taken: u32,
    place: u32,
    run: u32,
}

impl Walk<'_> {
    fn row(
        &self,
        at: usize,
        left: u32,
        before: &Equal,
        so_far: Taken,
        visit: &mut impl FnMut(&Taken) -> ControlFlow<()>,
    ) -> ControlFlow<()> {
        if at == self.rows {
            return visit(&so_far);
        }
        let (Some(total), Some(room)) = (self.totals.get(at), self.room.get(at)) else {
            return ControlFlow::Continue(());
        };
        let same = *total == before.total;
        let bottom = left.saturating_sub(*room).max(if same { before.taken } else { 0 });
        for count in bottom..=left.min(*total) {
            let (place, run) = match (same, count == before.taken) {
                (false, _) => (1, 1),
                (true, true) => (before.place + 1, before.run + 1),
                (true, false) => (before.place + 1, 1),
            };
            let mut next = so_far;
            if let Some(rest) = next.rest.get_mut(at) {
                *rest = total - count;
            }
            next.ln_ways += self.factorials.ln_choose(*total, count);
            next.steps += self.factorials.steps(count);
            next.alike *= f64::from(place) / f64::from(run);
            self.row(at + 1, left - count, &Equal { total: *total, taken: count, place, run }, next, visit)?;
        }
        ControlFlow::Continue(())
    }
}
