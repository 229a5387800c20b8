//! The scores of one date: all batches read then, judged together, with the layers between them.
//!
//! Batches of one cluster (one set week in one place) share a shift of their logit, clusters of one date another. The statistic of a cluster is
//! the sum of its batches' scores in whole steps; its score is the logarithm of the ratio of the two laws of that sum, after and before the
//! change, with the shared shift integrated out. So is that of the date from the sum over its clusters. Every law is one of whole steps, so
//! the law of the charted sum follows without an approximation of its own.

use serde::{Deserialize, Serialize};

use super::batch::{Expected, Score, alive_law, information};
use super::lattice::Law;
use super::nodes::{Layer, Nodes, points};
use crate::math::special::expit;

/// What varies beside the counts themselves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Spreads {
    /// Correlation of two plants of a batch.
    pub batch: f64,
    /// Standard deviation of the logit between set weeks of a place.
    pub week_in_place: f64,
    /// Standard deviation of the logit between weeks, shared by all places.
    pub week: f64,
}

/// The law under which a limit is set: that of the baseline, or one that is worse by as much as the baseline may be off.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Truth {
    /// Shift of every logit.
    pub shift: f64,
    /// Standard deviation of a further shift of a date.
    pub width: f64,
}

/// What a chart looks for, and how finely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Change of the logit.
    pub change: f64,
    /// What varies.
    pub spreads: Spreads,
    /// One step of the charted sum.
    pub step: f64,
}

/// A score for every value that a sum of steps can take.
#[derive(Debug, Clone, PartialEq)]
struct Readout {
    low: i64,
    scores: Vec<i64>,
}

/// Below this a probability says nothing about a ratio.
const UNLIKELY: f64 = 1e-12;

impl Readout {
    /// The logarithm of the ratio of two laws, in steps; values that neither law reaches take the nearest score.
    fn of_ratio(after: &Law, before: &Law, step: f64) -> Self {
        let (low, high) = (after.low().min(before.low()), after.high().max(before.high()));
        let ratio = |value: i64| {
            let (after, before) = (after.p(value), before.p(value));
            (after.max(before) > UNLIKELY).then(|| (after.max(UNLIKELY) / before.max(UNLIKELY)).ln() / step)
        };
        let mut scores: Vec<Option<i64>> =
            (low..=high).map(|value| ratio(value).map(|score| score.round() as i64)).collect();
        for reversed in [false, true] {
            let mut last = None;
            let fill = |score: &mut Option<i64>| {
                last = score.or(last);
                *score = last;
            };
            if reversed { scores.iter_mut().rev().for_each(fill) } else { scores.iter_mut().for_each(fill) }
        }
        Self { low, scores: scores.into_iter().map(Option::unwrap_or_default).collect() }
    }

    fn of(&self, value: i64) -> i64 {
        let last = self.scores.len().saturating_sub(1) as i64;
        let at = (value - self.low).clamp(0, last) as usize;
        self.scores.get(at).copied().unwrap_or(0)
    }
}

/// A cluster: how its counts are scored, and the law of its score at every point of the layer above.
#[derive(Debug, Clone, PartialEq)]
struct Cluster {
    scores: Vec<(Score, u64)>,
    readout: Readout,
    laws: Vec<Law>,
}

/// Parts of the standard deviation of a sum that one step may be.
const FINE: f64 = 24.0;
/// Steps of the grid along the logit beside the width in which a cluster's counts speak.
const CLOSE: f64 = 0.6;

impl Cluster {
    /// `before` and `after` are the layers of the cluster by itself, `within` its own layer about each point of the layer above.
    fn new(batches: &[Expected], look: &Look, before: Layer, after: Layer, within: &[Layer]) -> Self {
        let rho = look.spreads.batch;
        let told: f64 = batches.iter().map(|batch| information(batch, rho)).sum();
        let step = (look.change.abs() * told.sqrt() / FINE).max(1e-9);
        let scores: Vec<Score> = batches.iter().map(|batch| Score::new(batch, look.change, rho, step)).collect();
        let layers: Vec<Layer> = [before, after].iter().chain(within).copied().collect();
        let nodes = Nodes::new(&layers, CLOSE / told.sqrt().max(0.5));
        let at_shift = |shift: &f64| {
            let each = batches.iter().zip(&scores).map(|(batch, score)| {
                alive_law(batch.started, expit(batch.logit + shift), rho).mapped(|alive| score.of(alive as u64))
            });
            each.reduce(|sum, one| sum.sum_with(&one)).unwrap_or_else(|| Law::at(0))
        };
        let at_shifts: Vec<Law> = nodes.shifts.iter().map(at_shift).collect();
        let mut mixed = nodes.weights.iter().map(|weights| Law::mixture(&at_shifts, weights));
        let (before, after) = (mixed.next(), mixed.next());
        let (before, after) = (before.unwrap_or_else(|| Law::at(0)), after.unwrap_or_else(|| Law::at(0)));
        let readout = Readout::of_ratio(&after, &before, look.step);
        let laws = mixed.map(|law| law.mapped(|sum| readout.of(sum))).collect();
        Self {
            scores: scores.into_iter().zip(batches).map(|(score, batch)| (score, batch.alive)).collect(),
            readout,
            laws,
        }
    }

    /// The score of counts, one for each batch.
    fn score(&self, alive: impl Iterator<Item = u64>) -> i64 {
        self.readout.of(self.scores.iter().zip(alive).map(|((score, _), alive)| score.of(alive)).sum())
    }

    /// The score of the counts that were read.
    fn read(&self) -> i64 {
        self.score(self.scores.iter().map(|(_, alive)| *alive))
    }
}

/// The scores of a date: that of what was read, and the law of it.
#[derive(Debug, Clone, PartialEq)]
pub struct DateScores {
    clusters: Vec<Cluster>,
    readout: Option<Readout>,
    /// The law of the score under each truth, in steps.
    pub laws: Vec<Law>,
}

impl DateScores {
    /// The scores of the batches read at one date, cluster by cluster, with their law under each truth.
    #[must_use]
    pub fn new(clusters: &[Vec<Expected>], look: &Look, truths: &[Truth]) -> Self {
        let Spreads { week_in_place, week, .. } = look.spreads;
        // One cluster alone cannot tell the layers apart: its own layer is both.
        let (own, shared) = if clusters.len() <= 1 { (week_in_place.hypot(week), 0.0) } else { (week_in_place, week) };
        let layer = |centre: f64, width: f64| Layer { centre, width };
        let apart = week_in_place.hypot(week);
        // Where no layer is shared the score of the date is the sum of those of its clusters.
        let ratio = [layer(0.0, shared), layer(look.change, shared)];
        let ratio = if shared > 0.0 { ratio.as_slice() } else { &[] };
        let outer: Vec<Vec<(f64, f64)>> = (ratio.iter().copied())
            .chain(truths.iter().map(|truth| layer(truth.shift, shared.hypot(truth.width))))
            .map(points)
            .collect();
        let within: Vec<Layer> = outer.iter().flatten().map(|(centre, _)| layer(*centre, own)).collect();
        let (before, after) = (layer(0.0, apart), layer(look.change, apart));
        let clusters: Vec<Cluster> =
            clusters.iter().map(|batches| Cluster::new(batches, look, before, after, &within)).collect();
        let at = |point: usize| {
            let laws = clusters.iter().filter_map(|cluster| cluster.laws.get(point));
            laws.fold(Law::at(0), |sum, law| sum.sum_with(law))
        };
        let at_points: Vec<Law> = (0..within.len()).map(at).collect();
        let mut from = 0;
        let mut mixed: Vec<Law> = Vec::with_capacity(outer.len());
        for points in &outer {
            let weights: Vec<f64> = points.iter().map(|(_, weight)| *weight).collect();
            mixed.push(Law::mixture(at_points.get(from..).unwrap_or_default(), &weights));
            from += points.len();
        }
        let laws = mixed.split_off(ratio.len());
        let readout = match mixed.as_slice() {
            [before, after] => Some(Readout::of_ratio(after, before, look.step)),
            _ => None,
        };
        let laws = match &readout {
            Some(readout) => laws.iter().map(|law| law.mapped(|sum| readout.of(sum))).collect(),
            None => laws,
        };
        Self { clusters, readout, laws }
    }

    /// The score of what was read, in steps.
    #[must_use]
    pub fn read(&self) -> i64 {
        self.together(self.clusters.iter().map(Cluster::read).sum())
    }

    /// The score of other counts of the same batches, cluster by cluster.
    #[must_use]
    pub fn score(&self, alive: &[Vec<u64>]) -> i64 {
        let each = self.clusters.iter().zip(alive);
        self.together(each.map(|(cluster, alive)| cluster.score(alive.iter().copied())).sum())
    }

    fn together(&self, sum: i64) -> i64 {
        self.readout.as_ref().map_or(sum, |readout| readout.of(sum))
    }
}
