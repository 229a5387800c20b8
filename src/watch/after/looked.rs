//! What every step of a look needs: the crop, what is expected of it, what was counted, and draws.

use rayon::prelude::*;

use super::crop_law::CropLaw;
use super::scan::{By, Scan};
use crate::control::{Control, Signal as Stop};
use crate::error::Result;
use crate::watch::baseline::Baseline;
use crate::watch::crop::{Batch, Grouping};

/// How to look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Search {
    /// Draws for the P value.
    pub(crate) draws: u64,
    /// Draws for the set of weeks, the form and the places.
    pub(crate) inner_draws: u64,
    pub(crate) seed: u64,
    pub(crate) confidence: f64,
}

/// A set of batches that is looked through: all of them, or those of one level of a place.
pub(super) type Set = Option<(usize, u32)>;

/// What every step of the look needs.
pub(super) struct Looked<'a> {
    pub(super) law: CropLaw<'a>,
    pub(super) groupings: &'a [Grouping],
    pub(super) baseline: &'a Baseline,
    pub(super) search: Search,
    pub(super) alive: Vec<u64>,
}

impl Looked<'_> {
    pub(super) fn scan(&self, set: Set, by: By) -> Scan {
        let among = |batch: &Batch| set.is_none_or(|(at, level)| batch.levels.get(at) == Some(&level));
        Scan::new(&self.law, self.groupings, self.baseline, by, among)
    }

    /// What `of` makes of each set of drawn counts.
    pub(super) fn drawn<T: Send>(
        &self,
        draws: u64,
        stream: u64,
        by: &[f64],
        of: impl Fn(&[u64]) -> T + Sync,
        control: &Control,
    ) -> Result<Vec<T>> {
        self.drawn_about(draws, stream, (by, 0.0), of, control)
    }

    /// The same with shifts that are known but for a share of their size.
    pub(super) fn drawn_about<T: Send>(
        &self,
        draws: u64,
        stream: u64,
        (by, unsure): (&[f64], f64),
        of: impl Fn(&[u64]) -> T + Sync,
        control: &Control,
    ) -> Result<Vec<T>> {
        let stop = Stop::here();
        let one = |replicate: u64| {
            control.step()?;
            let mut alive = Vec::new();
            self.law.draw(self.search.seed.wrapping_add(stream << 32), replicate, by, unsure, &mut alive);
            control.finish(1);
            Ok(of(&alive))
        };
        control.expect(draws);
        (0..draws).into_par_iter().map(|replicate| stop.on(|| one(replicate))).collect()
    }
}
