//! Curves that a low strength stimulates and a high one burns, by their top: a stimulated take over a falling logistic curve in `ln d`.

use super::form::{Power, RateAt, Spot};

/// Powers of strengths are not told apart beyond this logarithm.
const FAR: f64 = 600.0;

/// `(c + f d) / (1 + (d / e)^b)` by its top: with `r = d / d_top`, `v` in 0..1, `u = v / (b - 1)` the rate is
/// `top (1 - v + b u r) / (1 + u r^b)`; `c = top (1 - v)`, `f = top b u / d_top`, `e = d_top u^(-1/b)`.
pub(super) fn brain_cousens(top: f64, v: f64, b: f64, ln_r: f64) -> RateAt {
    let u = v / (b - 1.0);
    let (r, power) = (ln_r.min(FAR).exp(), (b * ln_r).min(FAR).exp());
    let turn = if r > 0.0 { power * ln_r } else { 0.0 };
    let above = 1.0 - v + b * u * r;
    let below = 1.0 + u * power;
    let ratio = above / below;
    let slope = |above_slope: f64, below_slope: f64| top * (above_slope - ratio * below_slope) / below;
    let (u_v, u_b) = (1.0 / (b - 1.0), -u / (b - 1.0));
    let by_v = slope(b * r * u_v - 1.0, power * u_v);
    let by_b = slope(u * r + b * r * u_b, u * turn + power * u_b);
    let by_ln_r = slope(b * u * r, u * b * power);
    RateAt { mean: top * ratio, slopes: [ratio, by_v, b * by_b, -by_ln_r] }
}

/// What the top of a Cedergreen curve makes of its other parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cedergreen {
    /// `(d0 / d_top)^alpha`.
    pub(super) a: f64,
    /// Relative rise of the stimulation at the top, `alpha a`.
    h: f64,
    /// Steepness of the fall.
    pub(super) b: f64,
    /// `(d_top / e)^b`.
    pub(super) w: f64,
}

impl Cedergreen {
    pub(super) fn new(v: f64, k: f64, (at, ln_d0): (f64, f64), power: Power) -> Self {
        let a = (power.value() * (ln_d0 - at)).exp();
        let h = power.value() * a;
        Self { a, h, b: k + h, w: v * h / k }
    }
}

/// `(c + f s(d)) / (1 + (d / e)^b)`, `s(d) = exp(-(d0 / d)^alpha)`, by its top: with `a = (d0 / d_top)^alpha`, `h = alpha a`, `v` in 0..1 and
/// `k > 0` the steepness is `b = k + h`, and with `w = v h / k`, `r = d / d_top` the rate is
/// `top (1 - v + (v + w) s(d) / s(d_top)) / (1 + w r^b)`; `c = top (1 - v)`, `f = top (v + w) e^a`, `e = d_top w^(-1/b)`.
///
/// Where the slope by `ln d` is 0, the logarithm of the rate bends by the rate's numerator and denominator as `h - alpha - b`: with `b > h` the
/// place is a top, and there is no other.
pub(super) fn cedergreen(theta: [f64; 4], power: Power, place: Spot) -> RateAt {
    let [top, v, ln_k, at] = theta;
    let (alpha, k) = (power.value(), ln_k.exp());
    let Cedergreen { a, h, b, w } = Cedergreen::new(v, k, (at, place.ln_d0), power);
    let ln_r = place.z - at;
    let gained = (a * (1.0 - (-alpha * ln_r).exp())).min(FAR).exp();
    let fallen = (b * ln_r).min(FAR).exp();
    let turn = if fallen > 0.0 { fallen * ln_r } else { 0.0 };
    let above = 1.0 - v + (v + w) * gained;
    let below = 1.0 + w * fallen;
    let ratio = above / below;
    let slope = |above_slope: f64, below_slope: f64| top * (above_slope - ratio * below_slope) / below;
    let by_v = slope((1.0 + h / k) * gained - 1.0, h / k * fallen);
    let by_ln_k = slope(-w * gained, w * (k * turn - fallen));
    let by_at = slope(-(alpha * w + h * (v + w)) * gained, -w * (alpha * fallen + alpha * h * turn + b * fallen));
    RateAt { mean: top * ratio, slopes: [ratio, by_v, by_ln_k, by_at] }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{abs_diff_eq, assert_relative_eq, relative_eq};

    type Curve = fn([f64; 4], f64) -> RateAt;

    /// Slopes against central differences of the rate, and the top against its neighbours.
    #[test]
    fn slopes_and_tops() {
        let place = |ln_d: f64| Spot { t: 0.0, z: ln_d, ln_d0: 500.0_f64.ln() };
        let curves: [Curve; 3] = [
            |[top, v, ln_b, at], ln_d| brain_cousens(top, v, ln_b.exp(), ln_d - at),
            |theta, ln_d| cedergreen(theta, Power::Quarter, Spot { t: 0.0, z: ln_d, ln_d0: 500.0_f64.ln() }),
            |theta, ln_d| cedergreen(theta, Power::One, Spot { t: 0.0, z: ln_d, ln_d0: 500.0_f64.ln() }),
        ];
        let theta = [0.7, 0.6, 0.9, 2000.0_f64.ln()];
        for (at, curve) in curves.into_iter().enumerate() {
            for ln_d in [f64::NEG_INFINITY, 4.0, 6.5, 8.0, 10.0] {
                for j in 0..4 {
                    let moved = |by: f64| {
                        let mut there = theta;
                        there[j] += by;
                        curve(there, ln_d).mean
                    };
                    let slope = (moved(1e-6) - moved(-1e-6)) / 2e-6;
                    assert!(
                        abs_diff_eq!(curve(theta, ln_d).slopes[j], slope, epsilon = 1e-8),
                        "curve {at}, {j} at {ln_d}"
                    );
                }
            }
            let top = curve(theta, theta[3]).mean;
            assert_relative_eq!(top, 0.7, epsilon = 0.0, max_relative = 1.4e-15);
            let around = [f64::NEG_INFINITY, 0.0, 5.0, 7.5, 7.7, 9.0, 14.0];
            assert!(around.iter().all(|ln_d| curve(theta, *ln_d).mean < top));
            assert!(
                relative_eq!(curve(theta, f64::NEG_INFINITY).mean, 0.28, epsilon = 0.0, max_relative = 3.5e-15),
                "0.7 (1 - 0.6) without hormone"
            );
        }
        // Powers that overflow leave a number.
        for ln_d in [-700.0, 700.0] {
            let steep = [1.0, 0.0, 3.4, -20.0];
            assert!(cedergreen(steep, Power::One, place(ln_d)).slopes.iter().all(|x| !x.is_nan()));
            assert!(brain_cousens(1.0, 0.0, 30.0, ln_d + 20.0).slopes.iter().all(|x| !x.is_nan()));
        }
    }
}
