//! The likelihood of one curve: binomial on effective counts, or with what stands beside the shape.

use super::axis::{Axis, Place};
use super::form::{Form, RateAt, Spot};
use super::hormesis::{brain_cousens, cedergreen};
use super::shapes::Shape;
use crate::math::regression::Link;
use crate::math::special::expit;

/// Rates this near 0 or 1 count as that near: a curve may reach both.
pub(crate) const EDGE: f64 = 1e-13;

impl Form {
    pub(crate) fn at(self, theta: &[f64], place: Place) -> RateAt {
        self.at_spot(theta, Spot { t: place.on(self.on), z: place.z, ln_d0: place.ln_d0 })
    }

    pub(crate) fn at_spot(self, theta: &[f64], spot: Spot) -> RateAt {
        rate(self, theta, spot)
    }
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
pub(crate) fn median(link: Link) -> f64 {
    let ln_ln_two = std::f64::consts::LN_2.ln();
    match link {
        Link::Logit | Link::Probit => 0.0,
        Link::ComplementaryLogLog => ln_ln_two,
        Link::LogLog => -ln_ln_two,
    }
}

/// The rate of a form with coordinates `theta` at a place; see [`Shape::region`] for the coordinates.
fn rate(form: Form, theta: &[f64], place: Spot) -> RateAt {
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
pub(crate) fn best(form: Form, theta: &[f64], axis: &Axis) -> f64 {
    match (form.shape, theta) {
        (Shape::Straight, [low, high]) if high > low => axis.high,
        (Shape::Hump | Shape::RiseAndFall, [.., at]) => axis.strength_on(form.on, at.clamp(0.0, 1.0)),
        (Shape::BrainCousens | Shape::Cedergreen, [_, v, _, at]) if *v > 0.0 => axis.within(at.exp()),
        (shape, _) if shape.rises() => axis.high,
        _ => axis.low,
    }
}
