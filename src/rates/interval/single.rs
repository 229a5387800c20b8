//! One interval from whole counts.

use super::{IntervalMethod, blaker, exact, likelihood, normal_theory};
use crate::error::Result;
use crate::estimate::{Count, Estimate, check_level};
use crate::math::distributions::normal;

/// Interval for the take rate of `count`, both between 0 and 1, at confidence `level` (0 to 1).
///
/// The cuttings are taken as independent. When they share trays, the interval is too narrow: use
/// [`take_rates`](crate::rates) on the trial instead. Wald and Agresti-Coull limits are not cut at 0 and 1.
///
/// # Errors
/// [`CountError`](crate::error::CountError) for an impossible count or level.
///
/// # References
/// Wilson 1927, J. Am. Stat. Assoc. 22:209-212; Clopper & Pearson 1934, Biometrika 26:404-413; Agresti & Coull 1998,
/// Am. Stat. 52:119-126; Newcombe 1998, Stat. Med. 17:857-872; Blaker 2000, Can. J. Stat. 28:783-798; Brown, Cai &
/// DasGupta 2001, Stat. Sci. 16:101-133.
///
/// ```
/// use rootling::{Count, rates::{IntervalMethod, interval}};
/// let take = interval(Count { rooted: 14, stuck: 20 }, IntervalMethod::Wilson, 0.95)?;
/// assert!(take.conf_low < 0.7 && 0.7 < take.conf_high);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn interval(count: Count, method: IntervalMethod, level: f64) -> Result<Estimate> {
    count.check()?;
    let reach = Reach::at_level(check_level(level)?);
    let (conf_low, conf_high) = limits(count, method, reach)?;
    let value = count.rate();
    let std_error = match method {
        IntervalMethod::Wald => Some((value * (1.0 - value) / count.stuck as f64).sqrt()),
        _ => None,
    };
    Ok(Estimate { value, std_error, conf_low, conf_high, level, method: method.name().to_owned() })
}

/// How far the limits reach: a quantile and the one-sided tail that goes with it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reach {
    pub(super) critical: f64,
    pub(super) tail: f64,
}

impl Reach {
    /// Normal quantile and tail of a two-sided level.
    pub(super) fn at_level(level: f64) -> Self {
        let tail = 0.5 * (1.0 - level);
        Self { critical: normal::isf(tail), tail }
    }
}

/// Limits for a count that has been checked.
pub(super) fn limits(count: Count, method: IntervalMethod, reach: Reach) -> Result<(f64, f64)> {
    let (rooted, stuck) = (count.rooted as f64, count.stuck as f64);
    let (low, high) = match method {
        IntervalMethod::Wald => normal_theory::wald(rooted, stuck, reach.critical),
        IntervalMethod::Wilson => normal_theory::wilson(rooted, stuck, reach.critical),
        IntervalMethod::WilsonCorrected => normal_theory::wilson_corrected(rooted, stuck, reach.critical),
        IntervalMethod::AgrestiCoull => normal_theory::agresti_coull(rooted, stuck, reach.critical),
        IntervalMethod::ClopperPearson => exact::clopper_pearson(rooted, stuck, reach.tail),
        IntervalMethod::Jeffreys => exact::jeffreys(rooted, stuck, reach.tail),
        IntervalMethod::MidP => exact::mid_p(rooted, stuck, reach.tail)?,
        IntervalMethod::Likelihood => likelihood::likelihood(rooted, stuck, reach.critical)?,
        IntervalMethod::Blaker => blaker::blaker(rooted, stuck, reach.tail)?,
    };
    // each of these intervals holds the estimate; rounding of huge counts must not part them
    let rate = count.rate();
    Ok((low.min(rate), high.max(rate)))
}
