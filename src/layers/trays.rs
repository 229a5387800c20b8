//! Trays in their places, and trays alike in everything as one cell.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// A recorded unit above the tray.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// The user's column.
    pub name: String,
    /// Its level for every tray.
    pub codes: Vec<u32>,
}

impl Place {
    /// A place by name and the level of every tray.
    #[must_use]
    pub fn new(name: &str, codes: &[u32]) -> Self {
        Self { name: name.to_owned(), codes: codes.to_vec() }
    }

    /// Number of levels that occur.
    #[must_use]
    pub fn levels(&self) -> usize {
        self.codes.iter().collect::<std::collections::BTreeSet<_>>().len()
    }
}

/// Counts of trays, the rows of a fixed design they belong to, and the places they stand in. One entry per tray in `rooted`, `stuck`, `row`
/// and the codes of each place.
#[derive(Debug, Clone, Copy)]
pub struct Trays<'a> {
    /// Cuttings rooted.
    pub rooted: &'a [f64],
    /// Cuttings stuck, each above 0.
    pub stuck: &'a [f64],
    /// The row of the design each tray belongs to.
    pub row: &'a [usize],
    /// Columns of the design, one entry per row of it. They span the constant.
    pub design: &'a [Vec<f64>],
    /// Places.
    pub places: &'a [Place],
}

/// True when every level of `inner` lies in a single level of `outer`.
#[must_use]
pub fn refines<T: Ord + Copy>(inner: &[T], outer: &[T]) -> bool {
    let mut home: BTreeMap<T, T> = BTreeMap::new();
    inner.iter().zip(outer).all(|(inner, outer)| *home.entry(*inner).or_insert(*outer) == *outer)
}

/// Trays alike in the row of the design and in every place.
pub(super) struct Cells {
    /// Cuttings.
    pub(super) weight: Vec<f64>,
    /// Sum of squared tray sizes.
    pub(super) squares: Vec<f64>,
    /// Rate over all trays of the cell.
    pub(super) rate: Vec<f64>,
    /// Columns of the design by cell.
    pub(super) design: Vec<Vec<f64>>,
    /// Levels of each place by cell, 0, 1, ...
    pub(super) places: Vec<Vec<usize>>,
    /// Sum over trays of `m (rate - that of its cell)^2`.
    pub(super) inside: f64,
    /// Trays.
    pub(super) trays: f64,
}

impl Cells {
    pub(super) fn of(trays: &Trays<'_>, places: &[&Place]) -> Self {
        let mut order: BTreeMap<Vec<usize>, (f64, f64, f64)> = BTreeMap::new();
        let key = |at: usize, row: usize| -> Vec<usize> {
            let codes = places.iter().map(|place| place.codes.get(at).map_or(0, |code| *code as usize));
            std::iter::once(row).chain(codes).collect()
        };
        let each = || trays.rooted.iter().zip(trays.stuck).zip(trays.row).enumerate();
        for (at, ((y, m), row)) in each() {
            let cell = order.entry(key(at, *row)).or_insert((0.0, 0.0, 0.0));
            *cell = (cell.0 + y, cell.1 + m, cell.2 + m * m);
        }
        let inside = each()
            .filter_map(|(at, ((y, m), row))| {
                let (rooted, stuck, _) = order.get(&key(at, *row))?;
                Some(m * (y / m - rooted / stuck).powi(2))
            })
            .sum();
        let column =
            |x: &Vec<f64>| -> Vec<f64> { order.keys().filter_map(|key| x.get(*key.first()?).copied()).collect() };
        let place = |at: usize| -> Vec<usize> {
            let raw: Vec<usize> = order.keys().filter_map(|key| key.get(at + 1).copied()).collect();
            let mut known = raw.clone();
            known.sort_unstable();
            known.dedup();
            raw.iter().map(|code| known.binary_search(code).unwrap_or(0)).collect()
        };
        Self {
            weight: order.values().map(|cell| cell.1).collect(),
            squares: order.values().map(|cell| cell.2).collect(),
            rate: order.values().map(|cell| cell.0 / cell.1).collect(),
            design: trays.design.iter().map(column).collect(),
            places: (0..places.len()).map(place).collect(),
            inside,
            trays: trays.stuck.len() as f64,
        }
    }
}
