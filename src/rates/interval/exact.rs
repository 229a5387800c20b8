//! Limits from binomial tails and their beta form: Clopper-Pearson, Jeffreys, mid-P.

use crate::error::Result;
use crate::math::distributions::beta_table::BetaPoints;
use crate::math::distributions::binomial;
use crate::math::search::root_from;

/// Each tail equals that of `points` at its limit.
pub(super) fn clopper_pearson(rooted: f64, stuck: f64, points: &BetaPoints) -> (f64, f64) {
    let (missed, tail) = (stuck - rooted, points.tail());
    let low = if rooted <= 0.0 {
        0.0
    } else if missed <= 0.0 {
        (tail.ln() / stuck).exp()
    } else {
        points.lower(rooted, missed + 1.0)
    };
    let high = if missed <= 0.0 {
        1.0
    } else if rooted <= 0.0 {
        -(tail.ln() / stuck).exp_m1()
    } else {
        points.upper(rooted + 1.0, missed)
    };
    (low, high)
}

/// Quantiles of Beta(x + 1/2, n - x + 1/2); 0 at none and 1 at all rooted.
pub(super) fn jeffreys(rooted: f64, stuck: f64, points: &BetaPoints) -> (f64, f64) {
    let (a, b) = (rooted + 0.5, stuck - rooted + 0.5);
    let low = if rooted <= 0.0 { 0.0 } else { points.lower(a, b) };
    let high = if rooted >= stuck { 1.0 } else { points.upper(a, b) };
    (low, high)
}

/// `P(X < x) + P(X = x) / 2` at the upper limit, and its mirror at the lower, equal `tail`.
pub(super) fn mid_p(rooted: f64, stuck: f64, tail: f64) -> Result<(f64, f64)> {
    let missed = stuck - rooted;
    let start = ((rooted + 0.5) / (missed + 0.5)).ln();
    let step = (1.0 / (rooted + 0.5) + 1.0 / (missed + 0.5)).sqrt();
    let rate = |logit: f64| 1.0 / (1.0 + (-logit).exp());
    let low = if rooted <= 0.0 {
        0.0
    } else if missed <= 0.0 {
        ((2.0 * tail).ln() / stuck).exp()
    } else {
        let upper_tail = |p: f64| 0.5 * (binomial::sf(rooted - 1.0, stuck, p) + binomial::sf(rooted, stuck, p));
        rate(root_from(|t| upper_tail(rate(t)) - tail, start, step, 1e-13)?)
    };
    let high = if missed <= 0.0 {
        1.0
    } else if rooted <= 0.0 {
        -((2.0 * tail).ln() / stuck).exp_m1()
    } else {
        let lower_tail = |p: f64| 0.5 * (binomial::cdf(rooted, stuck, p) + binomial::cdf(rooted - 1.0, stuck, p));
        rate(root_from(|t| tail - lower_tail(rate(t)), start, step, 1e-13)?)
    };
    Ok((low, high))
}
