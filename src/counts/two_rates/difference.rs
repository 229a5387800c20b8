//! Difference of two take rates.

use super::exact::Exact;
use super::score::Pair;
use crate::choice::choice;
use crate::control::Control;
use crate::error::Result;
use crate::estimate::{Count, Estimate, around, check_level};
use crate::math::distributions::normal;
use crate::math::search::brent;
use crate::rates::{wilson, wilson_corrected};

/// How the interval of a difference is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DifferenceMethod {
    /// Score interval with the variance factor N / (N - 1).
    MiettinenNurminen,
    /// Score interval without that factor.
    Mee,
    /// Squared distances of the two Wilson limits, combined.
    Newcombe,
    /// The same from Wilson limits with continuity correction.
    NewcombeCorrected,
    /// Wald form with one rooted and one failed cutting added to each group; not cut at -1 and 1.
    AgrestiCaffo,
    /// Normal quantile times the standard error; not cut at -1 and 1.
    Wald,
    /// Exact: two one-sided unconditional tests on the score statistic, inverted (Chan & Zhang 1999).
    Exact,
}

choice!(
    DifferenceMethod, "difference method":
    MiettinenNurminen = "miettinen-nurminen",
    Mee = "mee",
    Newcombe = "newcombe",
    NewcombeCorrected = "newcombe-corrected",
    AgrestiCaffo = "agresti-caffo",
    Wald = "wald",
    Exact = "exact",
);

/// Difference of take rates, second minus first (-1 to 1), with its interval at confidence `level`.
///
/// The cuttings are taken as independent; when they share trays the interval is too narrow. The default elsewhere is
/// Miettinen-Nurminen: it holds its level in small groups and at 0 and 100 %, where Wald fails. The exact method covers
/// at least the level and is wider; it can be stopped with [`difference_until`]. The formulas of Wald and of Agresti and Caffo can pass -1 and 1,
/// which no difference can: what lies beyond is cut off. That of Agresti and Caffo is centred nearer to 0 than the estimate and can miss it
/// at a low level: a limit that misses the estimate, by whatever method, is moved out to it.
///
/// # Errors
/// [`CountError`](crate::error::CountError) for impossible counts or level, and above 20,000 cuttings for the exact method.
///
/// # References
/// Miettinen & Nurminen 1985, Stat. Med. 4:213-226; Mee 1984, Biometrics 40:1175-1176; Newcombe 1998, Stat. Med.
/// 17:873-890; Agresti & Caffo 2000, Am. Stat. 54:280-288; Chan & Zhang 1999, Biometrics 55:1202-1209.
///
/// ```
/// use rootling::{Count, counts::{DifferenceMethod, difference}};
/// let (strong, weak) = (Count { rooted: 56, stuck: 70 }, Count { rooted: 48, stuck: 80 });
/// let gain = difference(weak, strong, DifferenceMethod::MiettinenNurminen, 0.95)?;
/// approx::assert_relative_eq!(gain.value, 0.2, epsilon = 0.0, max_relative = 5e-12);
/// assert!(gain.low > 0.05);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn difference(
    first: Count,
    second: Count,
    method: DifferenceMethod,
    level: f64,
) -> Result<Estimate<DifferenceMethod>> {
    difference_until(first, second, method, level, &Control::new())
}

/// [`difference`] under a control that can stop the exact method.
///
/// # Errors
/// As [`difference`]; [`crate::Error::Interrupted`] when stopped.
pub fn difference_until(
    first: Count,
    second: Count,
    method: DifferenceMethod,
    level: f64,
    control: &Control,
) -> Result<Estimate<DifferenceMethod>> {
    first.check()?;
    second.check()?;
    let z = normal::isf(0.5 * (1.0 - check_level(level)?));
    // The pair subtracts its second from its first.
    let pair = Pair::new(second, first);
    let (low, high) = match method {
        DifferenceMethod::MiettinenNurminen => score_limits(pair, z * z * pair.variance_factor())?,
        DifferenceMethod::Mee => score_limits(pair, z * z)?,
        DifferenceMethod::Newcombe => combined(pair, z, wilson),
        DifferenceMethod::NewcombeCorrected => combined(pair, z, wilson_corrected),
        DifferenceMethod::AgrestiCaffo => {
            let added = Pair { x1: pair.x1 + 1.0, n1: pair.n1 + 2.0, x2: pair.x2 + 1.0, n2: pair.n2 + 2.0 };
            possible(wald(added, z))
        }
        DifferenceMethod::Wald => possible(wald(pair, z)),
        DifferenceMethod::Exact => exact_limits(pair, 0.5 * (1.0 - level), control)?,
    };
    let se = matches!(method, DifferenceMethod::Wald).then(|| standard_error(pair));
    let value = second.rate() - first.rate();
    let (low, high) = around(value, (low, high));
    Ok(Estimate { value, se, low, high, confidence: level, method })
}

/// Differences at which the score statistic equals the critical value; `reach` is its square times the variance factor.
pub(super) fn score_limits(pair: Pair, reach: f64) -> Result<(f64, f64)> {
    let value = pair.x1 / pair.n1 - pair.x2 / pair.n2;
    let low = if value <= -1.0 { -1.0 } else { brent(|d| pair.difference_share(d, reach) - 0.5, -1.0, value, 1e-14)? };
    let high = if value >= 1.0 { 1.0 } else { brent(|d| pair.difference_share(d, reach) + 0.5, value, 1.0, 1e-14)? };
    Ok((low, high))
}

/// Limits of the inverted one-sided tests; the upper one is that of the groups exchanged.
fn exact_limits(pair: Pair, tail: f64, control: &Control) -> Result<(f64, f64)> {
    let low = Exact::new(pair, control)?.lower_limit(tail)?;
    let high = -Exact::new(pair.turned(), control)?.lower_limit(tail)?;
    Ok((low, high))
}

/// Newcombe's limits from the limits of the two rates.
pub(super) fn combined(pair: Pair, z: f64, limits: fn(f64, f64, f64) -> (f64, f64)) -> (f64, f64) {
    let (p1, p2) = (pair.x1 / pair.n1, pair.x2 / pair.n2);
    let (l1, u1) = limits(pair.x1, pair.n1, z);
    let (l2, u2) = limits(pair.x2, pair.n2, z);
    (p1 - p2 - (p1 - l1).hypot(u2 - p2), p1 - p2 + (u1 - p1).hypot(p2 - l2))
}

/// Limits cut to -1 and 1, which no difference of two rates can pass.
fn possible((low, high): (f64, f64)) -> (f64, f64) {
    (low.max(-1.0), high.min(1.0))
}

fn wald(pair: Pair, z: f64) -> (f64, f64) {
    let value = pair.x1 / pair.n1 - pair.x2 / pair.n2;
    let half = z * standard_error(pair);
    (value - half, value + half)
}

fn standard_error(pair: Pair) -> f64 {
    let (p1, p2) = (pair.x1 / pair.n1, pair.x2 / pair.n2);
    (p1 * (1.0 - p1) / pair.n1 + p2 * (1.0 - p2) / pair.n2).sqrt()
}
