//! Regularised incomplete gamma functions P(a, x) and Q(a, x).
//!
//! Series for P below a, continued fraction for Q above it; the factor x^a e^-x / Gamma(a) in saddle-point form.

use super::stirling::{deviance, stirling_error};

const TINY: f64 = 1e-300;
const MOST_TERMS: usize = 200_000;

/// Lower and upper tail, and the factor x^a e^-x / Gamma(a).
#[derive(Debug, Clone, Copy)]
pub(crate) struct GammaTails {
    pub lower: f64,
    pub upper: f64,
    pub kernel: f64,
}

/// x^a e^-x / Gamma(a), its exponent apart from the factor.
#[inline]
fn parts(a: f64, x: f64) -> (f64, f64) {
    (-stirling_error(a) - deviance(a, x, 0.0), (a / std::f64::consts::TAU).sqrt())
}

/// x^a e^-x / Gamma(a), the density of ln X, for a > 0 and 0 < x < infinity.
#[inline]
pub(crate) fn gamma_kernel(a: f64, x: f64) -> f64 {
    let (exponent, factor) = parts(a, x);
    exponent.exp() * factor
}

/// Its logarithm.
#[inline]
pub(crate) fn ln_gamma_kernel(a: f64, x: f64) -> f64 {
    let (exponent, factor) = parts(a, x);
    exponent + factor.ln()
}

/// Both tails at a > 0 and 0 < x < infinity; the smaller one is never taken as 1 minus the other.
#[inline]
pub(crate) fn gamma_tails(a: f64, x: f64) -> GammaTails {
    let kernel = gamma_kernel(a, x);
    if x < a.max(1.0) {
        let lower = kernel / a * series(a, x);
        GammaTails { lower, upper: 1.0 - lower, kernel }
    } else {
        let upper = kernel * fraction(a, x);
        GammaTails { lower: 1.0 - upper, upper, kernel }
    }
}

/// 1 + x/(a+1) + x^2/((a+1)(a+2)) + ...
fn series(a: f64, x: f64) -> f64 {
    let mut sum = 1.0;
    let mut term = 1.0;
    for k in 1..MOST_TERMS {
        term *= x / (a + k as f64);
        sum += term;
        if term < sum * 1e-17 {
            break;
        }
    }
    sum
}

/// Legendre's fraction 1/(x+1-a - 1(1-a)/(x+3-a - ...)) by the modified Lentz method.
fn fraction(a: f64, x: f64) -> f64 {
    let base = x - a;
    let mut b = base + 1.0;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / if b.abs() < TINY { TINY } else { b };
    let mut h = d;
    for k in 1..MOST_TERMS {
        let k = k as f64;
        let numerator = -k * (k - a);
        b = base + (2.0 * k + 1.0);
        d = numerator * d + b;
        c = b + numerator / c;
        if d.abs() < TINY {
            d = TINY;
        }
        if c.abs() < TINY {
            c = TINY;
        }
        d = 1.0 / d;
        let change = d * c;
        h *= change;
        if (change - 1.0).abs() < 2.5e-16 {
            break;
        }
    }
    h
}
