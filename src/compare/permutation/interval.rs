//! The interval of all shifts that a randomisation test does not refuse.

use serde::{Deserialize, Serialize};

use super::Stratum;
use super::dealing::{Pull, Urns};
use crate::control::Control;
use crate::error::Result;
use crate::estimate::check_level;

/// An interval by inversion of the randomisation test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RandomisationInterval {
    /// The least-squares difference of mean tray rates within strata, second minus first.
    pub value: f64,
    /// Lower limit; minus infinity when the assignments are too few to refuse any shift.
    pub low: f64,
    /// Upper limit; infinity when the assignments are too few.
    pub high: f64,
    /// Confidence asked for.
    pub confidence: f64,
    /// The least confidence that this many assignments attain at or above it; 1 when the interval is the whole line.
    pub attained_confidence: f64,
}

/// Interval for the difference of two arms, if the second arm's trays were all shifted by it (on the scale of the rates).
///
/// A shift `d` is kept when both one-sided randomisation tests of the rates with `d` taken off the second arm have P above
/// `(1 - level) / 2`. With `D` the statistic of [`super::randomisation_test`], `W` the sum of the `w` and `c` what of `W` an
/// assignment keeps, an assignment is as extreme as the observed one at all shifts beyond `(D_observed - D) / (W - c)`: the limits
/// are order statistics of these, found without search. The set is exact for the shift model when all assignments are
/// enumerated; their number sets which levels can be attained, and `attained_confidence` says which one was. With drawn assignments
/// the same ranks of `draws + 1` are used. Not for rates near 0 or 1, where a common shift cannot be.
///
/// # Errors
/// A count error for a level outside (0, 1); [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Hartigan JA (1969), JASA 64:1303-1317 (limits as order statistics); Lehmann EL (1975), Nonparametrics, Holden-Day,
/// section 2.6; both from memory.
///
/// ```
/// use rootling::compare::{Stratum, randomisation_interval};
/// let trays = Stratum { rates: vec![0.1, 0.2, 0.3, 0.7, 0.8, 0.9], second: vec![false, false, false, true, true, true] };
/// let control = rootling::control::Control::new();
/// // 20 assignments cannot give 95 %: the whole line; at 90 % the limits are the smallest and largest single exchange.
/// assert_eq!(randomisation_interval(&[trays.clone()], 0.95, (1, 999), &control)?.low, f64::NEG_INFINITY);
/// let found = randomisation_interval(&[trays], 0.90, (1, 999), &control)?;
/// approx::assert_relative_eq!(found.low, 0.4, epsilon = 0.0, max_relative = 2.5e-12);
/// approx::assert_relative_eq!(found.high, 0.8, epsilon = 0.0, max_relative = 1.2e-12);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn randomisation_interval(
    strata: &[Stratum],
    level: f64,
    (seed, draws): (u64, u64),
    control: &Control,
) -> Result<RandomisationInterval> {
    let level = check_level(level)?;
    let urns = Urns::new(strata);
    let (mut at, all) = if urns.enumerable() {
        let sums = urns.enumerate(control)?;
        (sums.iter().filter_map(|sum| turning_point(&urns, *sum)).collect(), sums.len() as f64)
    } else {
        let parts = urns.draw((seed, draws), control, |sums| {
            let mut points = Vec::new();
            for sum in sums {
                points.extend(turning_point(&urns, sum?));
            }
            Ok(points)
        })?;
        (parts.concat(), (draws + 1) as f64)
    };
    // Assignments equal to the observed one are extreme at every shift.
    let always = all - at.len() as f64;
    let tail = (1.0 - level) / 2.0 * all;
    let refused = (tail + 1e-9 * tail.max(1.0)).floor();
    let rank = refused + 1.0 - always;
    let value = urns.observed.rate / urns.observed.own;
    if rank < 1.0 || rank > at.len() as f64 {
        return Ok(RandomisationInterval {
            value,
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
            confidence: level,
            attained_confidence: 1.0,
        });
    }
    let rank = rank as usize;
    let mut nth = |place: usize| *at.select_nth_unstable_by(place, f64::total_cmp).1;
    let low = nth(rank - 1);
    let last = all as usize - always as usize;
    Ok(RandomisationInterval {
        value,
        low,
        high: nth(last - rank),
        confidence: level,
        attained_confidence: 1.0 - 2.0 * refused / all,
    })
}

/// The shift beyond which an assignment is as extreme as the observed one; none when it deals the same arms.
fn turning_point(urns: &Urns, sum: Pull) -> Option<f64> {
    let kept = urns.observed.own - sum.own;
    // One tray exchanged makes a difference of 1.
    if kept < 0.5 {
        return None;
    }
    let gap = urns.observed.rate - sum.rate;
    Some(if gap.abs() <= urns.slack { 0.0 } else { gap / kept })
}
