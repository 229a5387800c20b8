//! The lowest strength that reaches a take: conditions on a curve, the place itself, its confidence.

use super::averaged::limits;
use super::axis::{Axis, Data};
use super::candidates::{Curve, Member};
use super::confine::{Condition, fall_under};
use super::curve::{Spot, best};
use super::fit::Fitted;
use super::likelihood::Form;
use super::shape::Shape;
use crate::control::Control;
use crate::error::Result;
use crate::math::bounded::Region;

/// What is to be reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Goal {
    /// This share of the best take within the tested range.
    Share(f64),
    /// This take.
    Take(f64),
}

/// "The goal is just reached at this strength."
struct Reached<'a> {
    form: Form,
    axis: &'a Axis,
    goal: Goal,
    strength: f64,
}

impl Condition for Reached<'_> {
    fn gap(&self, theta: &[f64]) -> (f64, Vec<f64>) {
        let here = self.form.at(theta, self.axis.place(self.strength));
        let mut slopes = here.slopes.get(..theta.len()).unwrap_or_default().to_vec();
        match self.goal {
            Goal::Take(take) => (here.mean - take, slopes),
            Goal::Share(share) => {
                let top = self.form.at(theta, self.axis.place(best(self.form, theta, self.axis)));
                crate::math::linalg::add_scaled(&mut slopes, -share, &top.slopes);
                (here.mean - share * top.mean, slopes)
            }
        }
    }
}

/// "The highest take of the curve, at any strength, is this."
struct Highest {
    form: Form,
    take: f64,
}

impl Condition for Highest {
    fn gap(&self, theta: &[f64]) -> (f64, Vec<f64>) {
        let at = match (self.form.shape, theta) {
            (Shape::Hump | Shape::RiseAndFall, [.., t]) => Spot { t: *t, z: 0.0 },
            (Shape::BrainCousens, [.., z]) => Spot { t: 0.0, z: *z },
            (Shape::Falling, _) => Spot { t: 0.0, z: f64::NEG_INFINITY },
            _ => Spot { t: 1e6, z: f64::INFINITY },
        };
        let mut here = self.form.at_spot(theta, at);
        if self.form.shape.rises() {
            // At infinite strength the share gained is 1.
            if let [floor, gain, ..] = theta {
                here.mean = floor + gain * (1.0 - floor);
                here.slopes = [1.0 - gain, 1.0 - floor, 0.0, 0.0];
            }
        }
        (here.mean - self.take, here.slopes.get(..theta.len()).unwrap_or_default().to_vec())
    }
}

/// Steps in which the lowest strength is looked for.
const STEPS: usize = 96;

/// How far beyond the highest strength a take is looked for: this many tested ranges on the axis of `ln(1 + d / d0)`.
pub(super) const BEYOND: f64 = 3.0;

/// The lowest strength at which the goal is reached, from `ends` on the axis `t`; `None` when it is not.
pub(super) fn lowest(rate: impl Fn(f64) -> f64, wanted: f64, axis: &Axis, ends: (f64, f64)) -> Option<f64> {
    let short = |t: f64| wanted - rate(axis.strength(t));
    let at = |i: usize| ends.0 + (ends.1 - ends.0) * i as f64 / STEPS as f64;
    let slack = 1e-12;
    let first = (0..=STEPS).find(|i| short(at(*i)) <= slack)?;
    if first == 0 {
        return Some(axis.strength(ends.0));
    }
    let root = crate::math::roots::brent(short, at(first - 1), at(first), 1e-13).ok();
    Some(axis.strength(root.unwrap_or_else(|| at(first))))
}

/// The ends of the axis `t` between which a goal is looked for: a share of the best within the tested range; a take from strength 0
/// on (or far below the lowest) to far above the highest.
pub(super) fn ends(axis: &Axis, goal: Goal) -> (f64, f64) {
    match goal {
        Goal::Share(_) => (0.0, 1.0),
        Goal::Take(_) => (axis.place(0.0).t, 1.0 + BEYOND),
    }
}

/// The lowest strength at which a fitted shape reaches the goal.
pub(super) fn lowest_of(fitted: &Fitted, data: &Data, goal: Goal) -> Option<f64> {
    let wanted = match goal {
        Goal::Take(take) => take,
        Goal::Share(share) => share * fitted.rate(data, best(fitted.form, &fitted.theta, &data.axis)),
    };
    // Strength 0 is a place of its own where the axis starts at it.
    lowest(|strength| fitted.rate(data, strength), wanted, &data.axis, ends(&data.axis, goal))
}

/// The region in which a curve still rises at `strength`.
fn rising_at(fitted: &Fitted, axis: &Axis, strength: f64) -> Region {
    let mut region = fitted.region.clone();
    if !fitted.form.shape.has_top() {
        return region;
    }
    if let Some((j, on_x)) = fitted.form.shape.location() {
        let place = axis.place(strength);
        let value = if on_x { place.on(fitted.form.on) } else { place.z };
        if let Some(low) = region.low.get_mut(j) {
            *low = low.max(value);
        }
        if let Some(high) = region.high.get_mut(j) {
            *high = high.max(value);
        }
    }
    region
}

/// One shape's say on where a goal is reached.
pub(super) struct Say<'a> {
    pub(super) member: &'a Member,
    pub(super) value: Option<f64>,
    /// Twice the fall of the likelihood when the take is never reached.
    never: f64,
}

impl<'a> Say<'a> {
    pub(super) fn new(member: &'a Member, curve: &Curve, goal: Goal, control: &Control) -> Result<Self> {
        let (fitted, data) = (&member.fitted, &curve.data);
        let value = lowest_of(fitted, data, goal);
        let never = match (goal, value) {
            (Goal::Take(take), Some(_)) if fitted.form.shape != Shape::Straight => {
                let condition = Highest { form: fitted.form, take };
                fall_under(fitted, data, &condition, &fitted.region, control)?
            }
            // A straight line that never reaches the take is at best level, below it.
            (Goal::Take(take), Some(_)) if curve.data.overall() < take => 2.0 * (fitted.loglik - curve.flat_loglik()),
            _ => f64::INFINITY,
        };
        Ok(Self { member, value, never })
    }

    /// Confidence that the goal is reached at or below `strength`.
    pub(super) fn confidence(&self, curve: &Curve, goal: Goal, strength: f64, control: &Control) -> Result<f64> {
        let fitted = &self.member.fitted;
        if matches!(fitted.form.shape, Shape::Flat | Shape::Falling) {
            let reached = self.value.is_some_and(|value| value <= strength);
            return Ok(match goal {
                Goal::Share(_) => 1.0,
                Goal::Take(_) => self.without_slope(curve, goal, reached),
            });
        }
        let axis = &curve.data.axis;
        let condition = Reached { form: fitted.form, axis, goal, strength };
        let region = rising_at(fitted, axis, strength);
        let fall = fall_under(fitted, &curve.data, &condition, &region, control)?;
        let reached = self.value.is_some_and(|value| value <= strength);
        let fall = if reached { fall.min(self.never) } else { fall };
        let root = fall.sqrt();
        Ok(curve.judge.cdf(if reached { root } else { -root }))
    }

    /// A shape that does not rise reaches a take from the start or never: by the distance of its highest take.
    fn without_slope(&self, curve: &Curve, goal: Goal, reached: bool) -> f64 {
        let Goal::Take(take) = goal else { return 1.0 };
        let fitted = &self.member.fitted;
        let condition = Highest { form: fitted.form, take };
        let fall = fall_under(fitted, &curve.data, &condition, &fitted.region, &Control::new());
        let root = fall.map_or(f64::INFINITY, f64::sqrt);
        curve.judge.cdf(if reached { root } else { -root })
    }
}

/// Limits on `t` of the lowest strength that reaches the goal, from the shapes' confidence averaged by their say.
pub(super) fn goal_limits(
    curve: &Curve,
    members: &[(&Member, f64)],
    goal: Goal,
    (level, tolerance): (f64, f64),
    control: &Control,
) -> Result<(Option<f64>, Option<f64>)> {
    let says = members.iter().map(|(member, w)| Ok((Say::new(member, curve, goal, control)?, *w)));
    let says: Vec<(Say<'_>, f64)> = says.collect::<Result<_>>()?;
    let axis = &curve.data.axis;
    let sure = |t: f64| -> Result<f64> {
        let strength = axis.strength(t);
        says.iter().try_fold(0.0, |sum, (say, w)| Ok(sum + w * say.confidence(curve, goal, strength, control)?))
    };
    limits(sure, ends(axis, goal), (level, tolerance))
}
