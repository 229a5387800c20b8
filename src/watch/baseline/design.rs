//! What a batch is expected to do, as columns: a common rate, its levels, and a yearly wave.

use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use crate::watch::crop::{Batch, Grouping};

/// Days of a year.
pub(super) const YEAR: f64 = 365.2425;

/// The columns of a baseline: which levels it knows, and whether it has a wave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(super) struct Columns {
    /// For each grouping and level its column: 0, that of all, for the first known level; None for one that was never seen.
    places: Vec<Vec<Option<usize>>>,
    wave: Option<usize>,
    /// How many there are.
    pub(super) count: usize,
}

/// More columns than any crop has.
const MOST: usize = 100_000;

/// The entries of a batch that are not 0.
pub(super) type Row = Vec<(usize, f64)>;

impl Columns {
    /// The columns that these batches need.
    pub(super) fn of(batches: &[&Batch], groupings: &[Grouping], wave: bool) -> Self {
        let mut count = 1;
        let mut places = Vec::with_capacity(groupings.len());
        for (at, grouping) in groupings.iter().enumerate() {
            let mut seen = vec![false; grouping.levels.len()];
            for batch in batches {
                if let Some(slot) = batch.levels.get(at).and_then(|level| seen.get_mut(*level as usize)) {
                    *slot = true;
                }
            }
            let first = seen.iter().position(|seen| *seen);
            let known = seen.iter().enumerate().map(|(level, seen)| match (seen, Some(level) == first) {
                (false, _) => None,
                (true, true) => Some(0),
                (true, false) => {
                    count += 1;
                    Some(count - 1)
                }
            });
            places.push(known.collect());
        }
        let wave = wave.then_some(count);
        count += if wave.is_some() { 2 } else { 0 };
        Self { places, wave, count }
    }

    /// The row of a batch; None where it has a level that the baseline never saw.
    pub(super) fn row(&self, batch: &Batch) -> Option<Row> {
        let mut row = vec![(0, 1.0)];
        for (level, known) in batch.levels.iter().zip(&self.places) {
            match known.get(*level as usize).copied()?? {
                0 => {}
                column => row.push((column, 1.0)),
            }
        }
        if let Some(column) = self.wave {
            let angle = TAU * f64::from(batch.set) / YEAR;
            row.extend([(column, angle.sin()), (column + 1, angle.cos())]);
        }
        Some(row)
    }

    /// The grouping and level of each column that stands for one.
    pub(super) fn levels(&self) -> impl Iterator<Item = (usize, usize, usize)> + '_ {
        self.places.iter().enumerate().flat_map(|(grouping, known)| {
            let own = move |(level, column): (usize, &Option<usize>)| {
                Some(((*column).filter(|at| *at > 0)?, grouping, level))
            };
            known.iter().enumerate().filter_map(own)
        })
    }

    /// True where these are columns of such groupings, each level with one of its own or none.
    pub(super) fn fit(&self, groupings: &[Grouping]) -> bool {
        let levels = |(known, grouping): (&Vec<Option<usize>>, &Grouping)| {
            known.len() == grouping.levels.len() && known.iter().flatten().all(|column| *column < self.count)
        };
        self.count < MOST
            && self.places.len() == groupings.len()
            && self.places.iter().zip(groupings).all(levels)
            && self.wave.is_none_or(|column| column + 1 < self.count)
    }

    /// True where there is a wave.
    pub(super) fn has_wave(&self) -> bool {
        self.wave.is_some()
    }

    /// The mean of each column over the plants started.
    pub(super) fn shares(&self, batches: &[&Batch]) -> Vec<f64> {
        let mut shares = vec![0.0; self.count];
        let mut total = 0.0;
        for (batch, row) in batches.iter().filter_map(|batch| Some((batch, self.row(batch)?))) {
            let started = batch.started as f64;
            total += started;
            row.iter().for_each(|(column, x)| {
                shares.iter_mut().skip(*column).take(1).for_each(|share| *share += started * x);
            });
        }
        shares.iter_mut().for_each(|share| *share /= total.max(1.0));
        shares
    }

    /// The columns of a level with those of all other groupings at their shares; None where the level was never seen.
    pub(super) fn level_row(&self, grouping: usize, level: usize, shares: &[f64]) -> Option<Row> {
        let known = self.places.get(grouping)?;
        let own: Vec<usize> = known.iter().flatten().copied().filter(|column| *column > 0).collect();
        let mut row: Row = shares.iter().copied().enumerate().filter(|(column, _)| !own.contains(column)).collect();
        match known.get(level).copied()?? {
            0 => {}
            column => row.push((column, 1.0)),
        }
        Some(row)
    }
}
