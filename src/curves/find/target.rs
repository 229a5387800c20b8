//! The strength for a wanted take, with profile, delta and Fieller limits.

use super::adequate::{Goal, Reaches, ends, lowest_of, reaches};
use super::averaged::take as take_at;
use super::best::{allowed_by, lowest_averaged};
use super::fieller::fieller;
use super::hull::hull;
use super::numbers::{StrengthFor, StrengthMethod};
use crate::control::Control;
use crate::curves::fit::{Curve, Fitted, Limits, Member, Spanned};
use crate::curves::shape::{Form, Shape};
use crate::error::Result;
use crate::math::special::{expit, logit};

/// The one shape of all members, or that they are several.
fn shape_of(members: &[(&Member, f64)]) -> String {
    let mut shapes: Vec<Shape> = members.iter().map(|(member, _)| member.fitted.form.shape).collect();
    shapes.dedup();
    match shapes.as_slice() {
        [one] => one.name().to_owned(),
        _ => "averaged over shapes".to_owned(),
    }
}

/// The lowest strength with a take on the one curve, or on the average of several.
fn lowest_with(curve: &Curve, members: &[(&Member, f64)], take: f64) -> Option<f64> {
    let goal = Goal::Take(take);
    match members {
        [(only, _)] => lowest_of(&only.fitted, &curve.data, goal),
        _ => lowest_averaged(curve, members, take, ends(&curve.data.axis, goal)),
    }
}

/// All methods for one curve.
pub(crate) fn strengths_for(
    curve: &Curve,
    name: &str,
    take: f64,
    level: f64,
    control: &Control,
) -> Result<Vec<StrengthFor>> {
    let members = curve.counting();
    let goal = Goal::Take(take);
    let value = lowest_with(curve, &members, take);
    let axis = &curve.data.axis;
    // What lies farther out has been seen by no one.
    let farthest = BEYOND_TESTED * axis.high;
    let value = value.filter(|value| *value <= farthest);
    let seen = highest(curve, &members, (take, level));
    // A take within the limits of a strength is not ruled out, wherever the shapes' own limits end.
    let limits = if let Some((low, high)) = seen.possible.filter(|_| value.is_none()) {
        TakeLimits { low, high, or_never: true }
    } else {
        take_limits(curve, &members, take, level, control)?
    };
    let ended = |value: Option<f64>, high: f64| seen.end(value, if high > farthest { f64::INFINITY } else { high });
    let (high, ends) = ended(value, value.map_or(limits.high, |value| limits.high.max(value)));
    let without = || take_at(curve, &members, 0.0, level);
    let outside = |value: Option<f64>| value.is_some_and(|value| value < axis.low || value > axis.high);
    let mut found = vec![StrengthFor {
        curve: name.to_owned(),
        method: StrengthMethod::Profile,
        shape: shape_of(&members),
        value,
        low: value.map_or(limits.low.min(axis.high), |value| limits.low.min(value)),
        high,
        or_never: limits.or_never || ends,
        falls: seen.falls,
        outside: outside(value),
        without: (axis.low <= 0.0).then(without).map(|one| [one.value, one.low, one.high]),
        highest: value.is_none().then_some(seen.most),
        lack_p: curve.lack_p(),
    }];
    let Some(lead) = curve.members.first() else { return Ok(found) };
    let own = lowest_of(&lead.fitted, &curve.data, goal).filter(|value| *value <= farthest);
    let mut push = |method: StrengthMethod, low: f64, high: f64| {
        let (high, or_never) = ended(own, high);
        found.push(StrengthFor {
            curve: name.to_owned(),
            method,
            shape: lead.fitted.form.shape.name().to_owned(),
            value: own,
            low,
            high,
            or_never,
            falls: seen.falls,
            outside: outside(own),
            without: None,
            highest: None,
            lack_p: None,
        });
    };
    if let Some((low, high)) = own.and_then(|value| delta(&lead.fitted, curve, value, curve.judge.critical(level))) {
        push(StrengthMethod::Delta, low, high);
    }
    // Fieller's line has one variance: over bays it would need another for its level. Where the line falls it is the last strength with the take.
    if let Some(open) = fieller(&lead.fitted, &curve.data, &curve.judge, take, level)
        .filter(|_| curve.judge.level_variance <= 0.0)
        .filter(|open| own.is_some_and(|own| open.low <= own && own <= open.high))
    {
        push(StrengthMethod::Fieller, open.low, open.high);
    }
    Ok(found)
}

/// A strength farther above the highest tested, as a factor, is told by the shape of a curve alone.
const BEYOND_TESTED: f64 = 1.5;

/// Steps over the tested range in which the highest take is looked for.
const STEPS: u32 = 200;

/// A curve that ends lower than its highest take by at least this much falls again.
const FALL: f64 = 0.005;

/// What the averaged curve shows within the tested strengths.
struct Seen {
    /// The strength with the highest take, that take and its limits.
    most: [f64; 4],
    /// From where to where the limits of the take hold the wanted one, where they do.
    possible: Option<(f64, f64)>,
    falls: bool,
}

impl Seen {
    /// An upper limit, and whether the take may else never be reached: a curve that falls again reaches it no farther out than where it is
    /// still possible.
    fn end(&self, value: Option<f64>, high: f64) -> (f64, bool) {
        if high.is_finite() || !self.falls {
            return (high, false);
        }
        let end = self.possible.map_or(f64::INFINITY, |(_, last)| value.map_or(last, |value| last.max(value)));
        (end, true)
    }
}

/// The highest take within the tested strengths, and where `wanted` is possible.
fn highest(curve: &Curve, members: &[(&Member, f64)], (wanted, level): (f64, f64)) -> Seen {
    let axis = &curve.data.axis;
    let (from, to) = (axis.place(axis.low).t, axis.place(axis.high).t);
    // The last step is the highest strength itself, without rounding.
    let at = |step: u32| match step {
        STEPS => axis.high,
        _ => axis.strength(from + (to - from) * f64::from(step) / f64::from(STEPS)),
    };
    let make = || {
        let one = |strength: f64| (strength, take_at(curve, members, strength, level));
        (0..=STEPS).map(at).map(one).collect()
    };
    curve.cache.takes(level, make, |takes| seen_of(takes, (axis.low, wanted)))
}

fn seen_of(takes: &[(f64, Spanned)], (lowest, wanted): (f64, f64)) -> Seen {
    let mut seen = Seen { most: [lowest, f64::NEG_INFINITY, 0.0, 0.0], possible: None, falls: false };
    let mut last = f64::NEG_INFINITY;
    for (strength, take) in takes {
        if take.value > seen.most[1] {
            seen.most = [*strength, take.value, take.low, take.high];
        }
        if take.high >= wanted {
            seen.possible = Some((seen.possible.map_or(*strength, |(first, _)| first), *strength));
        }
        last = take.value;
    }
    seen.falls = seen.most[1] - last >= FALL;
    seen
}

/// Where the take may be reached first.
#[derive(Debug, Clone, Copy, PartialEq)]
struct TakeLimits {
    /// 0 where the lower end is open.
    low: f64,
    /// Infinite where the upper end is open.
    high: f64,
    or_never: bool,
}

/// Profile limits of the lowest strength with a take, over places as well where these carry the level: of each level of the curve within the
/// reach of the places, what the strengths allow of the squared reach that is left.
fn take_limits(
    curve: &Curve,
    members: &[(&Member, f64)],
    take: f64,
    level: f64,
    control: &Control,
) -> Result<TakeLimits> {
    const ANGLES: [f64; 9] = [-1.45, -1.1, -0.75, -0.375, 0.0, 0.375, 0.75, 1.1, 1.45];
    let axis = &curve.data.axis;
    let mut all: Vec<Limits> = Vec::new();
    let mut or_never = false;
    let mut add = |take: f64, level: f64| -> Result<()> {
        let goal = Goal::Take(take);
        for one in reaches(curve, members, goal, level, control)? {
            or_never |= one.never;
            // A shape that reaches it nowhere has no place for it.
            if !one.nowhere(axis, goal) {
                all.push(not_past_the_top(curve, &one, control)?);
            }
        }
        Ok(())
    };
    if curve.judge.level_variance <= 0.0 {
        add(take, level)?;
    } else {
        let reach = curve.judge.critical(level);
        for angle in ANGLES {
            let moved = expit(logit(take) + curve.judge.level_variance.sqrt() * reach * angle.sin());
            add(moved, curve.judge.level_of(reach * angle.cos()))?;
        }
    }
    if all.is_empty() {
        return Ok(TakeLimits { low: f64::INFINITY, high: f64::INFINITY, or_never: true });
    }
    let (low, high) = hull(&all);
    // 0 and infinity where an end stays open.
    let strength = |t: f64| axis.strength(t);
    Ok(TakeLimits { low: low.map_or(0.0, strength), high: high.map_or(f64::INFINITY, strength), or_never })
}

/// A shape with a top reaches a take first before it, so no later than where that top may lie.
fn not_past_the_top(curve: &Curve, one: &Reaches<'_>, control: &Control) -> Result<Limits> {
    let shape = one.member.fitted.form.shape;
    let (low, high) = one.limits;
    if high.is_some() || !shape.has_top() {
        return Ok(one.limits);
    }
    let (_, top) = allowed_by(curve, one.member, one.most, control)?;
    Ok((low, top.map(|strength| curve.data.axis.place(strength).t)))
}

/// Limits by the first-order standard error, on `ln d` (shapes in ln d) or on `ln(1 + d / d0)` (all others).
fn delta(fitted: &Fitted, curve: &Curve, value: f64, critical: f64) -> Option<(f64, f64)> {
    let data = &curve.data;
    let Form { shape, .. } = fitted.form;
    let axis = &data.axis;
    let on_log = shape.location().is_some_and(|(_, on_x)| !on_x);
    let place = axis.place(value);
    let step = 1e-5;
    let rate = |by: f64| {
        let strength = if on_log { value * by.exp() } else { axis.strength(place.t + by) };
        fitted.rate(data, strength)
    };
    let slope = (rate(step) - rate(-step)) / (2.0 * step);
    let (take, slopes) = fitted.seen(data, value);
    let of_level = curve.judge.level_variance.sqrt() * take * (1.0 - take);
    let of_take = if of_level > 0.0 { fitted.se(&slopes).hypot(of_level) } else { fitted.se(&slopes) };
    let se = of_take / slope;
    if !(se.is_finite() && se > 0.0) || value <= 0.0 {
        return None;
    }
    let reach = critical * se;
    Some(if on_log {
        (value * (-reach).exp(), value * reach.exp())
    } else {
        (axis.strength(place.t - reach), axis.strength(place.t + reach))
    })
}
