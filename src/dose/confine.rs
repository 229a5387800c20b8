//! Fits under a condition: one coordinate held, or a figure of the curve held at a value.

use super::axis::Data;
use super::fit::Fitted;
use super::likelihood::Likelihood;
use crate::control::Control;
use crate::error::Result;
use crate::math::bounded::{Region, maximise_within};
use crate::math::linalg::add_scaled;
use crate::math::optimize::{Local, Objective};

const ENOUGH: f64 = 1e-14;

/// A condition `gap(theta) = 0`, with its slopes.
pub(super) trait Condition {
    /// The gap and its slopes.
    fn gap(&self, theta: &[f64]) -> (f64, Vec<f64>);
}

/// Twice the fall of the log-likelihood when coordinate `j` is held at `value`.
pub(super) fn fall_held(fitted: &Fitted, data: &Data, j: usize, value: f64, control: &Control) -> Result<f64> {
    let mut region = fitted.region.clone();
    for end in [region.low.get_mut(j), region.high.get_mut(j)].into_iter().flatten() {
        *end = value;
    }
    region.free.retain(|k| *k != j);
    let mut likelihood = Likelihood { data, form: fitted.form };
    let mut best = f64::NEG_INFINITY;
    for start in around(fitted, &region) {
        let top = maximise_within(&mut likelihood, &start, &region, ENOUGH, control)?;
        best = best.max(top.local.value);
    }
    Ok((2.0 * (fitted.loglik - best)).max(0.0))
}

/// The fit itself and its other starts, inside the region.
fn around(fitted: &Fitted, region: &Region) -> Vec<Vec<f64>> {
    std::iter::once(&fitted.theta).chain(&fitted.others).map(|start| region.clip(start)).collect()
}

/// The likelihood less what the condition costs: a multiplier and a growing square.
struct Augmented<'a, C> {
    likelihood: Likelihood<'a>,
    condition: &'a C,
    multiplier: f64,
    stiffness: f64,
}

impl<C: Condition> Objective for Augmented<'_, C> {
    fn value(&mut self, at: &[f64]) -> f64 {
        let (gap, _) = self.condition.gap(at);
        self.likelihood.loglik(at) - self.multiplier * gap - 0.5 * self.stiffness * gap * gap
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let mut local = self.likelihood.local(at);
        let (gap, slopes) = self.condition.gap(at);
        local.value -= self.multiplier * gap + 0.5 * self.stiffness * gap * gap;
        add_scaled(&mut local.gradient, -(self.multiplier + self.stiffness * gap), &slopes);
        for (row, slope) in local.hessian.iter_mut().zip(&slopes) {
            add_scaled(row, -self.stiffness * slope, &slopes);
        }
        local
    }
}

/// Gap at which a condition counts as met, and the most rounds of multipliers.
const MET: f64 = 1e-9;
const ROUNDS: usize = 12;
/// Above this gap a condition cannot be met inside the box.
const MISSED: f64 = 1e-5;

/// Twice the fall of the log-likelihood under the condition, within `region`; infinite when it cannot be met.
///
/// # References
/// Nocedal and Wright (2006), Numerical Optimization, section 17.3 (augmented Lagrangian).
pub(super) fn fall_under<C: Condition>(
    fitted: &Fitted,
    data: &Data,
    condition: &C,
    region: &Region,
    control: &Control,
) -> Result<f64> {
    // Without a place of its own a shape's likelihood has one top.
    let starts = if fitted.form.shape.location().is_some() { 2 } else { 1 };
    let total: f64 = data.levels.iter().map(|level| level.stuck).sum();
    let mut best = f64::INFINITY;
    for start in around(fitted, region).into_iter().take(starts) {
        let likelihood = Likelihood { data, form: fitted.form };
        let mut augmented = Augmented { likelihood, condition, multiplier: 0.0, stiffness: 1e4 * total };
        let (mut at, mut gap) = (start, f64::INFINITY);
        for _ in 0..ROUNDS {
            at = maximise_within(&mut augmented, &at, region, ENOUGH, control)?.at;
            let left = condition.gap(&at).0;
            augmented.multiplier += augmented.stiffness * left;
            if left.abs() < MET {
                gap = left;
                break;
            }
            if left.abs() > 0.3 * gap.abs() {
                augmented.stiffness *= 10.0;
            }
            gap = left;
        }
        if gap.abs() < MISSED {
            best = best.min((2.0 * (fitted.loglik - likelihood.loglik(&at))).max(0.0));
        }
    }
    Ok(best)
}
