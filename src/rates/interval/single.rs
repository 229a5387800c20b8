//! One interval from whole counts.

use super::{IntervalMethod, blaker, exact, likelihood, normal_theory};
use crate::choice::choice;
use crate::error::{CountError, Result};
use crate::estimate::{Count, Estimate, check_level};
use crate::math::distributions::beta_table::BetaPoints;
use crate::math::distributions::normal;

/// Interval for the take rate of `count`, both between 0 and 1, at confidence `level` (0 to 1).
///
/// The cuttings are taken as independent. When they share trays, the interval is too narrow: use
/// [`take_rates`](crate::rates) on the trial instead. Wald and Agresti-Coull limits end at 0 and 1, which their formulas can pass.
/// A limit that misses the rate, as some do at a low level, is moved out to it.
///
/// # Errors
/// [`CountError`](crate::error::CountError) for an impossible count or level.
///
/// # References
/// Wilson 1927, J. Am. Stat. Assoc. 22:209-212; Clopper & Pearson 1934, Biometrika 26:404-413; Agresti & Coull 1998,
/// Am. Stat. 52:119-126; Newcombe 1998, Stat. Med. 17:857-872; Blaker 2000, Can. J. Stat. 28:783-798; Brown, Cai &
/// `DasGupta` 2001, Stat. Sci. 16:101-133.
///
/// ```
/// use rootling::{Count, rates::{IntervalMethod, interval}};
/// let take = interval(Count { rooted: 14, stuck: 20 }, IntervalMethod::Wilson, 0.95)?;
/// assert!(take.low < 0.7 && 0.7 < take.high);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn interval(count: Count, method: IntervalMethod, level: f64) -> Result<Estimate<IntervalMethod>> {
    count.check()?;
    let reach = Reach::new(check_level(level)?, method, Sides::Both)?;
    let (low, high) = limits(count, method, &reach)?;
    let value = count.rate();
    let se = match method {
        IntervalMethod::Wald => Some((value * (1.0 - value) / count.stuck as f64).sqrt()),
        _ => None,
    };
    Ok(Estimate { value, se, low, high, confidence: level, method })
}

/// One-sided confidence bound for the take rate: the limit on one side at the whole of 1 - level; the other end is 0 or 1.
///
/// # Errors
/// [`CountError`] for an impossible count, for a level below 1/2 or at 1 and above; [`CountError::NotDefined`] for the Blaker method,
/// which joins both tails.
///
/// # References
/// As [`interval`]; at 0 rooted the exact bound is `1 - (1 - level)^(1/n)`, near `3/n` at 95 % (Hanley & Lippman-Hand 1983, J.
/// Am. Med. Assoc. 249:1743-1745).
///
/// ```
/// use rootling::{Count, rates::{IntervalMethod, Sides, bound}};
/// let most = bound(Count { rooted: 0, stuck: 60 }, IntervalMethod::ClopperPearson, 0.95, Sides::Upper)?;
/// approx::assert_abs_diff_eq!(most.high, 1.0 - 0.05_f64.powf(1.0 / 60.0), epsilon = 1e-14); // near 3 / 60
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn bound(count: Count, method: IntervalMethod, level: f64, sides: Sides) -> Result<Estimate<IntervalMethod>> {
    count.check()?;
    let reach = Reach::new(check_level(level)?, method, sides)?;
    let (low, high) = limits(count, method, &reach)?;
    Ok(Estimate { value: count.rate(), se: None, low, high, confidence: level, method })
}

/// Which limits are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Sides {
    /// A two-sided interval.
    #[default]
    Both,
    /// A lower bound only.
    Lower,
    /// An upper bound only.
    Upper,
}

choice!(
    Sides, "choice of sides":
    Both = "both",
    Lower = "lower",
    Upper = "upper",
);

/// How far the limits reach: a quantile and the one-sided tail that goes with it.
#[derive(Debug, Clone)]
pub(super) struct Reach {
    critical: f64,
    points: BetaPoints,
    sides: Sides,
}

impl Reach {
    /// Normal quantile and tail of a two-sided or one-sided level.
    pub(super) fn new(level: f64, method: IntervalMethod, sides: Sides) -> Result<Self> {
        let of = |tail: f64| Self { critical: normal::isf(tail), points: BetaPoints::each(tail), sides };
        if sides == Sides::Both {
            return Ok(of(0.5 * (1.0 - level)));
        }
        if level < 0.5 {
            let name = "confidence of a one-sided bound";
            return Err(CountError::OutOfRange { name, value: level, low: 0.5, high: 1.0 }.into());
        }
        if method == IntervalMethod::Blaker {
            return Err(CountError::NotDefined {
                what: "a one-sided blaker bound",
                why: "the method joins both tails; use clopper-pearson",
            }
            .into());
        }
        Ok(of(1.0 - level))
    }

    /// For long lists.
    pub(super) fn tabulated(self) -> Self {
        Self { points: BetaPoints::tabulated(self.points.tail()), ..self }
    }
}

/// Limits for numbers that have been checked, at a critical value and at points of beta distributions that belong to it.
pub(super) fn of_numbers(
    rooted: f64,
    stuck: f64,
    method: IntervalMethod,
    (critical, points): (f64, &BetaPoints),
) -> Result<(f64, f64)> {
    Ok(match method {
        IntervalMethod::Wald => normal_theory::wald(rooted, stuck, critical),
        IntervalMethod::Wilson => normal_theory::wilson(rooted, stuck, critical),
        IntervalMethod::WilsonCorrected => normal_theory::wilson_corrected(rooted, stuck, critical),
        IntervalMethod::AgrestiCoull => normal_theory::agresti_coull(rooted, stuck, critical),
        IntervalMethod::ClopperPearson => exact::clopper_pearson(rooted, stuck, points),
        IntervalMethod::Jeffreys => exact::jeffreys(rooted, stuck, points),
        IntervalMethod::MidP => exact::mid_p(rooted, stuck, points.tail())?,
        IntervalMethod::Likelihood => likelihood::likelihood(rooted, stuck, critical)?,
        IntervalMethod::Blaker => blaker::blaker(rooted, stuck, points.tail())?,
    })
}

/// Limits for a count that has been checked.
pub(super) fn limits(count: Count, method: IntervalMethod, reach: &Reach) -> Result<(f64, f64)> {
    let (rooted, stuck) = (count.rooted as f64, count.stuck as f64);
    let (low, high) = of_numbers(rooted, stuck, method, (reach.critical, &reach.points))?;
    // each of these intervals holds the estimate; rounding of huge counts must not part them, and no take lies outside 0 to 1
    let rate = count.rate();
    let (low, high) = (low.min(rate).max(0.0), high.max(rate).min(1.0));
    Ok(match reach.sides {
        Sides::Both => (low, high),
        Sides::Lower => (low, 1.0),
        Sides::Upper => (0.0, high),
    })
}
