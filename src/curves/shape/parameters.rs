//! The parameters of a shape in plain names.

use super::axis::{Axis, On};
use super::form::Form;
use super::hormesis::Cedergreen;
use super::shapes::Shape;
use crate::math::special::expit;

/// A named parameter with its unit: "mg/L" is replaced by the trial's unit.
pub(crate) struct Named {
    pub(crate) name: &'static str,
    pub(crate) value: f64,
    pub(crate) unit: Unit,
}

/// What a parameter counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    /// A take rate, 0 to 1.
    Rate,
    /// A strength, in the trial's unit.
    Strength,
    /// A difference of take rates; as a part of a curve it may exceed 1.
    Gain,
    /// Take rate per unit of strength.
    RatePerStrength,
    /// Log odds.
    LogOdds,
    /// Log odds per unit of `ln(1 + d / d0)`.
    PerX,
    /// Log odds per squared unit of `ln(1 + d / d0)`.
    PerXSquared,
    /// Per unit of `ln d`.
    PerLog,
    /// A plain number.
    Number,
}

fn named(name: &'static str, value: f64, unit: Unit) -> Named {
    Named { name, value, unit }
}

/// The parameters of a stimulated take over a falling curve.
fn hormetic(form: Form, theta: &[f64], axis: &Axis) -> Vec<Named> {
    match (form.shape, theta) {
        (Shape::BrainCousens, [top, v, ln_b, at]) => {
            let (b, strength) = (ln_b.exp(), at.exp());
            let u = v / (b - 1.0);
            vec![
                named("take without hormone", top * (1.0 - v), Unit::Rate),
                named("gain at low strengths", top * b * u / strength, Unit::RatePerStrength),
                named("strength of the fall", strength * u.powf(-1.0 / b), Unit::Strength),
                named("steepness of the fall", b, Unit::Number),
                named("strength at the top", strength, Unit::Strength),
                named("take at the top", *top, Unit::Rate),
            ]
        }
        (_, [top, v, ln_k, at]) => {
            let ln_d0 = axis.scale(On::BASE).shift.ln();
            let made = Cedergreen::new(*v, ln_k.exp(), (*at, ln_d0), form.power);
            let gain = (top * (v + made.w) * made.a.exp()).min(f64::MAX);
            vec![
                named("take without hormone", top * (1.0 - v), Unit::Rate),
                named("size of the stimulation", gain, Unit::Gain),
                named("power of the stimulation", form.power.value(), Unit::Number),
                named("d0 of the stimulation", ln_d0.exp(), Unit::Strength),
                named("strength of the fall", at.exp() * made.w.powf(-1.0 / made.b), Unit::Strength),
                named("steepness of the fall", made.b, Unit::Number),
                named("strength at the top", at.exp(), Unit::Strength),
                named("take at the top", *top, Unit::Rate),
            ]
        }
        _ => Vec::new(),
    }
}

/// The parameters in plain names.
pub(crate) fn parameters(form: Form, theta: &[f64], axis: &Axis) -> Vec<Named> {
    let (shape, scale) = (form.shape, axis.scale(form.on));
    let span = scale.span;
    match (shape, theta) {
        (Shape::Flat, [rate]) => vec![named("take", *rate, Unit::Rate)],
        (Shape::Straight, [low, high]) => {
            let slope = (high - low) / span;
            let at_zero = low - slope * (axis.low / scale.shift).ln_1p();
            vec![
                named("log odds at strength 0", at_zero, Unit::LogOdds),
                named("slope", slope, Unit::PerX),
                named("d0 of the axis", scale.shift, Unit::Strength),
            ]
        }
        (Shape::Hump, [top, bend, at]) => vec![
            named("strength at the top", axis.strength_on(form.on, *at), Unit::Strength),
            named("take at the top", expit(*top), Unit::Rate),
            named("curvature", bend / (span * span), Unit::PerXSquared),
            named("d0 of the axis", scale.shift, Unit::Strength),
        ],
        (Shape::Falling, [floor, middle, steep]) => vec![
            named("take without hormone", *floor, Unit::Rate),
            named("strength halfway", middle.exp(), Unit::Strength),
            named("steepness", steep.exp(), Unit::PerLog),
        ],
        (Shape::RiseAndFall, [up, down, ln_slope, at]) => {
            let k = ln_slope.exp() / span;
            vec![
                named("strength at the top", axis.strength_on(form.on, *at), Unit::Strength),
                named("take at the top", expit(*up) * expit(*down), Unit::Rate),
                named("slope of the rise", k * (1.0 + up.exp()), Unit::PerX),
                named("slope of the fall", k * (1.0 + down.exp()), Unit::PerX),
                named("d0 of the axis", scale.shift, Unit::Strength),
            ]
        }
        (Shape::BrainCousens | Shape::Cedergreen, _) => hormetic(form, theta, axis),
        (_, [floor, gain, middle, steep]) => {
            let mut list = Vec::new();
            if !shape.needs_none_at_zero() {
                list.push(named("take without hormone", *floor, Unit::Rate));
            }
            if matches!(shape, Shape::Rising | Shape::RisingFromNone) {
                list.push(named("ceiling", floor + gain * (1.0 - floor), Unit::Rate));
            }
            list.push(named("strength halfway", middle.exp(), Unit::Strength));
            list.push(named("steepness", steep.exp(), Unit::PerLog));
            list
        }
        _ => Vec::new(),
    }
}
