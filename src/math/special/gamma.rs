//! The gamma function and its kin: logarithms of gamma, beta and choose, and trigamma. Digamma is that of statrs.

use super::stirling::{LN_SQRT_TWO_PI, stirling_error};

/// ln Gamma(x) for x > 0.
#[inline]
#[must_use]
pub fn ln_gamma(x: f64) -> f64 {
    libm::lgamma(x)
}

/// ln Gamma(x + k) - ln Gamma(x) without cancellation, x > 0, k >= 0.
#[inline]
#[must_use]
pub fn ln_rising(x: f64, k: f64) -> f64 {
    if k == 0.0 {
        return 0.0;
    }
    if x < 2.0 && x + k < 20.0 {
        return libm::lgamma(x + k) - libm::lgamma(x);
    }
    let end = x + k;
    let small = if x < 1e-3 { libm::lgamma(x) } else { f64::NAN };
    if !small.is_nan() {
        return libm::lgamma(end) - small;
    }
    (x - 0.5) * (k / x).ln_1p() + k * (end.ln() - 1.0) + stirling_error(end) - stirling_error(x)
}

/// ln B(a, b) = ln Gamma(a) + ln Gamma(b) - ln Gamma(a + b) for a, b > 0, without cancellation.
///
/// ```
/// // B(2, 3) = 1! 2! / 4! = 1 / 12
/// approx::assert_abs_diff_eq!(rootling::math::special::ln_beta(2.0, 3.0), -(12.0_f64.ln()), epsilon = 1e-15);
/// ```
#[inline]
#[must_use]
pub fn ln_beta(a: f64, b: f64) -> f64 {
    let (small, large) = if a <= b { (a, b) } else { (b, a) };
    if small < 10.0 {
        return if large < 10.0 {
            libm::lgamma(small) + libm::lgamma(large) - libm::lgamma(small + large)
        } else {
            libm::lgamma(small) - ln_rising(large, small)
        };
    }
    let n = a + b;
    let corrections = stirling_error(small) + stirling_error(large) - stirling_error(n);
    LN_SQRT_TWO_PI + corrections - 0.5 * large.ln() + (small - 0.5) * (small / n).ln() + large * (-small / n).ln_1p()
}

/// ln of n choose k for real 0 <= k <= n; minus infinity outside, NaN for NaN.
///
/// ```
/// // 240 choose 1 = 240
/// let got = rootling::math::special::ln_choose(240.0, 1.0);
/// approx::assert_relative_eq!(got, 240.0_f64.ln(), epsilon = 0.0, max_relative = 1e-14);
/// ```
#[inline]
#[must_use]
pub fn ln_choose(n: f64, k: f64) -> f64 {
    if n.is_nan() || k.is_nan() {
        return f64::NAN;
    }
    if k < 0.0 || k > n {
        return f64::NEG_INFINITY;
    }
    let k = k.min(n - k);
    if k == 0.0 {
        return 0.0;
    }
    if k == 1.0 {
        return n.ln();
    }
    let rest = n - k;
    let corrections = stirling_error(n) - stirling_error(k) - stirling_error(rest);
    let spread = -k * (k / n).ln() - rest * (-k / n).ln_1p();
    spread + corrections + 0.5 * (n / (k * rest)).ln() - LN_SQRT_TWO_PI
}

/// Trigamma, the second derivative of ln Gamma.
///
/// # References
/// Abramowitz & Stegun 1964, 6.4.6, 6.4.7 and 6.4.12.
#[must_use]
pub fn trigamma(x: f64) -> f64 {
    if x <= 0.0 {
        if x == x.floor() {
            return f64::NAN;
        }
        let sine = (std::f64::consts::PI * x).sin();
        return (std::f64::consts::PI / sine).powi(2) - trigamma(1.0 - x);
    }
    let mut shift = 0.0;
    let mut z = x;
    while z < 12.0 {
        shift += 1.0 / (z * z);
        z += 1.0;
    }
    let w = 1.0 / (z * z);
    let tail = w
        * (1.0 / 6.0
            - w * (1.0 / 30.0
                - w * (1.0 / 42.0 - w * (1.0 / 30.0 - w * (5.0 / 66.0 - w * (691.0 / 2730.0 - w * (7.0 / 6.0)))))));
    shift + 1.0 / z + 0.5 * w + tail / z
}
