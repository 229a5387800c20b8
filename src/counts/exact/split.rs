//! Which side of a table is taken as rows, and which columns go to the left part, the middle and the right part: by the work
//! that is to be expected.

use std::collections::HashMap;

use super::classes::{Factorials, MOST_ROWS, Totals, classes};

/// Columns up to this number are split in the best way; more in the middle.
const MOST_COLUMNS: usize = 8;
/// Expected list entries that will fit into the room there is: equal ones merge, to a quarter at most.
const MOST_LISTED: f64 = 1.5e7;
/// Classes counted to learn how many orders of row totals one class stands for.
const MOST_COUNTED: usize = 20_000;

/// Equal columns of the right part make its lists shorter, by less than the orders of these columns.
const MERGED: f64 = 0.6;

/// A table's totals, turned and split.
#[derive(Debug, Clone)]
pub(super) struct Split {
    /// Row totals.
    pub(super) rows: Vec<u32>,
    /// Columns of the left part.
    pub(super) left: Vec<u32>,
    /// The middle column.
    pub(super) middle: u32,
    /// Columns of the right part.
    pub(super) right: Vec<u32>,
}

impl Split {
    /// The split with the least work among rows by columns and columns by rows; both come in falling order, and one of them
    /// holds at most [`MOST_ROWS`].
    pub(super) fn best(rows: &[u32], columns: &[u32], factorials: &Factorials) -> Option<Self> {
        let mut found: Option<(f64, Self)> = None;
        for (rows, columns) in [(rows, columns), (columns, rows)] {
            if rows.len() > MOST_ROWS {
                continue;
            }
            let mut expected = Expected::new(rows, factorials);
            for split in splits(rows, columns) {
                let work = expected.work(&split);
                if found.as_ref().is_none_or(|best| work < best.0) {
                    found = Some((work, split));
                }
            }
        }
        found.map(|best| best.1)
    }

    /// Whether left and right part may be exchanged: then half of the pairs of classes stand for the other half.
    pub(super) fn mirrored(&self) -> bool {
        let sorted = |part: &[u32]| {
            let mut part = part.to_vec();
            part.sort_unstable();
            part
        };
        self.rows.windows(2).all(|pair| matches!(pair, [a, b] if a == b)) && sorted(&self.left) == sorted(&self.right)
    }
}

/// All splits; the one in the middle where there are too many.
fn splits(rows: &[u32], columns: &[u32]) -> Vec<Split> {
    let split = |left: Vec<u32>, middle: u32, right: Vec<u32>| Split { rows: rows.to_vec(), left, middle, right };
    if columns.len() > MOST_COLUMNS {
        let Some((middle, others)) = columns.split_last() else { return Vec::new() };
        let (left, right) = others.split_at(others.len() / 2);
        return vec![split(left.to_vec(), *middle, right.to_vec())];
    }
    let mut found = Vec::new();
    for (at, middle) in columns.iter().enumerate() {
        let others = || columns.iter().enumerate().filter(move |(other, _)| *other != at).map(|(_, total)| *total);
        for chosen in 0..1_u32 << (columns.len() - 1) {
            let part =
                |side: u32| others().enumerate().filter(|(k, _)| chosen >> k & 1 == side).map(|(_, n)| n).collect();
            found.push(split(part(1), *middle, part(0)));
        }
    }
    found
}

/// What a split will cost, in billionths of a second of one processor, from approximate numbers of tables: rows that fit the
/// table, times the share of them whose columns fit, as if columns were independent of each other.
struct Expected<'a> {
    rows: &'a [u32],
    totals: Totals,
    total: u32,
    factorials: &'a Factorials,
    orders: HashMap<u32, f64>,
}

impl<'a> Expected<'a> {
    fn new(rows: &'a [u32], factorials: &'a Factorials) -> Self {
        let mut totals = [0; MOST_ROWS];
        for (place, total) in totals.iter_mut().zip(rows) {
            *place = *total;
        }
        Self { rows, totals, total: rows.iter().sum(), factorials, orders: HashMap::new() }
    }

    /// Ways to put these columns into the rows, about.
    fn ways(&self, columns: &[u32]) -> f64 {
        let used: u32 = columns.iter().sum();
        let rest = (used < self.total).then(|| self.total - used);
        let columns: Vec<u32> = columns.iter().copied().chain(rest).filter(|total| *total > 0).collect();
        let (r, c) = (self.rows.len() as u32, columns.len() as u32);
        let spread = |totals: &[u32], cells: u32| -> f64 {
            totals.iter().map(|total| self.factorials.ln_choose(total + cells - 1, cells - 1)).sum()
        };
        (spread(self.rows, c) + spread(&columns, r) - self.factorials.ln_choose(self.total + r * c - 1, r * c - 1))
            .exp()
    }

    /// Orders of used row totals that one class of that sum stands for, on average.
    fn orders(&mut self, sum: u32) -> f64 {
        if let Some(known) = self.orders.get(&sum) {
            return *known;
        }
        let found = match classes(&self.totals, sum, MOST_COUNTED) {
            Some(all) => (self.ways(&[sum]) / all.len().max(1) as f64).max(1.0),
            None => self.factorials.ln(self.rows.len() as u32).exp(),
        };
        self.orders.insert(sum, found);
        found
    }

    /// Times as measured for some thirty tables, shares of what [`Expected::ways`] expects.
    fn work(&mut self, split: &Split) -> f64 {
        let sum = |part: &[u32]| part.iter().sum::<u32>();
        let alike = |part: &[u32]| -> f64 {
            let mut part = part.to_vec();
            part.sort_unstable();
            part.chunk_by(|a, b| a == b).map(|equal| self.factorials.ln(equal.len() as u32)).sum::<f64>().exp()
        };
        let (same_rows, same_left, same_right) = (alike(self.rows), alike(&split.left), alike(&split.right));
        let (lefts, rights) = (self.ways(&split.left), self.ways(&split.right));
        let rest: Vec<u32> = split.right.iter().copied().chain([split.middle]).collect();
        let in_rest = self.orders(sum(&rest));
        let listed = lefts / self.orders(sum(&split.left)) + rights / self.orders(sum(&split.right));
        let layers = 25.0 * listed;
        let spread = 4.0 * lefts / same_rows / same_left;
        let middles = 50.0 * self.ways(&[split.middle, sum(&split.right)]) / in_rest;
        let join = 0.5 * self.ways(&rest) / in_rest / same_right.powf(MERGED);
        let work = layers + spread + middles + join;
        // Better slow than without room.
        if listed > MOST_LISTED { work * 1e6 * (listed / MOST_LISTED) } else { work }
    }
}
