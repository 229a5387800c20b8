//! Trays in their places, and trays alike in everything as one cell.

use serde::{Deserialize, Serialize};

use crate::math::design::{Key, constant_within, different, ranked};

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
        different(&self.codes)
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
pub fn refines(inner: &[u32], outer: &[u32]) -> bool {
    constant_within(outer, inner)
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
    pub(super) places: Vec<Vec<u32>>,
    /// Sum over trays of `m (rate - that of its cell)^2`.
    pub(super) inside: f64,
    /// Trays.
    pub(super) trays: f64,
}

impl Cells {
    pub(super) fn of(trays: &Trays<'_>, places: &[&Place]) -> Self {
        let rows: Vec<u32> = trays.row.iter().map(|row| *row as u32).collect();
        let codes: Vec<&[u32]> =
            std::iter::once(rows.as_slice()).chain(places.iter().map(|place| place.codes.as_slice())).collect();
        let found = ranked(&codes.iter().map(|codes| Key::of(codes)).collect::<Vec<_>>(), trays.stuck.len());
        let mut sums = vec![(0.0, 0.0, 0.0); found.len()];
        let each = || trays.rooted.iter().zip(trays.stuck).zip(&found.numbers);
        for ((y, m), cell) in each() {
            if let Some(cell) = sums.get_mut(*cell as usize) {
                *cell = (cell.0 + y, cell.1 + m, cell.2 + m * m);
            }
        }
        let inside = each()
            .filter_map(|((y, m), cell)| {
                let (rooted, stuck, _) = sums.get(*cell as usize)?;
                Some(m * (y / m - rooted / stuck).powi(2))
            })
            .sum();
        let at_firsts = |codes: &[u32]| -> Vec<u32> {
            found.firsts.iter().map(|first| codes.get(*first).copied().unwrap_or_default()).collect()
        };
        let row = at_firsts(&rows);
        let column =
            |x: &Vec<f64>| -> Vec<f64> { row.iter().filter_map(|row| x.get(*row as usize).copied()).collect() };
        let place = |place: &&Place| -> Vec<u32> {
            let raw = at_firsts(&place.codes);
            let mut known = raw.clone();
            known.sort_unstable();
            known.dedup();
            raw.iter().map(|code| known.binary_search(code).unwrap_or(0) as u32).collect()
        };
        Self {
            weight: sums.iter().map(|cell| cell.1).collect(),
            squares: sums.iter().map(|cell| cell.2).collect(),
            rate: sums.iter().map(|cell| cell.0 / cell.1).collect(),
            design: trays.design.iter().map(column).collect(),
            places: places.iter().map(place).collect(),
            inside,
            trays: trays.stuck.len() as f64,
        }
    }
}
