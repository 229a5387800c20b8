//! Binomial distribution: k of n at probability p.

use crate::math::special::{Saddle, Share, regularised};

#[inline]
fn known(k: f64, n: f64, p: f64) -> bool {
    !k.is_nan() && n >= 0.0 && n.is_finite() && (0.0..=1.0).contains(&p)
}

/// Cases in which the saddle-point form does not apply.
#[inline]
fn edge(k: f64, n: f64, p: f64) -> Option<f64> {
    if !known(k, n, p) {
        return Some(f64::NAN);
    }
    if k < 0.0 || k > n || k != k.floor() {
        return Some(f64::NEG_INFINITY);
    }
    if p == 0.0 || p == 1.0 {
        return Some(if k == n * p { 0.0 } else { f64::NEG_INFINITY });
    }
    if k == 0.0 {
        return Some(n * (-p).ln_1p());
    }
    if k == n {
        return Some(n * p.ln());
    }
    None
}

/// ln P(X = k); minus infinity where k cannot occur.
///
/// # References
/// Loader 2000, Fast and accurate computation of binomial probabilities.
#[inline]
#[must_use]
pub fn ln_pmf(k: f64, n: f64, p: f64) -> f64 {
    edge(k, n, p).unwrap_or_else(|| Saddle::new(k, n - k).ln_probability(Share::new(p)))
}

/// P(X = k).
///
/// ```
/// // 4 choose 2 / 2^4 = 3 / 8
/// let got = rootling::math::distributions::binomial::pmf(2.0, 4.0, 0.5);
/// approx::assert_relative_eq!(got, 0.375, epsilon = 0.0, max_relative = 1e-14);
/// ```
#[inline]
#[must_use]
pub fn pmf(k: f64, n: f64, p: f64) -> f64 {
    match edge(k, n, p) {
        Some(ln) => ln.exp(),
        None => Saddle::new(k, n - k).probability(Share::new(p)),
    }
}

/// P(X <= k) and P(X > k) = `I_p(k` + 1, n - k).
#[inline]
fn tails(k: f64, n: f64, p: f64) -> (f64, f64) {
    if !known(k, n, p) {
        return (f64::NAN, f64::NAN);
    }
    let k = k.floor();
    if k < 0.0 {
        return (0.0, 1.0);
    }
    if k >= n {
        return (1.0, 0.0);
    }
    let (upper, lower) = regularised(k + 1.0, n - k, Share::new(p));
    (lower, upper)
}

/// P(X <= k).
#[inline]
#[must_use]
pub fn cdf(k: f64, n: f64, p: f64) -> f64 {
    tails(k, n, p).0
}

/// P(X > k).
#[inline]
#[must_use]
pub fn sf(k: f64, n: f64, p: f64) -> f64 {
    tails(k, n, p).1
}
