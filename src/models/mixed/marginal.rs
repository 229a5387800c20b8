//! From the rate of a typical tray to the rate over all trays, and the latent ICC.

use std::f64::consts::PI;

use crate::math::irls::Link;
use crate::math::quadrature::normal_mean;

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
/// use rootling::math::irls::Link;
/// use rootling::models::mixed::marginal_rate;
/// // probit: E Phi(eta + s Z) = Phi(eta / sqrt(1 + s^2)); Phi(0.6 / 1.25) = Phi(0.48)
/// let rate = marginal_rate(Link::Probit, 0.6, 0.75).rate;
/// assert!((rate - rootling::math::distributions::normal::cdf(0.48)).abs() < 1e-14);
/// ```
#[must_use]
pub fn marginal_rate(link: Link, eta: f64, deviation: f64) -> MarginalRate {
    let s = deviation.abs();
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

/// The latent intraclass correlation `s^2 / (s^2 + v)` of a random intercept with variance `share` out of all random variance
/// `total` (the same for a single intercept); `v` is the variance of the link's tolerance law. It is not the beta-binomial rho.
///
/// ```
/// use rootling::math::irls::Link;
/// use rootling::models::mixed::latent_icc;
/// // pi^2 / 3 = 3.2899
/// assert!((latent_icc(Link::Logit, 0.25, 0.25) - 0.25 / (0.25 + 3.2899)).abs() < 1e-6);
/// ```
#[must_use]
pub fn latent_icc(link: Link, share: f64, total: f64) -> f64 {
    let own = match link {
        Link::Logit => PI * PI / 3.0,
        Link::Probit => 1.0,
        Link::Cloglog | Link::Loglog => PI * PI / 6.0,
    };
    share / (total + own)
}
