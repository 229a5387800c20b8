//! The strength for a wanted take, with profile, delta and Fieller limits.

use serde::{Deserialize, Serialize};

use super::adequate::{Goal, ends, goal_limits, lowest_of};
use super::axis::Data;
use super::best::lowest_averaged;
use super::candidates::{Curve, Member};
use super::fieller::fieller;
use super::fit::Fitted;
use super::likelihood::Form;
use super::shape::Shape;
use crate::control::Control;
use crate::error::Result;

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
    let (low, high) = goal_limits(curve, &members, goal, level, control)?;
    // 0 and infinity where an end stays open.
    let (low, high) = (low.unwrap_or(0.0), high.unwrap_or(f64::INFINITY));
    let axis = &curve.data.axis;
    let outside = |value: Option<f64>| value.is_some_and(|value| value < axis.low || value > axis.high);
    let mut found = vec![StrengthFor {
        curve: name.to_owned(),
        method: "profile".to_owned(),
        shape,
        value,
        conf_low: value.map_or(low, |value| low.min(value)),
        conf_high: value.map_or(high, |value| high.max(value)),
        outside: outside(value),
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
        });
    };
    if let Some((low, high)) =
        own.and_then(|value| delta(&lead.fitted, &curve.data, value, curve.judge.critical(level)))
    {
        push("delta", low, high);
    }
    if let Some(open) = fieller(&lead.fitted, &curve.data, &curve.judge, take, level) {
        push("fieller", open.low, open.high);
    }
    Ok(found)
}

/// Limits by the first-order standard error, on `ln d` (shapes in ln d) or on `ln(1 + d / d0)` (all others).
fn delta(fitted: &Fitted, data: &Data, value: f64, critical: f64) -> Option<(f64, f64)> {
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
    let std_error = fitted.std_error(&fitted.seen(data, value).1) / slope;
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
