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

/// Parts in which draws for a decision are made, how few decide nothing, and standard errors of the share by which it is decided before all are made.
pub(super) const CHUNKS: u64 = 4;
pub(super) const FEW: usize = 60;
const CLEAR: f64 = 3.0;

/// The share of so many draws that are as far out, the crop itself among them.
pub(super) fn share_of(far: usize, draws: usize) -> f64 {
    (far as f64 + 1.0) / (draws as f64 + 1.0)
}

/// Whether it is clear on which side of `bar` a share of so many draws lies.
pub(super) fn is_clear(share: f64, bar: f64, draws: usize) -> bool {
    let se = (bar * (1.0 - bar) / draws.max(1) as f64).sqrt();
    draws >= FEW && (share - bar).abs() > CLEAR * se
}

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

    /// The share of drawn crops that are as far out, until it is clear on which side of `bar` it lies; draws take four streams from `stream` on.
    pub(super) fn share(
        &self,
        stream: u64,
        shifts: (&[f64], f64),
        as_far: impl Fn(&[u64]) -> bool + Sync,
        bar: f64,
        control: &Control,
    ) -> Result<f64> {
        let (mut far, mut all) = (0, 0);
        for chunk in 0..CHUNKS {
            let draws = self.search.inner_draws.div_ceil(CHUNKS);
            let drawn = self.drawn_about(draws, stream + chunk, shifts, &as_far, control)?;
            far += drawn.iter().filter(|one| **one).count();
            all += drawn.len();
            if is_clear(share_of(far, all), bar, all) {
                break;
            }
        }
        Ok(share_of(far, all))
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
