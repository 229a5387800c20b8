//! Limits that keep their promise although the baseline is an estimate.
//!
//! The rate and the spread of a baseline are off by something. A limit is set for a crop that is worse, and varies more, by so much that nine
//! baselines in ten are no further off in the way that matters for the limit.

use super::date::{DateScores, Look, Spreads, Truth};
use super::lattice::Law;
use super::running::limit_for;
use super::{Expected, information};
use crate::math::distributions::normal;

/// Dates as the baseline has them, cluster by cluster.
pub type Typical = Vec<Vec<Vec<Expected>>>;

/// A crop that is off by more on the logit scale cannot be told from any other.
pub(crate) const FARTHEST: f64 = 1.5;
/// How sure a promise is.
const SURE: f64 = 0.9;

/// The law of the score of typical dates.
fn typical_law(dates: &Typical, look: &Look, truth: Truth) -> Law {
    let laws: Vec<Law> = dates.iter().flat_map(|clusters| DateScores::new(clusters, look, &[truth]).laws).collect();
    let share = 1.0 / laws.len().max(1) as f64;
    Law::mixture(&laws, &vec![share; laws.len()])
}

/// The crop that limits are set for. `rate_se` is the standard error of the expected logit over the chart's mix, `spread_se` that of the
/// logarithm of the variance between dates, `wanted` the dates between signals.
///
/// The limit that a crop needs is taken as linear in both; the direction in which the estimate is off is then the steepest one, and the crop
/// lies at the 90 % point along it.
///
/// # References
/// Promises given an estimate: Gandy and Kvaloy 2013, Scandinavian Journal of Statistics 40:647-668.
#[must_use]
pub fn guarded(dates: &Typical, look: &Look, rate_se: f64, spread_se: f64, wanted: f64) -> Truth {
    let variance = spread_of(dates, look);
    let down = rate_se.min(FARTHEST).copysign(look.change);
    let spread_se = spread_se.min(1.0);
    let width = |factor: f64| ((factor - 1.0).max(0.0) * variance).sqrt();
    let needed = |truth: Truth| limit_for(&typical_law(dates, look, truth), wanted).unwrap_or(0) as f64;
    let own = needed(Truth::default());
    let by_rate = (needed(Truth { shift: down, width: 0.0 }) - own).max(0.0);
    let by_spread = (needed(Truth { shift: 0.0, width: width(spread_se.exp()) }) - own).max(0.0);
    let steepest = by_rate.hypot(by_spread);
    if steepest == 0.0 {
        return Truth::default();
    }
    let far = normal::quantile(SURE);
    Truth { shift: far * down * by_rate / steepest, width: width((far * spread_se * by_spread / steepest).exp()) }
}

/// The variance of what a typical date tells of the logit.
fn spread_of(dates: &Typical, look: &Look) -> f64 {
    let of = |clusters: &Vec<Vec<Expected>>| date_variance(clusters, &look.spreads);
    dates.iter().map(of).sum::<f64>() / dates.len().max(1) as f64
}

/// The variance of what one date tells of the logit, layers of weeks and places heeded.
pub(crate) fn date_variance(clusters: &[Vec<Expected>], spreads: &Spreads) -> f64 {
    let told = |batches: &Vec<Expected>| -> f64 {
        let sum: f64 = batches.iter().map(|batch| information(batch, spreads.batch)).sum();
        sum / (1.0 + spreads.week_in_place.powi(2) * sum)
    };
    1.0 / clusters.iter().map(told).sum::<f64>() + spreads.week.powi(2)
}
