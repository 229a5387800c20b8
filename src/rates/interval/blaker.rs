//! Limits of Blaker's acceptability function, found piece by piece.
//!
//! For p above x/n the function is `P(X <= x) + P(X >= k)`, where k is the smallest count whose upper tail does not
//! exceed `P(X <= x)`. It falls and then rises between the rates at which k changes and jumps down there, so the upper
//! limit is either the last such jump below the Clopper-Pearson limit or a root between that jump and that limit.
//! Beyond some 10^12 cuttings the tails no longer resolve the jump; the Clopper-Pearson limit, a little wider, then stands.

use super::exact::clopper_pearson;
use crate::error::Result;
use crate::math::distributions::beta_table::BetaPoints;
use crate::math::distributions::binomial;
use crate::math::search::{boundary, brent};

/// Both limits; each lies inside the Clopper-Pearson interval.
pub(super) fn blaker(rooted: f64, stuck: f64, tail: f64) -> Result<(f64, f64)> {
    let high = upper(rooted, stuck, tail)?;
    let low = 1.0 - upper(stuck - rooted, stuck, tail)?;
    Ok((low, high))
}

fn upper(rooted: f64, stuck: f64, tail: f64) -> Result<f64> {
    if rooted >= stuck {
        return Ok(1.0);
    }
    let (_, outer) = clopper_pearson(rooted, stuck, &BetaPoints::each(tail));
    let far = first_not_heavier(rooted, stuck, outer, tail);
    if far <= rooted + 1.0 {
        return Ok(outer);
    }
    let lower_tail = |p: f64| binomial::cdf(rooted, stuck, p);
    let upper_tail = |k: f64, p: f64| binomial::sf(k - 1.0, stuck, p);
    let difference = |p: f64| upper_tail(far - 1.0, p) - lower_tail(p);
    let Ok(jump) = brent(difference, rooted / stuck, outer, 1e-15) else {
        return Ok(outer);
    };
    let excess = |p: f64| lower_tail(p) + upper_tail(far, p) - 2.0 * tail;
    if excess(jump) <= 0.0 || excess(outer) >= 0.0 {
        return Ok(if excess(jump) <= 0.0 { jump } else { outer });
    }
    brent(excess, jump, outer, 1e-15)
}

/// Smallest k above `rooted` with `P(X >= k) <= limit`; at most `stuck + 1`.
fn first_not_heavier(rooted: f64, stuck: f64, rate: f64, limit: f64) -> f64 {
    boundary(rooted, stuck + 1.0, |k| binomial::sf(k - 1.0, stuck, rate) <= limit)
}
