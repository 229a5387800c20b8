//! A difference of two raw rates taken apart: what the rates of like batches add, what the mix adds, and what has no partner.
//!
//! Parts add up exactly. Of the mix each column of levels has a part of its own.

use std::collections::{BTreeMap, BTreeSet};

use crate::control::checkpoint;

/// Started and alive of each cell, by its levels.
pub type Cells = BTreeMap<Vec<u32>, (f64, f64)>;

/// The parts of a difference, later minus earlier.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// Raw rates, earlier and later.
    pub raw: (f64, f64),
    /// What the rates of like cells add.
    pub rates: f64,
    /// What the mix adds, column by column.
    pub mix: Vec<f64>,
    /// What cells add that only one of the two has.
    pub without_partner: f64,
    /// Share of the plants started that lie in cells of both.
    pub overlap: f64,
}

fn raw<'a>(cells: impl Iterator<Item = &'a (f64, f64)>) -> (f64, f64) {
    cells.fold((0.0, 0.0), |(started, alive), (s, a)| (started + s, alive + a))
}

/// Takes the difference of two raw rates apart over cells of `columns` columns; None where the two have no cell in common or one is empty.
///
/// Within the cells that both have, the share of a cell is the product of one factor for each column, symmetric in the columns, and the
/// difference is averaged over all orders in which rates and factors can change.
///
/// # References
/// Kitagawa 1955, Journal of the American Statistical Association 50:1168-1194; Das Gupta 1993, Standardization and Decomposition of Rates,
/// US Bureau of the Census, P23-186, chapter 5.
///
/// ```
/// use rootling::counts::{Cells, parts};
/// // The rates of both cultivars stand still; the weaker one makes up more of the batches.
/// let before = Cells::from([(vec![0], (100.0, 90.0)), (vec![1], (100.0, 60.0))]);
/// let after = Cells::from([(vec![0], (50.0, 45.0)), (vec![1], (150.0, 90.0))]);
/// let found = parts(&before, &after, 1).unwrap();
/// assert!(found.rates.abs() < 1e-12 && (found.mix[0] + 0.075).abs() < 1e-12);
/// ```
#[must_use]
pub fn parts(before: &Cells, after: &Cells, columns: usize) -> Option<Parts> {
    let rate = |(started, alive): (f64, f64)| alive / started;
    let all = (raw(before.values()), raw(after.values()));
    let shared: BTreeSet<&Vec<u32>> = before.keys().filter(|cell| after.contains_key(*cell)).collect();
    let within = |cells: &Cells| -> Cells {
        cells.iter().filter(|(cell, _)| shared.contains(cell)).map(|(cell, counts)| (cell.clone(), *counts)).collect()
    };
    let (one, two) = (within(before), within(after));
    if shared.is_empty() || [all.0, all.1].iter().any(|(started, _)| *started <= 0.0) {
        return None;
    }
    let common = (raw(one.values()), raw(two.values()));
    // Factors of each cell: its rate first, then one for each column.
    let factors: Vec<(Vec<f64>, Vec<f64>)> =
        shared.iter().filter_map(|cell| Some((factors(&one, cell, columns)?, factors(&two, cell, columns)?))).collect();
    let mut effects = (0..=columns).map(|place| factors.iter().map(|(a, b)| effect(a, b, place)).sum());
    let rates: f64 = effects.next()?;
    let mix: Vec<f64> = effects.collect();
    let raw = (rate(all.0), rate(all.1));
    Some(Parts {
        raw,
        rates,
        without_partner: (raw.1 - raw.0) - (rate(common.1) - rate(common.0)),
        overlap: (common.0.0 + common.1.0) / (all.0.0 + all.1.0),
        mix,
    })
}

/// The rate of a cell, and a factor of its share for each column.
fn factors(cells: &Cells, cell: &[u32], columns: usize) -> Option<Vec<f64>> {
    let (started, alive) = cells.get(cell).copied()?;
    let mut found = vec![alive / started];
    for column in 0..columns {
        let others: Vec<usize> = (0..columns).filter(|other| *other != column).collect();
        let mut ln = 0.0;
        for chosen in subsets(&others) {
            checkpoint();
            let with: Vec<usize> = chosen.iter().copied().chain([column]).collect();
            let share = alike(cells, cell, &with).ln() - alike(cells, cell, &chosen).ln();
            ln += weight(columns, chosen.len()) * share;
        }
        found.push(ln.exp());
    }
    Some(found)
}

/// Plants started in all cells that share these columns with a cell.
fn alike(cells: &Cells, cell: &[u32], columns: &[usize]) -> f64 {
    let same = |other: &&Vec<u32>| columns.iter().all(|column| other.get(*column) == cell.get(*column));
    cells.iter().filter(|(other, _)| same(other)).map(|(_, (started, _))| started).sum()
}

/// What one factor adds to the difference of a product, averaged over all orders of change.
fn effect(before: &[f64], after: &[f64], place: usize) -> f64 {
    let others: Vec<usize> = (0..before.len()).filter(|other| *other != place).collect();
    let change = after.get(place).copied().unwrap_or(0.0) - before.get(place).copied().unwrap_or(0.0);
    let product = |changed: &[usize]| -> f64 {
        let of = |other: &usize| if changed.contains(other) { after.get(*other) } else { before.get(*other) };
        others.iter().filter_map(of).product()
    };
    subsets(&others).iter().map(|changed| weight(before.len(), changed.len()) * product(changed)).sum::<f64>() * change
}

/// The share of orders in which `before` of `count` things come ahead of one of them, for one choice of these.
fn weight(count: usize, before: usize) -> f64 {
    let choices: f64 = (0..before).map(|i| (count - 1 - i) as f64 / (i + 1) as f64).product();
    1.0 / (count as f64 * choices)
}

fn subsets(of: &[usize]) -> Vec<Vec<usize>> {
    let chosen =
        |bits: usize| of.iter().enumerate().filter(|(at, _)| bits >> at & 1 == 1).map(|(_, one)| *one).collect();
    (0..1_usize << of.len()).map(chosen).collect()
}
