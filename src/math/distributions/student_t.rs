//! Student's t distribution with `df` degrees of freedom.

use super::{beta, normal};
use crate::math::special::{Share, ln_beta, ln_rising, regularised};

/// P(|T| > |t|), from x = t^2 / (t^2 + df) and its complement, each computed on its own.
///
/// ```
/// // With 2 degrees of freedom P(|T| > t) = 1 - t / sqrt(t^2 + 2); at t = sqrt 2 it is 1 - 1 / sqrt 2.
/// let got = rootling::math::distributions::student_t::two_sided(2.0_f64.sqrt(), 2.0);
/// approx::assert_relative_eq!(got, 1.0 - 0.5_f64.sqrt(), epsilon = 0.0, max_relative = 1e-14);
/// ```
#[inline]
#[must_use]
pub fn two_sided(t: f64, df: f64) -> f64 {
    let t = t.abs();
    if t.is_nan() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if df == f64::INFINITY {
        return 2.0 * normal::sf(t);
    }
    if t == f64::INFINITY {
        return 0.0;
    }
    if t > 1e140 && df < 1e100 {
        // x^a / (a B(a, 1/2)) at x = df / t^2, a = df / 2, where t^2 would overflow.
        let a = 0.5 * df;
        return (a * df.ln() - df * t.ln() - a.ln() - ln_beta(a, 0.5)).exp();
    }
    let at = if t > 1.0 {
        let v = df / t;
        Share::of_parts(t, 0.0, v, (-v).mul_add(t, df) / t)
    } else {
        let u = t * t;
        Share::of_parts(u, t.mul_add(t, -u), df, 0.0)
    };
    regularised(0.5 * df, 0.5, at.swapped()).0
}

/// ln of the density: ln Gamma((df + 1) / 2) - ln Gamma(df / 2) - ln(pi df) / 2 - (df + 1) / 2 ln(1 + t^2 / df).
#[must_use]
pub fn ln_pdf(t: f64, df: f64) -> f64 {
    let t = t.abs();
    if t.is_nan() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if df == f64::INFINITY {
        return normal::ln_pdf(t);
    }
    // Where t^2 could leave the range, what is 1 beside it is nothing.
    let ln_fall = if t > 1e100 && df < 1e100 { 2.0 * t.ln() - df.ln() } else { (t / df * t).ln_1p() };
    ln_rising(0.5 * df, 0.5) - 0.5 * (std::f64::consts::PI * df).ln() - 0.5 * (df + 1.0) * ln_fall
}

/// Density.
///
/// ```
/// // With 1 degree of freedom it is 1 / (pi (1 + t^2)).
/// let got = rootling::math::distributions::student_t::pdf(2.0, 1.0);
/// approx::assert_relative_eq!(got * 5.0 * std::f64::consts::PI, 1.0, epsilon = 0.0, max_relative = 1e-14);
/// ```
#[must_use]
pub fn pdf(t: f64, df: f64) -> f64 {
    ln_pdf(t, df).exp()
}

/// P(T <= t).
#[inline]
#[must_use]
pub fn cdf(t: f64, df: f64) -> f64 {
    sf(-t, df)
}

/// P(T > t).
#[inline]
#[must_use]
pub fn sf(t: f64, df: f64) -> f64 {
    let tail = 0.5 * two_sided(t, df);
    if t > 0.0 { tail } else { 1.0 - tail }
}

/// t with P(T <= t) = p.
#[must_use]
pub fn quantile(p: f64, df: f64) -> f64 {
    if df >= NEARLY_NORMAL {
        return beside_normal(normal::quantile(p), 1.0 / df);
    }
    if p > 0.5 { upper(1.0 - p, df) } else { -upper(p, df) }
}

/// Degrees of freedom from which on three terms beside the normal quantile hold it to rounding, for any p that is a number above 0.
const NEARLY_NORMAL: f64 = 1e8;

/// Fisher and Cornish's expansion in 1 / df (Abramowitz & Stegun 1964, 26.7.5).
fn beside_normal(z: f64, inverse: f64) -> f64 {
    let z2 = z * z;
    if inverse == 0.0 || !z.is_finite() {
        return z;
    }
    let first = (z2 + 1.0) / 4.0;
    let second = ((5.0 * z2 + 16.0) * z2 + 3.0) / 96.0;
    let third = (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) / 384.0;
    z * (1.0 + inverse * (first + inverse * (second + inverse * third)))
}

/// t with P(T > t) = p, p <= 1/2: t^2 / df = x / (1 - x).
fn upper(p: f64, df: f64) -> f64 {
    let t = beta::logit_quantile(2.0 * p, 0.5 * df, 0.5);
    (-0.5 * t).exp() * df.sqrt()
}
