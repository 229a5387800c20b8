//! F distribution with `d1` and `d2` degrees of freedom.

use super::{beta, chi_squared};
use crate::math::special::{Saddle, Share, regularised};

#[inline]
fn tails(f: f64, d1: f64, d2: f64) -> (f64, f64) {
    if f.is_nan() || d1.is_nan() || d2.is_nan() || d1 <= 0.0 || d2 <= 0.0 {
        return (f64::NAN, f64::NAN);
    }
    if f <= 0.0 {
        return (0.0, 1.0);
    }
    if f == f64::INFINITY {
        return (1.0, 0.0);
    }
    if d2 == f64::INFINITY {
        return (chi_squared::cdf(d1 * f, d1), chi_squared::sf(d1 * f, d1));
    }
    regularised(0.5 * d1, 0.5 * d2, share(f, d1, d2))
}

/// d1 f / (d1 f + d2) and its complement.
#[inline]
fn share(f: f64, d1: f64, d2: f64) -> Share {
    if f > 1.0 {
        let v = d2 / f;
        Share::of_parts(d1, 0.0, v, (-v).mul_add(f, d2) / f)
    } else {
        let u = d1 * f;
        Share::of_parts(u, d1.mul_add(f, -u), d2, 0.0)
    }
}

/// The density where the form above 0 does not serve.
fn outside(f: f64, d1: f64, d2: f64) -> Option<f64> {
    if f.is_nan() || !(d1 > 0.0 && d1.is_finite() && d2 > 0.0) {
        return Some(f64::NAN);
    }
    match f {
        f if f < 0.0 || f == f64::INFINITY => Some(0.0),
        0.0 if d1 == 2.0 => Some(1.0),
        0.0 => Some(if d1 < 2.0 { f64::INFINITY } else { 0.0 }),
        _ if d2 == f64::INFINITY => Some(chi_squared::pdf(d1 * f, d1) * d1),
        _ => None,
    }
}

/// Density.
///
/// ```
/// // With d1 = 2 it is (1 + 2 f / d2)^(-d2 / 2 - 1).
/// let got = rootling::math::distributions::fisher_f::pdf(3.0, 2.0, 6.0);
/// approx::assert_relative_eq!(got * 16.0, 1.0, epsilon = 0.0, max_relative = 1e-14);
/// ```
#[must_use]
pub fn pdf(f: f64, d1: f64, d2: f64) -> f64 {
    match outside(f, d1, d2) {
        Some(known) => known,
        None => Saddle::new(0.5 * d1, 0.5 * d2).kernel(share(f, d1, d2)) / f,
    }
}

/// ln of the density.
#[must_use]
pub fn ln_pdf(f: f64, d1: f64, d2: f64) -> f64 {
    match outside(f, d1, d2) {
        Some(_) if d2 == f64::INFINITY && f > 0.0 => chi_squared::ln_pdf(d1 * f, d1) + d1.ln(),
        Some(known) => known.ln(),
        None => Saddle::new(0.5 * d1, 0.5 * d2).ln_kernel(share(f, d1, d2)) - f.ln(),
    }
}

/// P(X <= f).
#[inline]
#[must_use]
pub fn cdf(f: f64, d1: f64, d2: f64) -> f64 {
    tails(f, d1, d2).0
}

/// P(X > f), from x = d1 f / (d1 f + d2) and its complement d2 / (d1 f + d2), each computed on its own.
///
/// ```
/// // With d1 = 2, P(X > f) = (1 + 2 f / d2)^(-d2 / 2).
/// let got = rootling::math::distributions::fisher_f::sf(3.0, 2.0, 6.0);
/// approx::assert_relative_eq!(got, 0.125, epsilon = 0.0, max_relative = 1e-14);
/// ```
#[inline]
#[must_use]
pub fn sf(f: f64, d1: f64, d2: f64) -> f64 {
    tails(f, d1, d2).1
}

/// f with P(X <= f) = p.
#[must_use]
pub fn quantile(p: f64, d1: f64, d2: f64) -> f64 {
    if d2 == f64::INFINITY {
        return chi_squared::quantile(p, d1) / d1;
    }
    beta::logit_quantile(p, 0.5 * d1, 0.5 * d2).exp() * (d2 / d1)
}

/// f with P(X > f) = p.
#[must_use]
pub fn isf(p: f64, d1: f64, d2: f64) -> f64 {
    if d2 == f64::INFINITY {
        return chi_squared::isf(p, d1) / d1;
    }
    (-beta::logit_quantile(p, 0.5 * d2, 0.5 * d1)).exp() * (d2 / d1)
}
