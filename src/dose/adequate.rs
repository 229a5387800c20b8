//! The lowest strength that reaches a take: conditions on a curve, the place itself, its confidence.

use super::axis::{Axis, Data};
use super::candidates::{Curve, Member};
use super::confine::{Condition, fall_under};
use super::curve::{Spot, best};
use super::fit::Fitted;
use super::hull::{Limits, Penalty, allowed, far, hull, within};
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
    /// This much more than at the lowest strength tested.
    Above(f64),
}

/// "The goal is just reached at this strength."
struct Reached<'a> {
    form: Form,
    data: &'a Data,
    goal: Goal,
    strength: f64,
}

impl Condition for Reached<'_> {
    fn gap(&self, theta: &[f64], slopes: &mut Vec<f64>) -> f64 {
        let (data, own) = (self.data, self.data.own(theta));
        let axis = &data.axis;
        let here = data.seen(theta, &self.form.at(own, axis.place(self.strength)), slopes);
        let (other, share, by) = match self.goal {
            Goal::Take(take) => return here - take,
            Goal::Above(by) => (axis.low, 1.0, by),
            Goal::Share(share) => (best(self.form, own, axis), share, 0.0),
        };
        let mut less = Vec::with_capacity(theta.len());
        let there = data.seen(theta, &self.form.at(own, axis.place(other)), &mut less);
        crate::math::linalg::add_scaled(slopes, -share, &less);
        here - share * there - by
    }
}

/// "The highest take of the curve, at any strength, is this."
struct Highest<'a> {
    form: Form,
    data: &'a Data,
    take: f64,
}

impl Condition for Highest<'_> {
    fn gap(&self, theta: &[f64], slopes: &mut Vec<f64>) -> f64 {
        let own = self.data.own(theta);
        let (t, z) = match (self.form.shape, own) {
            (Shape::Hump | Shape::RiseAndFall, [.., t]) => (*t, 0.0),
            (Shape::BrainCousens | Shape::Cedergreen, [.., z]) => (0.0, *z),
            (Shape::Falling, _) => (0.0, f64::NEG_INFINITY),
            _ => (1e6, f64::INFINITY),
        };
        let mut here = self.form.at_spot(own, Spot { t, z, ln_d0: self.data.axis.ln_d0() });
        if self.form.shape.rises() {
            // At infinite strength the share gained is 1.
            if let [floor, gain, ..] = own {
                here.mean = floor + gain * (1.0 - floor);
                here.slopes = [1.0 - gain, 1.0 - floor, 0.0, 0.0];
            }
        }
        self.data.seen(theta, &here, slopes) - self.take
    }
}

fn highest<'a>(fitted: &Fitted, data: &'a Data, take: f64) -> Highest<'a> {
    Highest { form: fitted.form, data, take }
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

/// The ends of the axis `t` between which a goal is looked for: a share of the best and a rise within the tested range; a take from strength 0
/// on (or far below the lowest) to far above the highest.
pub(super) fn ends(axis: &Axis, goal: Goal) -> (f64, f64) {
    match goal {
        Goal::Share(_) | Goal::Above(_) => (0.0, 1.0),
        Goal::Take(_) => (axis.place(0.0).t, 1.0 + BEYOND),
    }
}

/// The lowest strength at which a fitted shape reaches the goal.
pub(super) fn lowest_of(fitted: &Fitted, data: &Data, goal: Goal) -> Option<f64> {
    let wanted = match goal {
        Goal::Take(take) => take,
        Goal::Share(share) => share * fitted.rate(data, best(fitted.form, fitted.own(), &data.axis)),
        Goal::Above(by) => fitted.rate(data, data.axis.low) + by,
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

/// Where one shape allows the goal to be reached first.
pub(super) struct Reaches<'a> {
    pub(super) member: &'a Member,
    /// By how much it may fall.
    pub(super) most: f64,
    /// Places on `t`. An open upper end says that the goal may be reached beyond it.
    pub(super) limits: Limits,
    /// True where the shape allows that the goal is never reached.
    pub(super) never: bool,
}

impl Reaches<'_> {
    /// True where the shape rules the goal out at every strength.
    pub(super) fn nowhere(&self, axis: &Axis, goal: Goal) -> bool {
        self.limits.0.is_some_and(|low| low >= ends(axis, goal).1)
    }
}

/// The places on `t` where one shape allows the goal to be reached first, within a fall of `most`, and whether it may never be.
fn allowed_by(curve: &Curve, member: &Member, goal: Goal, most: f64, control: &Control) -> Result<(Limits, bool)> {
    let (fitted, data) = (&member.fitted, &curve.data);
    let ends = ends(&data.axis, goal);
    let value = lowest_of(fitted, data, goal);
    let falls =
        fitted.form.shape == Shape::Straight && fitted.rate(data, data.axis.low) > fitted.rate(data, data.axis.high);
    if matches!(fitted.form.shape, Shape::Flat | Shape::Falling) || (falls && matches!(goal, Goal::Share(_))) {
        let take = match goal {
            Goal::Take(take) => take,
            Goal::Share(_) => return Ok(((None, Some(ends.0)), false)),
            // Without a rise there is none of any size.
            Goal::Above(_) => return Ok(((Some(ends.1), None), true)),
        };
        let fall = fall_under(fitted, data, &highest(fitted, data, take), (&fitted.region, far(most)), control)?;
        return Ok(match (fall <= most, value) {
            (true, _) => ((None, None), true),
            (false, Some(_)) => ((None, Some(ends.0)), false),
            // Beyond the tested strengths such a curve says nothing.
            (false, None) => ((Some(1.0), None), true),
        });
    }
    let fall = |t: f64| {
        let strength = data.axis.strength(t);
        let condition = Reached { form: fitted.form, data, goal, strength };
        fall_under(fitted, data, &condition, (&rising_at(fitted, &data.axis, strength), far(most)), control)
    };
    let estimate = value.map_or(f64::INFINITY, |value| data.axis.place(value).t);
    let (low, high) = within(fall, estimate, ends, most)?;
    let never = value.is_none() || never(curve, fitted, (goal, most), control)? <= most;
    Ok(((low, high), never))
}

/// Twice the fall of the likelihood when the goal is never reached.
fn never(curve: &Curve, fitted: &Fitted, (goal, most): (Goal, f64), control: &Control) -> Result<f64> {
    match goal {
        Goal::Take(take) if fitted.form.shape != Shape::Straight => {
            let data = &curve.data;
            fall_under(fitted, data, &highest(fitted, data, take), (&fitted.region, far(most)), control)
        }
        // A straight line that never reaches the take is at best level, below it.
        Goal::Take(take) if curve.data.overall() < take => Ok(2.0 * (fitted.loglik - curve.flat_loglik(control)?)),
        _ => Ok(f64::INFINITY),
    }
}

/// Where each shape that has a say allows the goal to be reached first.
pub(super) fn reaches<'a>(
    curve: &Curve,
    members: &[(&'a Member, f64)],
    goal: Goal,
    level: f64,
    control: &Control,
) -> Result<Vec<Reaches<'a>>> {
    // A rise of a few trees per 100 lies where shapes differ most: a line that is as likely as a curve names strengths that are too low.
    let penalty = if matches!(goal, Goal::Above(_)) { Penalty::OneEach } else { Penalty::Akaike };
    let one = |(member, most): (&'a Member, f64)| {
        let (limits, never) = allowed_by(curve, member, goal, most, control)?;
        Ok(Reaches { member, most, limits, never })
    };
    allowed(curve, members, level, penalty).into_iter().map(one).collect()
}

/// Limits, as strengths, of the lowest strength that reaches the goal within the tested range.
pub(super) fn goal_limits(
    curve: &Curve,
    members: &[(&Member, f64)],
    goal: Goal,
    level: f64,
    control: &Control,
) -> Result<Limits> {
    let each: Vec<Limits> = reaches(curve, members, goal, level, control)?.into_iter().map(|one| one.limits).collect();
    let (low, high) = hull(&each);
    let strength = |t: f64| curve.data.axis.strength(t);
    Ok((low.map(strength), high.map(strength)))
}
