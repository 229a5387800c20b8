//! Regularised incomplete beta function `I_x(a`, b).
//!
//! Continued fraction in the form that holds lambda = a - (a + b) x, so that nothing cancels near the mean; the factor
//! x^a y^b / B(a, b) in saddle-point form.
//!
//! # References
//! Didonato & Morris 1992, ACM Trans. Math. Softw. 18:360-373; Loader 2000.

use super::stirling::{Saddle, Share};

/// Enough at the mean of 2^53 cuttings; elsewhere some tens suffice.
const MOST_TERMS: usize = 20_000_000;
/// Relative change of rounding size, which need not fall any further.
const ROUNDING: f64 = 4e-15;

/// Lower and upper tail, and the factor x^a y^b / B(a, b).
#[derive(Debug, Clone, Copy)]
pub(crate) struct BetaTails {
    pub lower: f64,
    pub upper: f64,
    pub kernel: f64,
}

/// Both tails at a, b > 0 and 0 < x < 1; the smaller one is never taken as 1 minus the other.
#[inline]
pub(crate) fn beta_tails(shape: &Saddle, at: Share) -> BetaTails {
    let (a, b) = (shape.a, shape.b);
    let kernel = shape.kernel(at);
    if at.x * (a + b + 2.0) < a + 1.0 {
        let lower = (kernel * fraction(a, b, at)).min(1.0);
        BetaTails { lower, upper: 1.0 - lower, kernel }
    } else {
        let upper = (kernel * fraction(b, a, at.swapped())).min(1.0);
        BetaTails { lower: 1.0 - upper, upper, kernel }
    }
}

/// `I_x(a`, b) B(a, b) / (x^a y^b), by forward recurrence of numerator and denominator.
fn fraction(a: f64, b: f64, at: Share) -> f64 {
    let (x, y) = (at.x, at.y);
    let product = b * x;
    let lost = b.mul_add(x, -product);
    let lambda = a.mul_add(y, -product) - lost + a * at.y_low - b * at.x_low;
    let c = 1.0 + lambda;
    let mut before = (0.0, 1.0);
    let mut now = (1.0, a / (a + 1.0) * c);
    let mut value = now.0 / now.1;
    let mut last = f64::INFINITY;
    for n in 1..MOST_TERMS {
        let n = n as f64;
        let s = a + 2.0 * n - 1.0;
        let w = n * (b - n) * x;
        let inverse = 1.0 / (s * (s + 2.0));
        let over_s = (s + 2.0) * inverse;
        let alpha = (a + n - 1.0) * over_s * ((a + b + n - 1.0) * over_s) * (w * x);
        let beta = n + w * over_s + (a + n) * (s * inverse) * (c + n * (1.0 + y));
        let top = alpha * before.0 + beta * now.0;
        let bottom = alpha * before.1 + beta * now.1;
        let scale = 1.0 / bottom;
        let next = top * scale;
        before = (now.0 * scale, now.1 * scale);
        now = (next, 1.0);
        let change = ((next - value) / next).abs();
        // No term mends what is no number.
        let settled = change <= 2.5e-16 || (change <= ROUNDING && change >= last) || change.is_nan();
        (value, last) = (next, change);
        if settled {
            break;
        }
    }
    value
}

/// `I_x(a`, b) and its complement, with the ends handled.
#[inline]
pub(crate) fn regularised(a: f64, b: f64, at: Share) -> (f64, f64) {
    if !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) || at.x.is_nan() || at.y.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if at.x <= 0.0 {
        return (0.0, 1.0);
    }
    if at.y <= 0.0 {
        return (1.0, 0.0);
    }
    let tails = beta_tails(&Saddle::new(a, b), at);
    (tails.lower, tails.upper)
}
