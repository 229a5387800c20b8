//! The take rate of each shape at a strength, with its slopes by the coordinates.

use super::axis::{Axis, On};
use super::hormesis::{Cedergreen, brain_cousens, cedergreen};
use super::likelihood::Form;
use super::shape::Shape;
use crate::math::regression::Link;
use crate::math::special::expit;

/// A rate and its slopes by the coordinates (those in use come first).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct RateAt {
    pub(super) mean: f64,
    pub(super) slopes: [f64; 4],
}

/// A strength on the two axes of a shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spot {
    /// `ln(1 + d / d0)`, 0 at the lowest and 1 at the highest tested strength.
    pub(super) t: f64,
    /// `ln d`.
    pub(super) z: f64,
    /// `ln d0` of the axis asked for.
    pub(super) ln_d0: f64,
}

/// `F` at `u` (0 at its median) and its slope.
fn share(link: Link, u: f64) -> (f64, f64) {
    if u == f64::NEG_INFINITY {
        return (0.0, 0.0);
    }
    let point = link.at(u + median(link));
    (point.mean, point.slope())
}

/// The linear predictor at which the link gives 1/2.
pub(super) fn median(link: Link) -> f64 {
    let ln_ln_two = std::f64::consts::LN_2.ln();
    match link {
        Link::Logit | Link::Probit => 0.0,
        Link::ComplementaryLogLog => ln_ln_two,
        Link::LogLog => -ln_ln_two,
    }
}

/// The rate of a form with coordinates `theta` at a place; see [`Shape::region`] for the coordinates.
pub(super) fn rate(form: Form, theta: &[f64], place: Spot) -> RateAt {
    let link = form.link;
    match (form.shape, theta) {
        (Shape::Flat, [rate]) => RateAt { mean: *rate, slopes: [1.0, 0.0, 0.0, 0.0] },
        (Shape::Straight, [low, high]) => {
            let mean = expit((1.0 - place.t) * low + place.t * high);
            let slope = mean * (1.0 - mean);
            RateAt { mean, slopes: [slope * (1.0 - place.t), slope * place.t, 0.0, 0.0] }
        }
        (Shape::Hump, [top, bend, at]) => {
            let off = place.t - at;
            let mean = expit(top - bend * off * off);
            let slope = mean * (1.0 - mean);
            RateAt { mean, slopes: [slope, -slope * off * off, 2.0 * slope * bend * off, 0.0] }
        }
        (Shape::Falling, [floor, middle, ln_steep]) => {
            let steep = ln_steep.exp();
            let u = steep * (place.z - middle);
            let (gained, slope) = share(link, u);
            let by_u = -floor * slope;
            let turn = if slope > 0.0 { by_u * u } else { 0.0 };
            RateAt { mean: floor * (1.0 - gained), slopes: [1.0 - gained, -steep * by_u, turn, 0.0] }
        }
        (Shape::RiseAndFall, [up, down, ln_slope, at]) => rise_and_fall(*up, *down, ln_slope.exp(), place.t - at),
        (Shape::BrainCousens, [top, gain, ln_b, at]) => brain_cousens(*top, *gain, ln_b.exp(), place.z - at),
        (Shape::Cedergreen, [top, gain, ln_k, at]) => cedergreen([*top, *gain, *ln_k, *at], form.power, place),
        (_, [floor, gain, middle, ln_steep]) => {
            let steep = ln_steep.exp();
            let u = steep * (place.z - middle);
            let (gained, slope) = share(link, u);
            let by_u = gain * (1.0 - floor) * slope;
            let turn = if slope > 0.0 { by_u * u } else { 0.0 };
            let slopes = [1.0 - gain * gained, (1.0 - floor) * gained, -steep * by_u, turn];
            RateAt { mean: floor + gain * (1.0 - floor) * gained, slopes }
        }
        _ => RateAt::default(),
    }
}

/// Slopes of both parts, `k (1 + e^A)` and `k (1 + e^B)` for log odds A and B at the top, so that the product is stationary there.
fn rise_and_fall(up: f64, down: f64, k: f64, off: f64) -> RateAt {
    let (up_odds, down_odds) = (up.exp(), down.exp());
    let (rise, fall) = (k * (1.0 + up_odds), k * (1.0 + down_odds));
    let (a, b) = (expit(up + rise * off), expit(down - fall * off));
    let mean = a * b;
    let (by_a, by_b) = (mean * (1.0 - a), mean * (1.0 - b));
    let slopes = [
        by_a * (1.0 + k * up_odds * off),
        by_b * (1.0 - k * down_odds * off),
        by_a * rise * off - by_b * fall * off,
        by_b * fall - by_a * rise,
    ];
    RateAt { mean, slopes }
}

/// The best strength of the shape within the tested range, by its coordinates.
pub(super) fn best(form: Form, theta: &[f64], axis: &Axis) -> f64 {
    match (form.shape, theta) {
        (Shape::Straight, [low, high]) if high > low => axis.high,
        (Shape::Hump | Shape::RiseAndFall, [.., at]) => axis.strength_on(form.on, at.clamp(0.0, 1.0)),
        (Shape::BrainCousens | Shape::Cedergreen, [_, v, _, at]) if *v > 0.0 => axis.within(at.exp()),
        (shape, _) if shape.rises() => axis.high,
        _ => axis.low,
    }
}

/// A named parameter with its unit: "mg/L" is replaced by the trial's unit.
pub(super) struct Named {
    pub(super) name: &'static str,
    pub(super) value: f64,
    pub(super) unit: Unit,
}

/// What a parameter counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unit {
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
pub(super) fn parameters(form: Form, theta: &[f64], axis: &Axis) -> Vec<Named> {
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
