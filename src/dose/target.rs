//! The strength for a wanted take, with profile, delta and Fieller limits.

use serde::{Deserialize, Serialize};

use super::adequate::{Goal, ends, goal_limits, lowest_of};
use super::best::lowest_averaged;
use super::candidates::{Curve, Member};
use super::fieller::fieller;
use super::fit::Fitted;
use super::hull::{Limits, hull};
use super::likelihood::Form;
use super::shape::Shape;
use crate::control::Control;
use crate::error::Result;
use crate::math::special::{expit, logit};

/// A strength for a wanted take by one method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StrengthFor {
    /// The curve's name.
    pub curve: String,
    /// "profile", "delta" or "fieller".
    pub method: String,
    /// The shape, or "averaged over shapes".
    pub shape: String,
    /// The lowest strength with that take; none when the curve does not reach it.
    pub value: Option<f64>,
    /// Lower limit.
    pub conf_low: f64,
    /// Upper limit, infinite when the take may never be reached.
    pub conf_high: f64,
    /// True when the value lies outside the tested strengths.
    pub outside: bool,
    /// The take at strength 0 with its limits, where that was tested; of the leading method.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub without: Option<[f64; 3]>,
    /// The strength where the take is highest within what was tested, that take and its limits, where the wanted one is not reached;
    /// of the leading method.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub highest: Option<[f64; 4]>,
    /// P of the likeliest shape's lack of fit; of the leading method.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lack_p_value: Option<f64>,
}

/// The one shape of all members, or that they are several.
fn shape_of(members: &[(&Member, f64)]) -> String {
    let mut shapes: Vec<Shape> = members.iter().map(|(member, _)| member.fitted.form.shape).collect();
    shapes.dedup();
    match shapes.as_slice() {
        [one] => one.name().to_owned(),
        _ => "averaged over shapes".to_owned(),
    }
}

/// All methods for one curve.
pub(super) fn strengths_for(
    curve: &Curve,
    name: &str,
    take: f64,
    level: f64,
    control: &Control,
) -> Result<Vec<StrengthFor>> {
    let members = curve.counting();
    let goal = Goal::Take(take);
    let (from, to) = ends(&curve.data.axis, goal);
    let (value, shape) = match members.as_slice() {
        [(only, _)] => (lowest_of(&only.fitted, &curve.data, goal), only.fitted.form.shape.name().to_owned()),
        _ => (lowest_averaged(curve, &members, take, (from, to)), shape_of(&members)),
    };
    let (low, high) = take_limits(curve, &members, take, level, control)?;
    // 0 and infinity where an end stays open.
    let (low, high) = (low.unwrap_or(0.0), high.unwrap_or(f64::INFINITY));
    let axis = &curve.data.axis;
    let highest = value.is_none().then(|| highest(curve, &members, level));
    // A take within the limits of the highest is not ruled out, wherever the shapes' own limits end.
    let (low, high) =
        if highest.is_some_and(|[_, _, _, most]| take <= most) { (0.0, f64::INFINITY) } else { (low, high) };
    let without = (axis.low <= 0.0).then(|| super::averaged::take(curve, &members, 0.0, level));
    let outside = |value: Option<f64>| value.is_some_and(|value| value < axis.low || value > axis.high);
    let mut found = vec![StrengthFor {
        curve: name.to_owned(),
        method: "profile".to_owned(),
        shape,
        value,
        conf_low: value.map_or(low, |value| low.min(value)),
        conf_high: value.map_or(high, |value| high.max(value)),
        outside: outside(value),
        without: without.map(|one| [one.value, one.low, one.high]),
        highest,
        lack_p_value: curve.members.first().and_then(|lead| lead.lack_p),
    }];
    let Some(lead) = curve.members.first() else { return Ok(found) };
    let own = lowest_of(&lead.fitted, &curve.data, goal);
    let mut push = |method: &str, conf_low: f64, conf_high: f64| {
        found.push(StrengthFor {
            curve: name.to_owned(),
            method: method.to_owned(),
            shape: lead.fitted.form.shape.name().to_owned(),
            value: own,
            conf_low,
            conf_high,
            outside: outside(own),
            without: None,
            highest: None,
            lack_p_value: None,
        });
    };
    if let Some((low, high)) = own.and_then(|value| delta(&lead.fitted, curve, value, curve.judge.critical(level))) {
        push("delta", low, high);
    }
    // Fieller's line has one variance: over bays it would need another for its level.
    if let Some(open) =
        fieller(&lead.fitted, &curve.data, &curve.judge, take, level).filter(|_| curve.judge.level <= 0.0)
    {
        push("fieller", open.low, open.high);
    }
    Ok(found)
}

/// Steps over the tested range in which the highest take is looked for.
const STEPS: u32 = 200;

/// The strength with the highest take within the tested range, that take and its limits.
fn highest(curve: &Curve, members: &[(&Member, f64)], level: f64) -> [f64; 4] {
    let axis = &curve.data.axis;
    let (from, to) = (axis.place(axis.low).t, axis.place(axis.high).t);
    let at = |step: u32| axis.strength(from + (to - from) * f64::from(step) / f64::from(STEPS));
    let take = |strength: f64| super::averaged::take(curve, members, strength, level);
    let better = |best: Option<(f64, f64)>, strength: f64| {
        let value = take(strength).value;
        if best.is_some_and(|(_, known)| known >= value) { best } else { Some((strength, value)) }
    };
    let strength = (0..=STEPS).map(at).fold(None, better).map_or(axis.low, |(strength, _)| strength);
    let found = take(strength);
    [strength, found.value, found.low, found.high]
}

/// Profile limits of the lowest strength with a take, over bays as well where these carry the level: of each level of the curve within the
/// reach of the bays, what the strengths allow of the squared reach that is left.
fn take_limits(curve: &Curve, members: &[(&Member, f64)], take: f64, level: f64, control: &Control) -> Result<Limits> {
    const ANGLES: [f64; 9] = [-1.45, -1.1, -0.75, -0.375, 0.0, 0.375, 0.75, 1.1, 1.45];
    if curve.judge.level <= 0.0 {
        return goal_limits(curve, members, Goal::Take(take), level, control);
    }
    let reach = curve.judge.critical(level);
    let each = ANGLES.iter().map(|angle| {
        let moved = expit(logit(take) + curve.judge.level.sqrt() * reach * angle.sin());
        goal_limits(curve, members, Goal::Take(moved), curve.judge.level_of(reach * angle.cos()), control)
    });
    Ok(hull(&each.collect::<Result<Vec<Limits>>>()?))
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
    let of_level = curve.judge.level.sqrt() * take * (1.0 - take);
    let of_take = if of_level > 0.0 { fitted.std_error(&slopes).hypot(of_level) } else { fitted.std_error(&slopes) };
    let std_error = of_take / slope;
    if !(std_error.is_finite() && std_error > 0.0) || value <= 0.0 {
        return None;
    }
    let reach = critical * std_error;
    Some(if on_log {
        (value * (-reach).exp(), value * reach.exp())
    } else {
        (axis.strength(place.t - reach), axis.strength(place.t + reach))
    })
}
