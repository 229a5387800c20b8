//! Odds ratio of two take rates.

use super::ratio::RatioEstimate;
use super::score::Pair;
use crate::choice::choice;
use crate::counts::{Conditional, MOST_CONDITIONAL};
use crate::error::{CountError, Result};
use crate::estimate::{Count, LARGEST_COUNT, around, check_level};
use crate::math::distributions::normal;
use crate::math::search::root_from;

/// How the odds ratio and its interval are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum OddsRatioMethod {
    /// Conditional maximum likelihood with exact limits.
    ConditionalExact,
    /// Conditional maximum likelihood with mid-P limits.
    MidP,
    /// Odds ratio of the counts, normal limits of its logarithm; needs no empty cell.
    Woolf,
    /// Odds ratio of the counts, score limits.
    Score,
    /// Score limits with the variance factor N / (N - 1).
    MiettinenNurminen,
}

choice!(
    OddsRatioMethod, "odds ratio method":
    ConditionalExact = "conditional-exact",
    MidP = "mid-p",
    Woolf = "woolf",
    Score = "score",
    MiettinenNurminen = "miettinen-nurminen",
);

/// Odds of rooting in the second group over those in the first, with its interval at confidence `level`.
///
/// The value is 0 or infinite where the counts put it at an end; the other limit is then the answer. Where none or all rooted in both
/// groups it can be anything: no value, limits 0 and infinity. A limit that misses the value, as that of mid-P can at a low level, is
/// moved out to it.
///
/// # Errors
/// [`CountError`] for impossible counts or level; [`CountError::NotDefined`] for the Woolf method with an empty cell.
///
/// # References
/// Cornfield 1956, Proc. 3rd Berkeley Symp. 4:135-148; Woolf 1955, Ann. Hum. Genet. 19:251-253; Miettinen & Nurminen
/// 1985, Stat. Med. 4:213-226; Mehta & Walsh 1992, Am. Stat. 46:146-150 (mid-P).
///
/// ```
/// use rootling::{Count, counts::{OddsRatioMethod, odds_ratio}};
/// let (autumn, spring) = (Count { rooted: 156, stuck: 240 }, Count { rooted: 84, stuck: 240 });
/// let odds = odds_ratio(spring, autumn, OddsRatioMethod::Woolf, 0.95)?;
/// approx::assert_abs_diff_eq!(odds.value.unwrap(), 169.0 / 49.0, epsilon = 1e-12);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn odds_ratio(
    first: Count,
    second: Count,
    method: OddsRatioMethod,
    level: f64,
) -> Result<RatioEstimate<OddsRatioMethod>> {
    first.check()?;
    second.check()?;
    let total = first.stuck + second.stuck;
    if total > LARGEST_COUNT {
        return Err(CountError::TooLarge { value: total }.into());
    }
    let tail = 0.5 * (1.0 - check_level(level)?);
    let cell = Conditional::new(second.rooted, second.stuck, first.stuck, first.rooted + second.rooted);
    if cell.is_fixed() && method != OddsRatioMethod::Woolf {
        let (low, high) = (0.0, f64::INFINITY);
        return Ok(RatioEstimate { value: None, low, high, confidence: level, method });
    }
    // The pair divides its first by its second.
    let pair = Pair::new(second, first);
    let z = normal::isf(tail);
    let sample = pair.x1 * (pair.n2 - pair.x2) / (pair.x2 * (pair.n1 - pair.x1));
    let (value, (low, high)) = match method {
        OddsRatioMethod::ConditionalExact | OddsRatioMethod::MidP if total > MOST_CONDITIONAL => {
            return Err(CountError::TooLargeForExact { total, most: MOST_CONDITIONAL }.into());
        }
        OddsRatioMethod::ConditionalExact => (cell.odds_ratio()?, cell.odds_ratio_limits(tail, 1.0)?),
        OddsRatioMethod::MidP => (cell.odds_ratio()?, cell.odds_ratio_limits(tail, 0.5)?),
        OddsRatioMethod::Woolf => (sample, woolf(pair, sample, z)?),
        OddsRatioMethod::Score => (sample, score_limits(pair, z * z)?),
        OddsRatioMethod::MiettinenNurminen => (sample, score_limits(pair, z * z * pair.variance_factor())?),
    };
    let (low, high) = around(value, (low, high));
    Ok(RatioEstimate { value: Some(value), low, high, confidence: level, method })
}

fn woolf(pair: Pair, sample: f64, z: f64) -> Result<(f64, f64)> {
    let (missed1, missed2) = (pair.n1 - pair.x1, pair.n2 - pair.x2);
    if [pair.x1, missed1, pair.x2, missed2].contains(&0.0) {
        return Err(CountError::NotDefined {
            what: "the woolf interval",
            why: "one of the four counts is 0; use conditional-exact, mid-p or score",
        }
        .into());
    }
    let factor = (z * (1.0 / pair.x1 + 1.0 / missed1 + 1.0 / pair.x2 + 1.0 / missed2).sqrt()).exp();
    Ok((sample / factor, sample * factor))
}

/// Limits at which the score statistic equals the critical value, by the number of cuttings that must change over.
///
/// With the margins kept, moving `d` rooted cuttings from one group to the other gives the constrained fit of the odds
/// ratio of the moved counts, whose score is `d` itself: `d^2 (1 / V1 + 1 / V2) = reach` (Cornfield's equation).
/// Nothing cancels, however large the counts or narrow the interval.
fn score_limits(pair: Pair, reach: f64) -> Result<(f64, f64)> {
    let (missed1, missed2) = (pair.n1 - pair.x1, pair.n2 - pair.x2);
    let low = moved([pair.x1, missed1, pair.x2, missed2], reach)?;
    let high = 1.0 / moved([missed1, pair.x1, missed2, pair.x2], reach)?;
    Ok((low, high))
}

/// Odds ratio after moving cuttings out of the first and fourth count into the second and third.
fn moved([a, b, c, d]: [f64; 4], reach: f64) -> Result<f64> {
    let most = a.min(d);
    if most <= 0.0 {
        return Ok(0.0);
    }
    let share = |move_ln: f64| {
        let shift = move_ln.exp();
        if shift >= most {
            return 0.5;
        }
        let v1 = (a - shift) * ((b + shift) / (a + b));
        let v2 = (d - shift) * ((c + shift) / (c + d));
        let size = shift * shift * (v1 + v2);
        size / (size + reach * v1 * v2) - 0.5
    };
    let information = 1.0 / (a + 0.5) + 1.0 / (b + 0.5) + 1.0 / (c + 0.5) + 1.0 / (d + 0.5);
    let start = (reach / information).sqrt().min(0.5 * most).ln();
    let shift = root_from(share, start, 0.5, 0.0)?.exp().min(most);
    Ok((a - shift) / (b + shift) * ((d - shift) / (c + shift)))
}
