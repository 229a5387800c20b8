//! Chi-squared distribution with `df` degrees of freedom.

use super::normal::rough_isf;
use crate::math::search::{TailAt, solve_tail};
use crate::math::special::{gamma_kernel, gamma_tails, ln_gamma_kernel};

#[inline]
fn tails(x: f64, df: f64) -> (f64, f64) {
    if x.is_nan() || !(df > 0.0 && df.is_finite()) {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x == f64::INFINITY {
        return (1.0, 0.0);
    }
    let found = gamma_tails(0.5 * df, 0.5 * x);
    (found.lower, found.upper)
}

/// What the density is at 0: x^(df / 2 - 1) there.
fn at_zero(df: f64) -> f64 {
    if df < 2.0 { f64::INFINITY } else { f64::from(u8::from(df == 2.0)) * 0.5 }
}

/// Density.
///
/// ```
/// // With 2 degrees of freedom it is exp(-x / 2) / 2.
/// let got = rootling::math::distributions::chi_squared::pdf(3.0, 2.0);
/// approx::assert_relative_eq!(got, 0.5 * (-1.5_f64).exp(), epsilon = 0.0, max_relative = 1e-14);
/// ```
#[must_use]
pub fn pdf(x: f64, df: f64) -> f64 {
    match outside(x, df) {
        Some(known) => known,
        None => gamma_kernel(0.5 * df, 0.5 * x) / x,
    }
}

/// ln of the density.
#[must_use]
pub fn ln_pdf(x: f64, df: f64) -> f64 {
    match outside(x, df) {
        Some(known) => known.ln(),
        None => ln_gamma_kernel(0.5 * df, 0.5 * x) - x.ln(),
    }
}

/// The density where the form above 0 does not serve.
fn outside(x: f64, df: f64) -> Option<f64> {
    if x.is_nan() || !(df > 0.0 && df.is_finite()) {
        return Some(f64::NAN);
    }
    match x {
        x if x < 0.0 || x == f64::INFINITY => Some(0.0),
        0.0 => Some(at_zero(df)),
        _ => None,
    }
}

/// P(X <= x).
#[inline]
#[must_use]
pub fn cdf(x: f64, df: f64) -> f64 {
    tails(x, df).0
}

/// P(X > x) = Q(df / 2, x / 2), the regularised upper incomplete gamma function.
///
/// ```
/// // With 2 degrees of freedom P(X > x) = exp(-x / 2).
/// let got = rootling::math::distributions::chi_squared::sf(1200.0, 2.0);
/// approx::assert_relative_eq!(got, (-600.0_f64).exp(), epsilon = 0.0, max_relative = 1e-12);
/// ```
#[inline]
#[must_use]
pub fn sf(x: f64, df: f64) -> f64 {
    tails(x, df).1
}

/// x with P(X <= x) = p.
#[must_use]
pub fn quantile(p: f64, df: f64) -> f64 {
    if p > 0.5 { solve(1.0 - p, df, -1.0) } else { solve(p, df, 1.0) }
}

/// x with P(X > x) = p.
#[must_use]
pub fn isf(p: f64, df: f64) -> f64 {
    if p > 0.5 { solve(1.0 - p, df, 1.0) } else { solve(p, df, -1.0) }
}

/// `side` 1.0: p is the lower tail; -1.0: the upper.
fn solve(p: f64, df: f64, side: f64) -> f64 {
    if !((0.0..=1.0).contains(&p) && df > 0.0 && df.is_finite()) {
        return f64::NAN;
    }
    if p == 0.0 {
        return if side > 0.0 { 0.0 } else { f64::INFINITY };
    }
    let a = 0.5 * df;
    let target = p.ln();
    let leading = (target + libm::lgamma(a + 1.0)) / a;
    if side > 0.0 && leading < -40.0 {
        // P = x^a / Gamma(a + 1) (1 - a / (a + 1) x + ...): the rest is below rounding.
        return 2.0 * leading.exp();
    }
    let found = solve_tail(start(target, a, side), target, side, |t| {
        let x = t.exp();
        let at = gamma_tails(a, x);
        let tail = if side > 0.0 { at.lower } else { at.upper };
        TailAt { ln_tail: tail.ln(), hazard: at.kernel / tail, slope: a - x, bend: -x }
    });
    2.0 * found.exp()
}

/// ln of half the quantile: Wilson & Hilferty 1931, or the leading term of the lower tail.
fn start(target: f64, a: f64, side: f64) -> f64 {
    let z = side * -rough_isf(target);
    let w = 1.0 / (9.0 * a);
    let root = 1.0 - w + z * w.sqrt();
    if side > 0.0 && (root < 0.2 || a < 1.0) {
        return ((target + libm::lgamma(a + 1.0)) / a).min(a.ln() + 1.0);
    }
    if side < 0.0 && a < 1.0 {
        return (1.0 - target).ln();
    }
    a.ln() + 3.0 * root.max(0.1).ln()
}
