//! Quantiles by inverting the logarithm of a tail.
//!
//! On the scale t (normal: x, gamma: ln x, beta: logit x) the density is log-concave, so the logarithm of either tail
//! is concave: Newton's steps cannot run away, and near the root the third-order inverse series settles in one or two.

/// A tail and its slopes at t.
#[derive(Debug, Clone, Copy)]
pub(crate) struct TailAt {
    /// ln of the tail.
    pub ln_tail: f64,
    /// Density on the t scale divided by the tail.
    pub hazard: f64,
    /// Derivative of the log density.
    pub slope: f64,
    /// Second derivative of the log density.
    pub bend: f64,
}

const MOST_STEPS: usize = 200;

/// Solves ln tail(t) = `target`; `side` is 1.0 for a lower tail and -1.0 for an upper one.
#[inline]
pub(crate) fn solve_tail(start: f64, target: f64, side: f64, tail: impl Fn(f64) -> TailAt) -> f64 {
    let mut t = start;
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for _ in 0..MOST_STEPS {
        let at = tail(t);
        let miss = at.ln_tail - target;
        if miss == 0.0 {
            return t;
        }
        if side * miss > 0.0 {
            high = t;
        } else {
            low = t;
        }
        let (step, sure) = inverse_series(miss, side, &at);
        let mut next = t + step;
        // The step is below rounding: t itself is now an end of the bracket.
        if next == t {
            return t;
        }
        if !(next > low && next < high) {
            next = inside(low, high, t, side * miss < 0.0);
        } else if sure || step.abs() <= 2e-16 * t.abs() {
            return next;
        }
        t = next;
    }
    t
}

/// The step by the inverse series, and whether what it leaves out is below rounding.
#[inline]
fn inverse_series(miss: f64, side: f64, at: &TailAt) -> (f64, bool) {
    let newton = -miss * side / at.hazard;
    let first = at.slope - side * at.hazard;
    let second = first * first + at.bend - side * at.hazard * first;
    let size = (first.abs() + second.abs().sqrt()) * newton.abs();
    if size.is_nan() || size > 0.7 {
        return (newton, false);
    }
    let series = newton * (1.0 - 0.5 * first * newton + (0.5 * first * first - second / 6.0) * newton * newton);
    (series, size < 1e-4)
}

/// A point inside the bracket, or a long stride while one end is open.
fn inside(low: f64, high: f64, t: f64, upward: bool) -> f64 {
    match (low.is_finite(), high.is_finite()) {
        (true, true) => 0.5 * (low + high),
        _ if upward => t + t.abs().max(1.0),
        _ => t - t.abs().max(1.0),
    }
}
