//! From the rate of a typical tray to the rate over all trays, and the latent ICC.

use std::f64::consts::PI;

use crate::math::regression::Link;
use crate::math::special::normal_mean;

/// A population rate and how it moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarginalRate {
    /// `E p(eta + s Z)`: the share rooted over all trays, 0 to 1.
    pub rate: f64,
    /// Its derivative by `eta`.
    pub by_eta: f64,
    /// Its derivative by `s`.
    pub by_deviation: f64,
}

/// The rate over all trays (marginal, population) when the linear predictor of a tray is normal around `eta` with SD
/// `deviation`, all random intercepts together: `sqrt(s1^2 + s2^2 + ..)`.
///
/// The rate of a typical tray (conditional) is `p(eta)`; for rates away from 1/2 the marginal one lies nearer to 1/2 with the
/// logit. The two agree at SD 0 only.
///
/// # References
/// Zeger, Liang and Albert (1988), Biometrics 44:1049-1060.
///
/// ```
/// use rootling::math::regression::Link;
/// use rootling::models::mixed::marginal_rate;
/// // probit: E Phi(eta + s Z) = Phi(eta / sqrt(1 + s^2)); Phi(0.6 / 1.25) = Phi(0.48)
/// let rate = marginal_rate(Link::Probit, 0.6, 0.75).rate;
/// approx::assert_abs_diff_eq!(rate, rootling::math::distributions::normal::cdf(0.48), epsilon = 1e-14);
/// ```
#[must_use]
pub fn marginal_rate(link: Link, eta: f64, deviation: f64) -> MarginalRate {
    let s = deviation.abs();
    if link == Link::Logit && eta.abs() + FARTHEST * s < 600.0 {
        return logit_rate(eta, s);
    }
    // The nearest pole of p(eta + s z) (or, for the log-log links, the edge of its bounded strip) is pi / s or pi / (2 s) from the
    // real axis; ten steps fit in it.
    let step = if s > 0.0 { (0.25 / s).min(0.4) } else { 0.4 };
    let [rate, by_eta, by_deviation] = normal_mean(
        |z| {
            let point = link.rates(eta + s * z);
            [point.mean, point.slope(), z * point.slope()]
        },
        step,
    );
    MarginalRate { rate, by_eta, by_deviation }
}

/// Nodes of the logit's rate end here, in SDs.
const FARTHEST: f64 = 8.7;

/// The same for the logit: from one evenly spaced node to the next the odds grow by one factor, and what the normal density falls by
/// falls by one factor, so that a node needs a division and no exponential. The nearest pole lies at least seven steps from the real axis.
fn logit_rate(eta: f64, s: f64) -> MarginalRate {
    let step = if s > 0.0 { (0.4 / s).min(0.5) } else { 0.5 };
    let (odds, times) = (eta.exp(), (s * step).exp());
    let inverse = 1.0 / times;
    let at = |odds: f64| {
        let rest = 1.0 / (1.0 + odds);
        let mean = odds * rest;
        (mean, mean * rest)
    };
    let (mean, slope) = at(odds);
    let (mut whole, mut rate, mut by_eta, mut by_deviation) = (1.0, mean, slope, 0.0);
    let (mut weight, mut falls, falls_by) = (1.0, (-0.5 * step * step).exp(), (-step * step).exp());
    let (mut above, mut below) = (odds, odds);
    for k in 1..=(FARTHEST / step) as i32 {
        weight *= falls;
        falls *= falls_by;
        above *= times;
        below *= inverse;
        let ((high, steep), (low, flat)) = (at(above), at(below));
        whole += 2.0 * weight;
        rate += weight * (high + low);
        by_eta += weight * (steep + flat);
        by_deviation += weight * f64::from(k) * step * (steep - flat);
    }
    // Weights add up to 1 but for rounding and what lies beyond the last node.
    MarginalRate { rate: rate / whole, by_eta: by_eta / whole, by_deviation: by_deviation / whole }
}

/// The latent intraclass correlation `s^2 / (s^2 + v)` of a random intercept with variance `share` out of all random variance
/// `total` (the same for a single intercept); `v` is the variance of the link's tolerance law. It is not the beta-binomial rho.
///
/// ```
/// use rootling::math::regression::Link;
/// use rootling::models::mixed::latent_icc;
/// // pi^2 / 3 = 3.2899
/// approx::assert_abs_diff_eq!(latent_icc(Link::Logit, 0.25, 0.25), 0.25 / (0.25 + 3.2899), epsilon = 1e-6);
/// ```
#[must_use]
pub fn latent_icc(link: Link, share: f64, total: f64) -> f64 {
    let own = match link {
        Link::Logit => PI * PI / 3.0,
        Link::Probit => 1.0,
        Link::ComplementaryLogLog | Link::LogLog => PI * PI / 6.0,
    };
    share / (total + own)
}
