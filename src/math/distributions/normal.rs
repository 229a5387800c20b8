//! Standard normal distribution.

use crate::math::search::{TailAt, solve_tail};
use crate::math::special::LN_SQRT_TWO_PI;
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_SQRT_PI};

/// What rounding dropped from 1 / sqrt(2).
const FRAC_1_SQRT_2_LOW: f64 = -4.833_646_656_726_457e-17;

/// Density, with what rounding drops from x^2 put back.
#[inline]
#[must_use]
pub fn pdf(x: f64) -> f64 {
    let square = x * x;
    let lost = if square.is_finite() { x.mul_add(x, -square) } else { 0.0 };
    (-0.5 * square).exp() * (1.0 - 0.5 * lost) / std::f64::consts::TAU.sqrt()
}

/// ln of the density.
#[inline]
#[must_use]
pub fn ln_pdf(x: f64) -> f64 {
    -0.5 * x * x - LN_SQRT_TWO_PI
}

/// P(X <= x).
#[inline]
#[must_use]
pub fn cdf(x: f64) -> f64 {
    sf(-x)
}

/// P(X > x) = erfc(x / sqrt 2) / 2, with what rounding drops from x / sqrt 2 put back.
///
/// ```
/// // Abramowitz & Stegun 1964, table 26.1: Q(2) = 0.02275 01319 48179
/// let got = rootling::math::distributions::normal::sf(2.0);
/// approx::assert_relative_eq!(got, 0.022_750_131_948_179, epsilon = 0.0, max_relative = 1e-13);
/// ```
#[inline]
#[must_use]
pub fn sf(x: f64) -> f64 {
    let z = x * FRAC_1_SQRT_2;
    let plain = 0.5 * libm::erfc(z);
    if x.abs() < 1.0 || x.is_nan() || x.abs() > 40.0 {
        return plain;
    }
    let lost = x.mul_add(FRAC_1_SQRT_2, -z) + x * FRAC_1_SQRT_2_LOW;
    plain - lost * 0.5 * FRAC_2_SQRT_PI * (-z * z).exp()
}

/// ln P(X > x), finite far beyond the point where P itself is 0.
#[inline]
#[must_use]
pub fn ln_sf(x: f64) -> f64 {
    if x < -1.0 {
        return (-sf(-x)).ln_1p();
    }
    if x < 30.0 || x.is_nan() {
        return sf(x).ln();
    }
    -0.5 * x * x - LN_SQRT_TWO_PI - x.ln() + ln_mills(x)
}

/// ln P(X <= x).
#[inline]
#[must_use]
pub fn ln_cdf(x: f64) -> f64 {
    ln_sf(-x)
}

/// ln of x times the ratio of tail and density, by Laplace's continued fraction; x >= 30.
fn ln_mills(x: f64) -> f64 {
    let mut below = x;
    for k in (1..=12).rev() {
        below = x + f64::from(k) / below;
    }
    (x / below).ln()
}

/// x with P(X <= x) = p.
///
/// ```
/// // Abramowitz & Stegun 1964, table 26.5: the upper 2.5 % point is 1.95996 39845 40054
/// let got = rootling::math::distributions::normal::quantile(0.975);
/// approx::assert_relative_eq!(got, 1.959_963_984_540_054, epsilon = 0.0, max_relative = 1e-14);
/// ```
#[inline]
#[must_use]
pub fn quantile(p: f64) -> f64 {
    let offset = p - 0.5;
    if offset.abs() < 0.1 {
        return central(offset);
    }
    if p < 0.5 { lower(p) } else { -lower(1.0 - p) }
}

/// x with P(X > x) = p.
#[inline]
#[must_use]
pub fn isf(p: f64) -> f64 {
    -quantile(p)
}

/// Newton's method on erf(x / sqrt 2) / 2 = offset, which keeps the digits of values near 0.
fn central(offset: f64) -> f64 {
    let root = std::f64::consts::TAU.sqrt();
    let mut x = offset * root * (1.0 + offset * offset * std::f64::consts::PI / 3.0);
    for _ in 0..4 {
        x -= (0.5 * libm::erf(x * FRAC_1_SQRT_2) - offset) * root * (0.5 * x * x).exp();
    }
    x
}

fn lower(p: f64) -> f64 {
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    if p.is_nan() || p < 0.0 {
        return f64::NAN;
    }
    let target = p.ln();
    solve_tail(-rough_isf(target), target, 1.0, |x| {
        let ln_tail = ln_cdf(x);
        TailAt { ln_tail, hazard: (-0.5 * x * x - LN_SQRT_TWO_PI - ln_tail).exp(), slope: -x, bend: -1.0 }
    })
}

/// Upper point for a tail whose logarithm is given (tail <= 1/2), to 4.5e-4 (Abramowitz & Stegun 1964, 26.2.23).
#[inline]
pub(crate) fn rough_isf(ln_p: f64) -> f64 {
    let t = (-2.0 * ln_p).sqrt();
    t - (2.515_517 + t * (0.802_853 + t * 0.010_328)) / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)))
}
