//! Limits where the likelihood ratio statistic equals the squared normal quantile.

use super::search::root_from;
use crate::error::Result;

/// Rates p with `2 (l(x/n) - l(p)) <= z^2`.
pub(super) fn likelihood(rooted: f64, stuck: f64, z: f64) -> Result<(f64, f64)> {
    let missed = stuck - rooted;
    let reach = z * z;
    if rooted <= 0.0 {
        return Ok((0.0, -(-0.5 * reach / stuck).exp_m1()));
    }
    if missed <= 0.0 {
        return Ok(((-0.5 * reach / stuck).exp(), 1.0));
    }
    let centre = (rooted / missed).ln();
    let step = z * (1.0 / rooted + 1.0 / missed).sqrt();
    let best = rooted * (rooted / stuck).ln() + missed * (missed / stuck).ln();
    // ln p = -ln(1 + e^-t) and ln(1 - p) = -ln(1 + e^t) at logit t
    let distance = |t: f64| 2.0 * (best + rooted * softplus(-t) + missed * softplus(t));
    let low = root_from(|t| reach - distance(t.min(centre)), centre - step, 0.25 * step, 1e-13)?;
    let high = root_from(|t| distance(t.max(centre)) - reach, centre + step, 0.25 * step, 1e-13)?;
    Ok((1.0 / (1.0 + (-low).exp()), 1.0 / (1.0 + (-high).exp())))
}

/// `ln(1 + e^t)` without overflow.
fn softplus(t: f64) -> f64 {
    t.max(0.0) + (-t.abs()).exp().ln_1p()
}
