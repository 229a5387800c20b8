//! Fits under a condition: one coordinate held, or a figure of the curve held at a value.

use super::axis::Data;
use super::beside::climb;
use super::fit::Fitted;
use super::likelihood::Likelihood;
use crate::control::Control;
use crate::error::Result;
use crate::math::bounded::{Point, Region, Surface, Top};
use crate::math::linalg::add_scaled;

const ENOUGH: f64 = 1e-14;
/// The same under a law of the trays, whose steps are dear.
const ENOUGH_OF_LAW: f64 = 1e-9;
/// How near every search comes to its top before the highest is followed further.
const ROUGH: f64 = 1e-5;

/// A condition `gap(theta) = 0`, with its slopes.
pub(super) trait Condition {
    /// The gap, and its slopes by all coordinates.
    fn gap(&self, theta: &[f64], slopes: &mut Vec<f64>) -> f64;
}

/// A fit with one coordinate held at different values, one after the other.
pub(super) struct Held<'a> {
    fitted: &'a Fitted,
    likelihood: Likelihood<'a>,
    region: Region,
    j: usize,
    spreads: Vec<usize>,
    /// Where the last search ended.
    near: Vec<f64>,
}

impl<'a> Held<'a> {
    pub(super) fn new(fitted: &'a Fitted, data: &'a Data, j: usize) -> Self {
        let mut region = fitted.region.clone();
        region.free.retain(|k| *k != j);
        let likelihood = Likelihood::of(data, fitted.form);
        let spreads = likelihood.spreads(fitted.theta.len());
        Self { fitted, likelihood, region, j, spreads, near: fitted.theta.clone() }
    }

    /// Twice the fall of the log-likelihood when the coordinate is held at `value`.
    pub(super) fn fall(&mut self, value: f64, control: &Control) -> Result<f64> {
        for end in [self.region.low.get_mut(self.j), self.region.high.get_mut(self.j)].into_iter().flatten() {
            *end = value;
        }
        let mut best: Option<Top> = None;
        let starts = [&self.near, &self.fitted.theta].into_iter().chain(&self.fitted.others);
        for start in starts {
            let top = climb(&mut self.likelihood, start, (&self.region, &self.spreads), ROUGH, control)?;
            if best.as_ref().is_none_or(|best| top.local.value > best.local.value) {
                best = Some(top);
            }
        }
        let Some(best) = best else { return Ok(f64::NAN) };
        let enough = self.likelihood.enough(ENOUGH, ENOUGH_OF_LAW);
        let top = climb(&mut self.likelihood, &best.at, (&self.region, &self.spreads), enough, control)?;
        self.near = top.at;
        Ok((2.0 * (self.fitted.loglik - top.local.value)).max(0.0))
    }
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
    slopes: Vec<f64>,
}

impl<C: Condition> Surface for Augmented<'_, C> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        self.likelihood.local(at, into);
        let gap = self.condition.gap(at, &mut self.slopes);
        into.value -= self.multiplier * gap + 0.5 * self.stiffness * gap * gap;
        add_scaled(&mut into.gradient, -(self.multiplier + self.stiffness * gap), &self.slopes);
        for (row, slope) in into.rows_mut().zip(&self.slopes) {
            add_scaled(row, -self.stiffness * slope, &self.slopes);
        }
    }
}

/// Gap at which a condition counts as met, and the most rounds of multipliers.
const MET: f64 = 1e-9;
const ROUNDS: usize = 12;
/// Above this gap a condition cannot be met inside the box.
const MISSED: f64 = 1e-5;

/// Twice the fall of the log-likelihood under the condition, within `region`; infinite when it cannot be met. Beyond `far` a lower bound
/// is enough.
///
/// # References
/// Nocedal and Wright (2006), Numerical Optimization, section 17.3 (augmented Lagrangian).
pub(super) fn fall_under<C: Condition>(
    fitted: &Fitted,
    data: &Data,
    condition: &C,
    (region, far): (&Region, f64),
    control: &Control,
) -> Result<f64> {
    // Without a place of its own a shape's likelihood has one top.
    let starts = if fitted.form.shape.location().is_some() { 2 } else { 1 };
    let total: f64 = data.levels.iter().map(|level| level.stuck).sum();
    let mut best = f64::INFINITY;
    for start in around(fitted, region).into_iter().take(starts) {
        let likelihood = Likelihood::of(data, fitted.form);
        let spreads = likelihood.spreads(fitted.theta.len());
        let enough = likelihood.enough(ENOUGH, ENOUGH_OF_LAW);
        let (stiffness, slopes) = (1e4 * total, Vec::with_capacity(fitted.theta.len()));
        let mut augmented = Augmented { likelihood, condition, multiplier: 0.0, stiffness, slopes };
        let (mut at, mut gap) = (start, f64::INFINITY);
        for round in 0..ROUNDS {
            at = climb(&mut augmented, &at, (region, &spreads), enough, control)?.at;
            let left = condition.gap(&at, &mut Vec::new());
            // Without a multiplier yet, what is lost so far is the least that the condition costs.
            let lost = 2.0 * (fitted.loglik - likelihood.loglik(&at));
            if round == 0 && lost > far {
                best = best.min(lost);
                break;
            }
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
