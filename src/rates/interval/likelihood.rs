//! Limits where the likelihood ratio statistic equals the squared normal quantile.

use crate::error::Result;
use crate::math::search::root_from;

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
    let (rate, miss) = (rooted / stuck, missed / stuck);
    let step = z * (1.0 / rooted + 1.0 / missed).sqrt();
    // twice the log-likelihood lost when the logit moves by t from that of x/n
    let lost = |t: f64| 2.0 * (rooted * (miss * (-t).exp_m1()).ln_1p() + missed * (rate * t.exp_m1()).ln_1p());
    let tol = 1e-13 * step.min(1.0);
    let low = root_from(|t| reach - lost(t.min(0.0)), -step, 0.25 * step, tol)?;
    let high = root_from(|t| lost(t.max(0.0)) - reach, step, 0.25 * step, tol)?;
    let moved = |t: f64| rooted / (rooted + missed * (-t).exp());
    Ok((moved(low), moved(high)))
}
