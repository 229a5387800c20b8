//! What a tree costs that reaches the end, where costs of steps are given.

use super::judged::Judged;
use super::takes::Takes;
use super::yields::limits;

/// Cost of a tree at the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::steps) struct TreeCost {
    /// Cost of each started plant, the steps that it reaches among them.
    pub(in crate::steps) started: f64,
    /// Cost of each tree that reaches the end.
    pub(in crate::steps) value: f64,
    /// Its lower limit.
    pub(in crate::steps) low: f64,
    /// Its upper limit; None where it has no end.
    pub(in crate::steps) high: Option<f64>,
}

/// The cost of a tree at the end. `costs` has what is spent on each started plant, then on each plant that comes to a step.
///
/// With costs `c_0 .. c_S` and takes `p` a tree costs `sum_s c_s / (p_s .. p_S)`, where `c_0` and `c_1` share the first take. What a tree
/// would cost without a loss over that is a share, of the money that goes into trees which reach the end: it has limits as a
/// yield has them, and is the yield where all is spent at the start. None where no tree reaches the end or nothing is spent.
pub(in crate::steps) fn tree_cost(known: &Takes, costs: &[f64], confidence: f64) -> Option<TreeCost> {
    let whole: f64 = costs.iter().sum();
    let product = known.product();
    if whole <= 0.0 || product <= 0.0 {
        return None;
    }
    // From each column on: the start and the first step begin at the first take.
    let onward = |at: usize| -> f64 { known.takes.iter().skip(at.saturating_sub(1)).product() };
    let value: f64 = costs.iter().enumerate().map(|(at, cost)| cost / onward(at)).sum();
    let share = whole / value;
    let slope = |step: usize, take: &f64| {
        let passed = costs.iter().enumerate().filter(|(at, _)| at.saturating_sub(1) <= step);
        share / value * passed.map(|(at, cost)| cost / (onward(at) * take)).sum::<f64>()
    };
    let weights: Vec<f64> = known.takes.iter().enumerate().map(|(step, take)| slope(step, take)).collect();
    let at_start = costs.iter().skip(2).all(|cost| *cost == 0.0);
    let judged: Judged = if at_start { known.whole() } else { known.combined(&weights, share, known.started()) };
    let (low, high) = limits(share, judged, confidence);
    Some(TreeCost { started: value * product, value, low: whole / high, high: (low > 0.0).then(|| whole / low) })
}
