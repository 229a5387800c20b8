//! A function of one number, known at Chebyshev points of a stretch.
//!
//! # References
//! Berrut & Trefethen 2004, SIAM Review 46:501-517 (barycentric formula).

use super::points::SHIFTS;

/// Position of the average over shifts among the rows of values.
pub(crate) const AVERAGE: usize = SHIFTS;

/// Chebyshev points of the second kind between two ends, which crowd towards both.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Panel {
    pub low: f64,
    pub high: f64,
    scores: Vec<f64>,
    /// Values at the points, for each shift and their average.
    values: Vec<Vec<f64>>,
}

impl Panel {
    pub(crate) fn new(low: f64, high: f64, count: usize) -> Self {
        let count = count.max(2);
        let angle = |k: usize| std::f64::consts::PI * k as f64 / (count - 1) as f64;
        let scores = (0..count).map(|k| low + 0.5 * (high - low) * (1.0 - angle(k).cos())).collect();
        Self { low, high, scores, values: vec![Vec::new(); SHIFTS + 1] }
    }

    pub(crate) fn scores(&self) -> &[f64] {
        &self.scores
    }

    /// Takes the values of the next point, one per shift.
    pub(crate) fn push(&mut self, means: &[f64]) {
        let average = means.iter().sum::<f64>() / means.len() as f64;
        for (row, value) in self.values.iter_mut().zip(means.iter().chain(std::iter::once(&average))) {
            row.push(*value);
        }
    }

    /// The function at a score within the stretch (its end value beyond), for one shift or the average.
    pub(crate) fn at(&self, score: f64, row: usize) -> f64 {
        let values = self.values.get(row).map_or(&[][..], Vec::as_slice);
        if score >= self.high {
            return values.last().copied().unwrap_or(f64::NAN);
        }
        let last = self.scores.len().saturating_sub(1);
        let (mut top, mut bottom) = (0.0, 0.0);
        for (k, (node, value)) in self.scores.iter().zip(values).enumerate() {
            let gap = score - node;
            if gap == 0.0 {
                return *value;
            }
            let end = if k == 0 || k == last { 0.5 } else { 1.0 };
            let weight = if k % 2 == 0 { end } else { -end } / gap;
            top += weight * value;
            bottom += weight;
        }
        top / bottom
    }
}
