//! The lowest strength that reaches a take: conditions on a curve, the place itself, its confidence.

use rayon::prelude::*;

use super::hull::{Penalty, above, allowed, far, hull, within};
use crate::control::Control;
use crate::curves::fit::{Care, Confined, Curve, Data, Fitted, Limits, Member};
use crate::curves::shape::{Axis, Form, Shape, Spot, best};
use crate::error::Result;
use crate::math::dense::add_scaled;
use crate::math::search::{Condition, Region};

/// What is to be reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Goal {
    /// This share of the best take within the tested range.
    Share(f64),
    /// This take.
    Take(f64),
    /// This much more than at the lowest strength tested.
    Above(f64),
}

/// Takes below this are none.
const LEAST: f64 = 1e-12;

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
        if let Goal::Share(_) = self.goal {
            // On the log scale the condition does not vanish with the height of the curve.
            let (here, there) = (here.max(LEAST), there.max(LEAST));
            slopes.iter_mut().for_each(|slope| *slope /= here);
            add_scaled(slopes, -1.0 / there, &less);
            return (here / (share * there)).ln();
        }
        add_scaled(slopes, -share, &less);
        here - share * there - by
    }
}

/// The condition that the goal is just reached at a place, and the region in which the curve rises there.
fn reached<'a>(fitted: &Fitted, data: &'a Data, goal: Goal, t: f64) -> (Reached<'a>, Region) {
    let strength = data.axis.strength(t);
    (Reached { form: fitted.form, data, goal, strength }, rising_at(fitted, &data.axis, strength))
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

/// Twice the fall of the likelihood when the highest take of the curve is this, up to `far`.
fn fall_to(confined: &mut Confined<'_>, (take, far): (f64, f64), control: &Control) -> Result<f64> {
    let (fitted, data) = (&confined.member.fitted, confined.data);
    let make = |_| (Highest { form: fitted.form, data, take }, fitted.region.clone());
    confined.fall(&make, (0.0, far), Care::Check, control)
}

/// Steps in which the lowest strength is looked for.
const STEPS: usize = 96;

/// How far beyond the highest strength a take is looked for: this many tested ranges on the axis of `ln(1 + d / d0)`.
const BEYOND: f64 = 3.0;

/// The lowest strength at which the goal is reached, from `ends` on the axis `t`; `None` when it is not.
pub(crate) fn lowest(rate: impl Fn(f64) -> f64, wanted: f64, axis: &Axis, ends: (f64, f64)) -> Option<f64> {
    let short = |t: f64| wanted - rate(axis.strength(t));
    let at = |i: usize| ends.0 + (ends.1 - ends.0) * i as f64 / STEPS as f64;
    let slack = 1e-12;
    let first = (0..=STEPS).find(|i| short(at(*i)) <= slack)?;
    if first == 0 {
        return Some(axis.strength(ends.0));
    }
    let root = crate::math::search::brent(short, at(first - 1), at(first), 1e-13).ok();
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
        let fall = fall_to(&mut Confined::new(member, data, f64::NAN), (take, above(most)), control)?;
        return Ok(match (fall <= most, value) {
            (true, _) => ((None, None), true),
            (false, Some(_)) => ((None, Some(ends.0)), false),
            // Beyond the tested strengths such a curve says nothing.
            (false, None) => ((Some(1.0), None), true),
        });
    }
    let estimate = value.map_or(f64::INFINITY, |value| data.axis.place(value).t);
    let mut confined = Confined::new(member, data, estimate);
    let fall = |t: f64, care: Care| {
        let strength = data.axis.strength(t);
        let own_best = matches!(goal, Goal::Share(_)) && !fitted.form.shape.is_hormetic();
        if own_best && strength >= data.axis.high {
            // A curve that still rises at the highest strength has its best there.
            return Ok(f64::INFINITY);
        }
        let far = if care == Care::Check { above(most) } else { far(most) };
        confined.fall(&|t| reached(fitted, data, goal, t), (t, far), care, control)
    };
    let (low, high) = within(fall, estimate, ends, most)?;
    let never = value.is_none() || never(curve, &confined, (goal, most), control)? <= most;
    Ok(((low, high), never))
}

/// Twice the fall of the likelihood when the goal is never reached.
fn never(curve: &Curve, confined: &Confined<'_>, (goal, most): (Goal, f64), control: &Control) -> Result<f64> {
    let fitted = &confined.member.fitted;
    match goal {
        Goal::Take(take) if fitted.form.shape != Shape::Straight => {
            fall_to(&mut confined.otherwise(), (take, above(most)), control)
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
    allowed(curve, members, level, penalty).into_par_iter().map(one).collect()
}

/// Limits, as strengths, of the lowest strength that reaches the goal within the tested range.
pub(crate) fn goal_limits(
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

#[cfg(test)]
mod tests {
    use super::super::invented;
    use super::*;
    use crate::curves::fit::augmented;
    use approx::abs_diff_eq;

    /// Twice the fall where the goal is just reached at a strength, maximised anew: along the condition, and by another route, a multiplier and a
    /// growing square, each from several starts.
    fn fall(curve: &Curve, member: &Member, (goal, t): (Goal, f64)) -> f64 {
        let (fitted, data) = (&member.fitted, &curve.data);
        let (condition, region) = reached(fitted, data, goal, t);
        let moved = |by: f64| {
            let far = region.low.iter().zip(&region.high).map(|(low, high)| by * (high - low).min(4.0));
            let moved: Vec<f64> = fitted.theta.iter().zip(far).map(|(x, far)| x + far).collect();
            moved
        };
        // Under a law of the trays these searches are dear.
        let law = data.beside.as_ref().is_some_and(|beside| beside.has_law());
        let moved = if law { Vec::new() } else { vec![moved(0.03), moved(-0.03)] };
        let starts: Vec<Vec<f64>> = std::iter::once(fitted.theta.clone()).chain(moved).collect();
        let one = |start: &Vec<f64>| {
            let way = (&condition, &*region.clip(start), &region, f64::INFINITY);
            augmented(fitted, data, way, &Control::new()).unwrap().map_or(f64::INFINITY, |found| found.0)
        };
        // Ridges that no start is near to are followed in small steps, from the fit and from the end beyond.
        let home = lowest_of(fitted, data, goal).map_or(f64::NAN, |value| data.axis.place(value).t);
        let ends = ends(&data.axis, goal);
        let end = if t < home { ends.0 } else { ends.1 };
        let along = [home, end].into_iter().filter(|from| from.is_finite()).map(|from| {
            let mut confined = Confined::new(member, data, home);
            let mut held = |t: f64, care: Care| {
                confined.fall(&|t| reached(fitted, data, goal, t), (t, f64::INFINITY), care, &Control::new()).unwrap()
            };
            held(from, Care::Thorough);
            for step in 1..20 {
                held(from + (t - from) * f64::from(step) / 20.0, Care::Quick);
            }
            held(t, Care::Thorough)
        });
        let along = along.fold(f64::INFINITY, f64::min);
        starts.iter().chain(&fitted.others).map(one).fold(along, f64::min)
    }

    /// At each limit of the lowest strength that reaches a take, or a share of the best take, the statistic maximised anew is what the limit
    /// is held against: also under laws of the trays, with blocks taken out, and where strengths that root all or none are softened. Exempt are
    /// limits at the ends between which they are looked for, since what lies beyond was not asked, and shapes that never rise: theirs are such
    /// ends.
    #[test]
    fn the_statistic_at_every_limit_is_its_quantile() {
        let (mut checked, mut softened) = (0, 0);
        for (name, curve) in invented::curves(4) {
            let members = curve.counting();
            for goal in [Goal::Share(0.95), Goal::Take(0.5)] {
                let (low, high) = ends(&curve.data.axis, goal);
                for one in reaches(&curve, &members, goal, 0.95, &Control::new()).unwrap() {
                    if matches!(one.member.fitted.form.shape, Shape::Flat | Shape::Falling) {
                        continue;
                    }
                    let limits = [one.limits.0, one.limits.1].into_iter().flatten();
                    for t in limits.filter(|t| *t > low && *t < high) {
                        let (fall, most) = (fall(&curve, one.member, (goal, t)), one.most);
                        let what = format!("{name}, {} for {goal:?} at {t}", one.member.fitted.form.shape.name());
                        assert!(abs_diff_eq!(fall, most, epsilon = 1e-6 * (1.0 + most)), "{what}: {fall} for {most}");
                        checked += 1;
                        softened += usize::from(curve.data.is_softened());
                    }
                }
            }
        }
        assert!(checked >= 100 && softened >= 30, "{checked} limits, {softened} softened");
    }
}
