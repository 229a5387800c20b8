//! Beta distribution with shapes a and b.

use super::normal::rough_isf;
use crate::math::search::{TailAt, solve_tail};
use crate::math::special::{Saddle, Share, beta_tails, ln_beta, regularised};

/// The density at the ends and outside.
fn outside(x: f64, a: f64, b: f64) -> Option<f64> {
    if x.is_nan() || !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) {
        return Some(f64::NAN);
    }
    // x^(a - 1) b at 0 when a = 1, and the same from the other end.
    let end = |shape: f64, other: f64| match shape {
        1.0 => other,
        shape if shape < 1.0 => f64::INFINITY,
        _ => 0.0,
    };
    match x {
        0.0 => Some(end(a, b)),
        1.0 => Some(end(b, a)),
        x if !(0.0..1.0).contains(&x) => Some(0.0),
        _ => None,
    }
}

/// Density.
///
/// ```
/// // 12 x (1 - x)^2 when a = 2 and b = 3.
/// let got = rootling::math::distributions::beta::pdf(0.25, 2.0, 3.0);
/// approx::assert_relative_eq!(got, 1.6875, epsilon = 0.0, max_relative = 1e-14);
/// ```
#[must_use]
pub fn pdf(x: f64, a: f64, b: f64) -> f64 {
    match outside(x, a, b) {
        Some(known) => known,
        None => Saddle::new(a, b).kernel(Share::new(x)) / x / (1.0 - x),
    }
}

/// ln of the density.
#[must_use]
pub fn ln_pdf(x: f64, a: f64, b: f64) -> f64 {
    match outside(x, a, b) {
        Some(known) => known.ln(),
        None => Saddle::new(a, b).ln_kernel(Share::new(x)) - x.ln() - (-x).ln_1p(),
    }
}

/// P(X <= x) = `I_x(a`, b), the regularised incomplete beta function.
///
/// ```
/// // P(X <= x) = x^a when b = 1.
/// let got = rootling::math::distributions::beta::cdf(0.1, 20.0, 1.0);
/// approx::assert_relative_eq!(got, 1e-20, epsilon = 0.0, max_relative = 1e-13);
/// ```
#[inline]
#[must_use]
pub fn cdf(x: f64, a: f64, b: f64) -> f64 {
    regularised(a, b, Share::new(x)).0
}

/// P(X > x).
#[inline]
#[must_use]
pub fn sf(x: f64, a: f64, b: f64) -> f64 {
    regularised(a, b, Share::new(x)).1
}

/// x with P(X <= x) = p.
///
/// ```
/// // P(X <= x) = 1 - (1 - x)^b when a = 1.
/// let got = rootling::math::distributions::beta::quantile(0.75, 1.0, 2.0);
/// approx::assert_relative_eq!(got, 0.5, epsilon = 0.0, max_relative = 2e-15);
/// ```
#[inline]
#[must_use]
pub fn quantile(p: f64, a: f64, b: f64) -> f64 {
    if a == 1.0 && b > 0.0 && (0.0..=1.0).contains(&p) {
        return -((-p).ln_1p() / b).exp_m1();
    }
    if b == 1.0 && a > 0.0 && (0.0..=1.0).contains(&p) {
        return (p.ln() / a).exp();
    }
    let t = logit_quantile(p, a, b);
    if t > 0.0 { 1.0 / (1.0 + (-t).exp()) } else { t.exp() / (1.0 + t.exp()) }
}

/// x with P(X > x) = p.
#[inline]
#[must_use]
pub fn isf(p: f64, a: f64, b: f64) -> f64 {
    let t = -logit_quantile(p, b, a);
    if t > 0.0 { 1.0 / (1.0 + (-t).exp()) } else { t.exp() / (1.0 + t.exp()) }
}

/// ln(x / (1 - x)) of the quantile, which holds both ends; infinite for p = 0 and p = 1.
#[inline]
pub(crate) fn logit_quantile(p: f64, a: f64, b: f64) -> f64 {
    if !((0.0..=1.0).contains(&p) && a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) {
        return f64::NAN;
    }
    if p > 0.5 { -lower(1.0 - p, b, a) } else { lower(p, a, b) }
}

/// Lower point for p <= 1/2.
#[inline]
fn lower(p: f64, a: f64, b: f64) -> f64 {
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    let shape = Saddle::new(a, b);
    let target = p.ln();
    if target < -40.0 * a.min(1.0) {
        let leading = leading(target, a, b);
        // I_x = x^a / (a B(a, b)) (1 + (1 - b) a / (a + 1) x + ...): the rest is below rounding.
        if leading + (1.0 + b).ln() < -40.0 {
            return leading;
        }
    }
    solve_tail(start(target, a, b), target, 1.0, |t| {
        let at = Share::of_logit(t);
        let tails = beta_tails(&shape, at);
        TailAt {
            ln_tail: tails.lower.ln(),
            hazard: tails.kernel / tails.lower,
            slope: a * at.y - b * at.x,
            bend: -(a + b) * at.x * at.y,
        }
    })
}

/// Carter's approximation (Abramowitz & Stegun 1964, 26.5.22), or the leading term of the lower tail.
#[inline]
fn start(target: f64, a: f64, b: f64) -> f64 {
    let mean = (a / b).ln();
    if a > 1.0 && b > 1.0 {
        let z = rough_isf(target);
        let (u, v) = (1.0 / (2.0 * a - 1.0), 1.0 / (2.0 * b - 1.0));
        let h = 2.0 / (u + v);
        let l = (z * z - 3.0) / 6.0;
        if h + l > 0.0 {
            let w = z * (h + l).sqrt() / h - (v - u) * (l + 5.0 / 6.0 - 2.0 / (3.0 * h));
            let found = mean - 2.0 * w;
            if 2.0 * w < 10.0 {
                return found;
            }
        }
    }
    leading(target, a, b).min(mean + 1.0)
}

/// ln x from the leading term x^a / (a B(a, b)) of the lower tail.
#[inline]
fn leading(target: f64, a: f64, b: f64) -> f64 {
    (target + a.ln() + ln_beta(a, b)) / a
}
