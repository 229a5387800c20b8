//! Residuals of single trays, and the probability of a count as far out.

use super::view::View;
use crate::math::distributions::{beta, normal};
use crate::math::rng::{ChaCha8Rng, uniform};
use crate::models::Link;

/// The residuals of one tray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Residuals {
    pub(super) pearson: f64,
    pub(super) standardised: Option<f64>,
    pub(super) deviance: f64,
    pub(super) quantile: f64,
    pub(super) p: f64,
}

/// `pearson`: off over the binomial standard deviation; `standardised`: off over the model's standard deviation of what is off, its
/// own part in the fit taken out; `deviance`: signed root of its part of the binomial deviance; `quantile`: see [`quantile`].
pub(super) fn residuals(view: &View, link: Link, random: &mut ChaCha8Rng) -> Residuals {
    let View { rooted, stuck, mean, variance, .. } = *view;
    let binomial = stuck * mean * (1.0 - mean) / view.weight;
    let tails = view.law.tails(rooted, stuck);
    let left = variance * (1.0 - view.hat);
    Residuals {
        pearson: if binomial > 0.0 { view.off() / binomial.sqrt() } else { 0.0 },
        standardised: (view.hat < 1.0 - 1e-9 && left > 0.0).then(|| view.off() / left.sqrt()),
        deviance: deviance_part(view, link).sqrt().copysign(view.off()),
        quantile: quantile(tails.below, tails.at, tails.above, uniform(random)),
        p: (2.0 * (tails.below + tails.at).min(tails.above + tails.at)).min(1.0),
    }
}

/// `2 (y ln(y / (m p)) + (m - y) ln((m - y) / (m (1 - p))))`, `p` the expected rate.
pub(super) fn deviance_part(view: &View, link: Link) -> f64 {
    let View { rooted, stuck, mean, eta, .. } = *view;
    let point = link.at(eta);
    // Where the expected rate is that of the linear predictor its rest is known without cancellation.
    #[expect(clippy::float_cmp, reason = "the same number, not a near one")]
    let rest = if point.mean == mean { point.rest } else { 1.0 - mean };
    let part = |n: f64, p: f64| if n > 0.0 { n * (n / (stuck * p)).ln() } else { 0.0 };
    (2.0 * view.weight * (part(rooted, mean) + part(stuck - rooted, rest))).max(0.0)
}

/// The standard normal value whose probability is drawn evenly between those of fewer and of at most as many, by Dunn and Smyth (1996).
/// If the model holds, these are standard normal. Taken from the nearer tail, so that none is infinite.
pub(super) fn quantile(below: f64, at: f64, above: f64, share: f64) -> f64 {
    let (low, high) = (below + share * at, above + (1.0 - share) * at);
    let smallest = f64::MIN_POSITIVE;
    if low < high { normal::quantile(low.max(smallest)) } else { normal::isf(high.max(smallest)) }
}

/// One point of the quantile plot. The place of the residual of this rank among `n` standard normal ones, and where 95 % of such
/// values lie.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct QuantilePoint {
    /// Median of the order statistic.
    pub expected: f64,
    /// The residual.
    pub residual: f64,
    /// Lower end of the envelope.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Points of the quantile plot at most.
const MOST_POINTS: usize = 2000;

/// The sorted residuals against the law of standard normal order statistics: the `k`-th of `n` is `Phi^-1` of a beta variable with
/// shapes `k` and `n - k + 1`.
pub(super) fn quantile_plot(residuals: &[f64]) -> Vec<QuantilePoint> {
    let mut sorted = residuals.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let n = sorted.len() as f64;
    // A figure shows no more than this many points; they are taken at even distances.
    let apart = sorted.len().div_ceil(MOST_POINTS).max(1);
    let point = |(index, residual): (usize, f64)| {
        let (a, b) = (index as f64 + 1.0, n - index as f64);
        let at = |p: f64| normal::quantile(beta::quantile(p, a, b));
        QuantilePoint { expected: at(0.5), residual, low: at(0.025), high: at(0.975) }
    };
    sorted.into_iter().enumerate().step_by(apart).map(point).collect()
}
