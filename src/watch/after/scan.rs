//! Looking through weeks for the one from which on fewer survive, in all batches or in those of one level.

use std::collections::BTreeMap;

use super::crop_law::CropLaw;
use crate::math::special::expit;
use crate::watch::baseline::{Baseline, clustered};
use crate::watch::crop::{Batch, Grouping};
use crate::watch::law::{Expected, information};

/// Whether weeks are those of setting or those of reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum By {
    Set,
    Read,
}

impl By {
    fn week(self, batch: &Batch) -> i32 {
        match self {
            Self::Set => batch.set_week(),
            Self::Read => batch.read_week(),
        }
    }
}

/// Batches of a week: number, weight of the count, count expected.
type Parts = Vec<(usize, f64, f64)>;

/// A set of batches, week by week: what each week tells of a common shift of the logit, and how its counts make a score.
#[derive(Debug, Clone)]
pub(super) struct Scan {
    /// The weeks.
    pub(super) weeks: Vec<i32>,
    /// What each week tells.
    pub(super) told: Vec<f64>,
    /// The batches of each week.
    parts: Vec<Parts>,
}

/// What is found at the best week of a scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Best {
    /// Place of the week in the scan.
    pub(super) at: usize,
    /// How many standard errors the counts are lower from there on.
    pub(super) z: f64,
}

/// Steps towards a shift, and the farthest one.
const STEPS: usize = 30;
const FARTHEST: f64 = 8.0;

impl Scan {
    /// A scan of those batches that are `among` the set.
    pub(super) fn new(
        law: &CropLaw<'_>,
        groupings: &[Grouping],
        baseline: &Baseline,
        by: By,
        among: impl Fn(&Batch) -> bool,
    ) -> Self {
        let spreads = baseline.spreads;
        let mut weeks: BTreeMap<i32, (f64, Parts)> = BTreeMap::new();
        let held = law.batches.iter().copied().enumerate().filter(|(_, batch)| among(batch));
        let made = clustered(held, groupings);
        for clusters in &made.weeks {
            let mut inner = Vec::new();
            for cluster in clusters.iter().filter_map(|at| made.clusters.get(*at)) {
                let told: f64 =
                    cluster.iter().filter_map(|at| Some(information(&seen(law, *at)?, spreads.batch))).sum();
                inner.push((cluster, told, 1.0 / (1.0 + spreads.week_in_place.powi(2) * told)));
            }
            let total: f64 = inner.iter().map(|(_, told, kept)| told * kept).sum();
            let week_kept = 1.0 / (1.0 + spreads.week.powi(2) * total);
            for (cluster, _, kept) in inner {
                for at in cluster {
                    let Some((batch, expected)) = law.batches.get(*at).zip(seen(law, *at)) else { continue };
                    let n = batch.started as f64;
                    let weight = week_kept * kept / (1.0 + (n - 1.0) * spreads.batch);
                    let week = weeks.entry(by.week(batch)).or_default();
                    week.0 += week_kept * kept * information(&expected, spreads.batch);
                    week.1.push((*at, weight, n * expit(expected.logit)));
                }
            }
        }
        let (mut numbers, mut told, mut parts) = (Vec::new(), Vec::new(), Vec::new());
        for (week, (tells, batches)) in weeks {
            numbers.push(week);
            told.push(tells);
            parts.push(batches);
        }
        Self { weeks: numbers, told, parts }
    }

    /// The scores of the weeks for these counts.
    pub(super) fn scores(&self, alive: &[u64]) -> Vec<f64> {
        let one = |(at, weight, expected): &(usize, f64, f64)| {
            weight * (alive.get(*at).copied().unwrap_or(0) as f64 - expected)
        };
        self.parts.iter().map(|batches| batches.iter().map(one).sum()).collect()
    }

    /// From each week on: the score of all later weeks and what they tell.
    pub(super) fn onwards(&self, scores: &[f64]) -> Vec<(f64, f64)> {
        let mut sums = vec![(0.0, 0.0); scores.len()];
        let (mut score, mut told) = (0.0, 0.0);
        for ((sum, one), tells) in sums.iter_mut().zip(scores).zip(&self.told).rev() {
            score += one;
            told += tells;
            *sum = (score, told);
        }
        sums
    }

    /// Twice the logarithm of the likelihood ratio of a drop from each week on.
    pub(super) fn profile(&self, scores: &[f64]) -> Vec<f64> {
        let ratio = |(score, told): (f64, f64)| if score < 0.0 && told > 0.0 { score * score / told } else { 0.0 };
        self.onwards(scores).into_iter().map(ratio).collect()
    }

    /// The best week for a drop.
    pub(super) fn best(&self, scores: &[f64]) -> Option<Best> {
        let each = self.onwards(scores).into_iter().enumerate().filter(|(_, (_, told))| *told > 0.0);
        let found = each.map(|(at, (score, told))| Best { at, z: -score / told.sqrt() });
        found.max_by(|a, b| a.z.total_cmp(&b.z))
    }

    /// The largest statistic of a drop that grows by the week.
    pub(super) fn best_drift(&self, scores: &[f64]) -> Option<(usize, f64)> {
        let of = |from: usize| {
            let first = self.weeks.get(from).copied()?;
            let later = self.weeks.iter().zip(scores.iter().zip(&self.told)).skip(from);
            let (score, told) = later.fold((0.0, 0.0), |(score, told), (week, (one, tells))| {
                let since = f64::from(week - first + 1);
                (score + since * one, told + since * since * tells)
            });
            (told > 0.0).then(|| (from, -score / told.sqrt()))
        };
        (0..self.weeks.len()).filter_map(of).max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Shifts of the batches of a scan: 0 before a week, `off` from it on; of a drift so much more each week.
    pub(super) fn shifted(&self, batches: usize, from: usize, off: f64, drift: bool) -> Vec<f64> {
        let mut by = vec![0.0; batches];
        let first = self.weeks.get(from).copied().unwrap_or_default();
        for (week, parts) in self.weeks.iter().zip(&self.parts).skip(from) {
            let size = if drift { off * f64::from(week - first + 1) } else { off };
            parts.iter().for_each(|(at, _, _)| by.iter_mut().skip(*at).take(1).for_each(|shift| *shift = size));
        }
        by
    }

    /// The shift of the logit from a week on at which the weighted counts are as expected, and what they tell of it there.
    pub(super) fn shift_from(&self, law: &CropLaw<'_>, alive: &[u64], from: usize) -> Option<(f64, f64)> {
        let parts = || self.parts.iter().skip(from).flatten();
        let at = |shift: f64| {
            parts().fold((0.0, 0.0), |(score, told), (at, weight, _)| {
                let Some((batch, logit)) = law.batches.get(*at).zip(law.logits.get(*at)) else { return (score, told) };
                let (n, rate) = (batch.started as f64, expit(logit + shift));
                let counted = alive.get(*at).copied().unwrap_or(0) as f64;
                (score + weight * (counted - n * rate), told + weight * n * rate * (1.0 - rate))
            })
        };
        let mut shift = 0.0_f64;
        for _ in 0..STEPS {
            let (score, told) = at(shift);
            if told <= 0.0 {
                return None;
            }
            let by = (score / told).clamp(-1.0, 1.0);
            shift = (shift + by).clamp(-FARTHEST, FARTHEST);
            if by.abs() < 1e-8 {
                break;
            }
        }
        Some((shift, at(shift).1))
    }

    /// What a shift of the logit from a week on makes of the expected rate, over the plants started.
    pub(super) fn points_from(&self, law: &CropLaw<'_>, from: usize, shift: f64) -> f64 {
        let each = self.parts.iter().skip(from).flatten().filter_map(|(at, _, _)| {
            let (batch, logit) = law.batches.get(*at).zip(law.logits.get(*at))?;
            Some((batch.started as f64, expit(logit + shift) - expit(*logit)))
        });
        let (started, change) = each.fold((0.0, 0.0), |(s, c), (n, by)| (s + n, c + n * by));
        if started > 0.0 { change / started } else { 0.0 }
    }

    /// Numbers of the batches from a week on.
    pub(super) fn batches_from(&self, from: usize) -> impl Iterator<Item = usize> + '_ {
        self.parts.iter().skip(from).flatten().map(|(at, _, _)| *at)
    }
}

fn seen(law: &CropLaw<'_>, at: usize) -> Option<Expected> {
    let batch = law.batches.get(at)?;
    Some(Expected { started: batch.started, alive: batch.alive, logit: *law.logits.get(at)? })
}
