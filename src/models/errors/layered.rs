//! The variance of a score over the layers above the trays.

use std::collections::BTreeMap;

use crate::layers::{JointJudged, Judged, Layers, Place, joint};
use crate::math::dense::{Qr, dot};
use crate::models::design::ScoreParts;
use crate::models::enter::Frame;

/// The effective cuttings of every row in every level of every layer.
#[derive(Debug, Clone)]
pub(crate) struct Layered {
    pub(crate) layers: Layers,
    /// Per layer: row, level and cuttings.
    pub(crate) shares: Vec<Vec<(usize, usize, f64)>>,
    levels: Vec<usize>,
    /// Per row: the root of its prior weight over its effective cuttings.
    scale: Vec<f64>,
}

impl Layered {
    /// Of a frame with effective counts.
    pub(crate) fn new(layers: &Layers, places: &[Place], frame: &Frame) -> Self {
        let icc = layers.tray.used();
        let trays = &frame.per_unit;
        let (mut shares, mut levels) = (Vec::new(), Vec::new());
        for component in &layers.components {
            let codes = places.iter().find(|place| place.name == component.name);
            let codes = codes.map_or(&[][..], |place| place.codes.as_slice());
            let mut sums: BTreeMap<(usize, usize), f64> = BTreeMap::new();
            for ((code, row), m) in codes.iter().zip(&trays.row).zip(&trays.stuck) {
                *sums.entry((*row, *code as usize)).or_insert(0.0) += m / (1.0 + (m - 1.0) * icc);
            }
            levels.push(codes.iter().max().map_or(0, |most| *most as usize + 1));
            shares.push(sums.into_iter().map(|((row, level), sum)| (row, level, sum)).collect());
        }
        let prior = |row: usize| frame.data.weights.get(row).copied().unwrap_or(1.0);
        let scale = frame.data.stuck.iter().enumerate().map(|(row, m)| (prior(row) / m).sqrt()).collect();
        Self { layers: layers.clone(), shares, levels, scale }
    }

    /// Sums by level of one layer, of rows' shares of a score divided by the roots of their weights.
    pub(crate) fn by_level(&self, layer: usize, rows: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.levels.get(layer).copied().unwrap_or(0)];
        for (row, level, share) in self.shares.get(layer).map_or(&[][..], Vec::as_slice) {
            let part = rows.get(*row).zip(self.scale.get(*row)).map_or(0.0, |(x, scale)| x * scale * share);
            if let Some(sum) = sums.get_mut(*level) {
                *sum += part;
            }
        }
        sums
    }

    /// The variance of a score. `rows` are the roots of the rows' parts of its variance if there were trays alone, with their signs:
    /// `sqrt(w) x'd` times the root of the inflation.
    pub(crate) fn judge(&self, rows: &[f64]) -> Judged {
        self.judge_beside(dot(rows, rows), rows)
    }

    pub(crate) fn judge_beside(&self, within: f64, rows: &[f64]) -> Judged {
        let square = |layer: usize| {
            let sums = self.by_level(layer, rows);
            dot(&sums, &sums)
        };
        let sums: Vec<f64> = (0..self.shares.len()).map(square).collect();
        self.layers.variance(within, &sums)
    }

    /// Products by layer of several scores.
    fn products(&self, scores: &[Vec<f64>]) -> Vec<Vec<Vec<f64>>> {
        let one = |layer: usize| {
            let sums: Vec<Vec<f64>> = scores.iter().map(|rows| self.by_level(layer, rows)).collect();
            sums.iter().map(|a| sums.iter().map(|b| dot(a, b)).collect()).collect()
        };
        (0..self.shares.len()).map(one).collect()
    }

    /// The covariance of several scores.
    pub(crate) fn covariance(&self, scores: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let within: Vec<Vec<f64>> = scores.iter().map(|a| scores.iter().map(|b| dot(a, b)).collect()).collect();
        self.layers.covariance(&within, &self.products(scores))
    }

    /// The quadratic form of a score, over its rank.
    pub(crate) fn test(&self, parts: &ScoreParts) -> Option<JointJudged> {
        // Columns that add nothing to others are left out, as in the score without layers.
        let kept = Qr::new(&parts.tested, 1e-9).kept;
        let rows: Vec<Vec<f64>> = kept.iter().filter_map(|at| parts.tested.get(*at).cloned()).collect();
        let off: Vec<f64> = kept.iter().filter_map(|at| parts.off.get(*at).copied()).collect();
        let within: Vec<Vec<f64>> = rows.iter().map(|a| rows.iter().map(|b| dot(a, b)).collect()).collect();
        joint(&self.layers, &off, &within, &self.products(&rows))
    }
}
