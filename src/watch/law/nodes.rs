//! Where laws are worked out along the logit, and with what weights they are mixed: normal layers about several centres.

use std::sync::OnceLock;

use crate::math::special::{Rule, gauss_hermite};

/// A normal layer of the logit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Layer {
    /// Its centre.
    pub(super) centre: f64,
    /// Its standard deviation; 0 where there is no layer.
    pub(super) width: f64,
}

/// Shifts of the logit, and the weight of each in every layer.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Nodes {
    /// The shifts.
    pub(super) shifts: Vec<f64>,
    /// For each layer the weights of all shifts; they add up to 1.
    pub(super) weights: Vec<Vec<f64>>,
}

/// A layer at least this many steps wide is summed over a common grid: the trapezoid rule, exact but for exp(-2 pi^2 0.8^2) = 3e-6.
const WIDE: f64 = 0.8;
/// Widths of a layer that are looked at: what lies beyond is 1e-7 of it.
const REACH: f64 = 5.3;
/// Points of a layer too narrow for the grid.
const NARROW: usize = 5;
/// Points of an outer layer.
const OUTER: usize = 7;

fn rule(points: usize) -> &'static Rule {
    static RULES: [OnceLock<Rule>; 2] = [const { OnceLock::new() }; 2];
    let [narrow, outer] = &RULES;
    let slot = if points == NARROW { narrow } else { outer };
    slot.get_or_init(|| gauss_hermite(points))
}

/// The points of a layer and their weights: a Gauss rule, or its centre alone where it has no width.
pub(super) fn points(layer: Layer) -> Vec<(f64, f64)> {
    by_rule(layer, OUTER)
}

fn by_rule(layer: Layer, count: usize) -> Vec<(f64, f64)> {
    if layer.width <= 0.0 {
        return vec![(layer.centre, 1.0)];
    }
    let rule = rule(count);
    let at = |node: &f64| layer.width * node + layer.centre;
    rule.nodes.iter().map(at).zip(rule.weights.iter().copied()).collect()
}

/// A finer step where one grid for all layers has fewer points than those that are too narrow would have of their own.
fn finer(layers: &[Layer], step: f64) -> f64 {
    let narrow = || layers.iter().filter(|layer| layer.width > 0.0 && layer.width < WIDE * step);
    let smallest = narrow().map(|layer| layer.width).fold(f64::INFINITY, f64::min);
    let low = layers.iter().map(|layer| layer.centre - REACH * layer.width).fold(f64::INFINITY, f64::min);
    let high = layers.iter().map(|layer| layer.centre + REACH * layer.width).fold(f64::NEG_INFINITY, f64::max);
    let own = (NARROW * narrow().count()) as f64;
    // Touched up by rounding's share, so that the layer counts as wide.
    let fine = smallest / WIDE * (1.0 - 1e-9);
    if fine > 0.0 && fine < step && (high - low) / fine < own { fine } else { step }
}

impl Nodes {
    /// Shifts for these layers: one grid of steps of `step` for those that are wide enough, points of their own for the others.
    pub(super) fn new(layers: &[Layer], step: f64) -> Self {
        let step = finer(layers, step);
        let is_wide = |layer: &&Layer| layer.width >= WIDE * step;
        let end = |sign: f64| {
            let ends = layers.iter().filter(is_wide).map(|layer| (layer.centre + sign * REACH * layer.width) / step);
            if sign < 0.0 {
                ends.fold(f64::INFINITY, f64::min).floor()
            } else {
                ends.fold(f64::NEG_INFINITY, f64::max).ceil()
            }
        };
        let (low, high) = (end(-1.0), end(1.0));
        let mut shifts: Vec<f64> =
            if low <= high { (low as i64..=high as i64).map(|i| i as f64 * step).collect() } else { Vec::new() };
        let grid = shifts.len();
        let narrow: Vec<(usize, Vec<(f64, f64)>)> = (0..)
            .zip(layers)
            .filter(|(_, layer)| !is_wide(layer))
            .map(|(place, layer)| (place, by_rule(*layer, NARROW)))
            .collect();
        shifts.extend(narrow.iter().flat_map(|(_, points)| points.iter().map(|(shift, _)| *shift)));
        let mut weights: Vec<Vec<f64>> = layers.iter().map(|_| vec![0.0; shifts.len()]).collect();
        for (layer, weights) in layers.iter().zip(&mut weights).filter(|(layer, _)| is_wide(layer)) {
            let height = |shift: &f64| (-0.5 * ((shift - layer.centre) / layer.width).powi(2)).exp();
            let total: f64 = shifts.iter().take(grid).map(height).sum();
            weights
                .iter_mut()
                .zip(shifts.iter().take(grid))
                .for_each(|(weight, shift)| *weight = height(shift) / total);
        }
        let mut from = grid;
        for (place, points) in &narrow {
            if let Some(own) = weights.get_mut(*place).and_then(|weights| weights.get_mut(from..)) {
                own.iter_mut().zip(points).for_each(|(weight, (_, share))| *weight = *share);
            }
            from += points.len();
        }
        Self { shifts, weights }
    }
}
