//! Where a drop lies: each level against the others of its grouping, judged by the law of the largest of them.

use super::looked::Looked;
use super::numbers::PlaceChange;
use super::scan::{By, Scan};
use crate::control::Control;
use crate::error::Result;

/// What the weeks from one on say of a set: the shift of its logit, and what they tell.
fn shift(scan: &Scan, alive: &[u64], first: i32) -> Option<(f64, f64)> {
    let from = scan.weeks.iter().position(|week| *week >= first)?;
    let (score, told) = scan.onwards(&scan.scores(alive)).get(from).copied()?;
    (told > 0.0).then(|| (score / told, told))
}

/// Each level against all others of its grouping.
struct Level {
    name: String,
    own: Scan,
    others: Scan,
}

impl Level {
    /// How far the level lies below the others, in standard errors.
    fn below(&self, alive: &[u64], first: i32) -> Option<f64> {
        let ((own, own_told), (others, told)) = (shift(&self.own, alive, first)?, shift(&self.others, alive, first)?);
        Some((others - own) / (1.0 / own_told + 1.0 / told).sqrt())
    }
}

/// All levels of all groupings with two or more of them.
pub(super) fn places(looked: &Looked<'_>, first: i32, control: &Control) -> Result<Vec<PlaceChange>> {
    let all = looked.scan(None, By::Set);
    let from = all.weeks.iter().position(|week| *week >= first).unwrap_or(0);
    let common = all.shift_from(&looked.law, &looked.alive, from).map_or(0.0, |(shift, _)| shift);
    let by = all.shifted(looked.alive.len(), from, common, false);
    let mut found = Vec::new();
    for (at, grouping) in looked.groupings.iter().enumerate().filter(|(_, grouping)| grouping.levels.len() > 1) {
        let scan = |level: u32, inside: bool| {
            let among = |batch: &crate::watch::crop::Batch| (batch.levels.get(at) == Some(&level)) == inside;
            Scan::new(&looked.law, looked.groupings, looked.baseline, By::Set, among)
        };
        let levels: Vec<Level> = (0_u32..)
            .zip(&grouping.levels)
            .map(|(level, name)| Level { name: name.clone(), own: scan(level, true), others: scan(level, false) })
            .collect();
        let most = |alive: &[u64]| -> f64 {
            levels.iter().filter_map(|level| level.below(alive, first)).fold(f64::NEG_INFINITY, f64::max)
        };
        // A common drop is what they are measured against: it makes no level stand out.
        let law = looked.drawn(looked.search.inner_draws, 5 + at as u64, &by, most, control)?;
        for level in &levels {
            let Some(z) = level.below(&looked.alive, first) else { continue };
            let solved = |scan: &Scan| {
                let from = scan.weeks.iter().position(|week| *week >= first)?;
                Some(scan.shift_from(&looked.law, &looked.alive, from)?.0)
            };
            let (Some(own), Some(others)) = (solved(&level.own), solved(&level.others)) else { continue };
            let as_large = law.iter().filter(|value| **value >= z).count() as f64;
            let Some(from) = level.own.weeks.iter().position(|week| *week >= first) else { continue };
            let points = |shift: f64| level.own.points_from(&looked.law, from, shift);
            found.push(PlaceChange {
                grouping: grouping.name.clone(),
                level: level.name.clone(),
                n_batches: level.own.batches_from(from).count() as u64,
                change: points(own),
                beside_others: points(own) - points(others),
                p: (as_large + 1.0) / (law.len() as f64 + 1.0),
            });
        }
    }
    Ok(found)
}
