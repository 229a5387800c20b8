//! F distribution with `d1` and `d2` degrees of freedom.

use super::{beta, chi_squared};
use crate::math::special::{Share, regularised};

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
    let at = if f > 1.0 {
        let v = d2 / f;
        Share::of_parts(d1, 0.0, v, (-v).mul_add(f, d2) / f)
    } else {
        let u = d1 * f;
        Share::of_parts(u, d1.mul_add(f, -u), d2, 0.0)
    };
    regularised(0.5 * d1, 0.5 * d2, at)
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
/// assert!((got / 0.125 - 1.0).abs() < 1e-14);
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
