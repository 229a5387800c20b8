//! What a new season may bring, and which season lies apart from the others: by draws that carry all that is not known.

use super::between::{scatter, spread_squared_for};
use super::measured::{Measured, weighted};
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::{chi_squared, normal};
use crate::math::rng;
use crate::math::search::brent;
use crate::simulate::replicates;

/// One draw of where a season's true difference may lie: a normal law.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Law {
    mean: f64,
    variance: f64,
}

/// Draws of all that is not known: of each season's variance, of the spread between seasons, and of the average.
#[derive(Debug, Clone, Default)]
pub struct Draws {
    /// Of a further season.
    ahead: Vec<Law>,
    /// Of each season, from the others alone.
    others: Vec<Vec<Law>>,
    /// Of each season's variance.
    variances: Vec<Vec<f64>>,
}

/// What is drawn once.
struct One {
    ahead: Law,
    others: Vec<Law>,
    variances: Vec<f64>,
}

/// Draws generalised pivotal quantities: variances `v df / chi2`, the spread at which the scatter of seasons equals a drawn chi2 on seasons
/// less one, and the law that a further season has given both.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Iyer, Wang and Mathew 2004, Journal of the American Statistical Association 99: 1060-1071.
///
/// ```
/// use rootling::control::Control;
/// use rootling::seasons::{Measured, drawn};
/// let seasons = [0.05, 0.12, 0.2, 0.1, 0.15].map(|value| Measured { value, variance: 0.002, df: 10.0 });
/// let (low, high) = drawn(&seasons, 1000, 1, &Control::new())?.limits(0.95)?;
/// assert!(low < 0.05 && high > 0.2);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn drawn(seasons: &[Measured], draws: u64, seed: u64, control: &Control) -> Result<Draws> {
    let mut all: Draws = replicates(draws, seed, 0, control, |random| Ok(one(seasons, random)), add)?;
    all.others.retain(|laws| !laws.is_empty());
    Ok(all)
}

fn one(seasons: &[Measured], random: &mut rng::ChaCha8Rng) -> One {
    let variance = |season: &Measured| match season.df.is_finite() {
        true => season.variance * season.df / rng::chi_squared(random, season.df),
        false => season.variance,
    };
    let variances: Vec<f64> = seasons.iter().map(variance).collect();
    let with: Vec<Measured> =
        seasons.iter().zip(&variances).map(|(season, variance)| Measured { variance: *variance, ..*season }).collect();
    let ahead = law(&with, random);
    let others = (0..with.len()).map(|left_out| law(&without(&with, left_out), random)).collect();
    One { ahead, others, variances }
}

/// The law of a further season given the variances of these.
fn law(seasons: &[Measured], random: &mut rng::ChaCha8Rng) -> Law {
    let scatter = rng::chi_squared(random, (seasons.len() as f64 - 1.0).max(1.0));
    let spread_squared = spread_squared_for(seasons, scatter);
    let (mean, total) = weighted(seasons, spread_squared);
    Law { mean, variance: 1.0 / total + spread_squared }
}

/// All seasons but one.
pub(super) fn without<T: Copy>(seasons: &[T], left_out: usize) -> Vec<T> {
    seasons.iter().enumerate().filter(|(at, _)| *at != left_out).map(|(_, season)| *season).collect()
}

fn add(sum: &mut Draws, one: One) {
    sum.ahead.push(one.ahead);
    sum.others.resize_with(one.others.len(), Vec::new);
    sum.variances.resize_with(one.variances.len(), Vec::new);
    sum.others.iter_mut().zip(one.others).for_each(|(all, law)| all.push(law));
    sum.variances.iter_mut().zip(one.variances).for_each(|(all, variance)| all.push(variance));
}

/// The share of all that is drawn below `x`.
fn below(laws: impl Iterator<Item = Law>, x: f64) -> f64 {
    let (sum, count) = laws
        .fold((0.0, 0.0), |(sum, count), law| (sum + normal::cdf((x - law.mean) / law.variance.sqrt()), count + 1.0));
    sum / count
}

impl Draws {
    /// Limits of the true difference of a further season.
    ///
    /// # Errors
    /// [`NumericError`](crate::error::NumericError) where there is no draw.
    pub fn limits(&self, confidence: f64) -> Result<(f64, f64)> {
        let tail = 0.5 * (1.0 - confidence);
        Ok((self.quantile(tail)?, self.quantile(1.0 - tail)?))
    }

    /// The difference below which that of a further season lies with a probability.
    fn quantile(&self, probability: f64) -> Result<f64> {
        // No draw's own quantile lies outside the ends of all of them.
        let z = normal::quantile(probability);
        let each = self.ahead.iter().map(|law| law.mean + z * law.variance.sqrt());
        let (low, high) = each.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
        let reach = 1e-9 * (high - low) + f64::MIN_POSITIVE;
        let at = |x: f64| below(self.ahead.iter().copied(), x) - probability;
        brent(at, low - reach, high + reach, 1e-12 * (high - low))
    }

    /// The P value of each season: how far it lies from what the others lead to expect of a season, its own error added.
    #[must_use]
    pub fn apart(&self, seasons: &[Measured]) -> Vec<f64> {
        let each = seasons.iter().zip(self.others.iter().zip(&self.variances));
        each.map(|(season, (laws, variances))| {
            let with = laws.iter().zip(variances).map(|(law, own)| Law { variance: law.variance + own, ..*law });
            let share = below(with, season.value);
            (2.0 * share.min(1.0 - share)).min(1.0)
        })
        .collect()
    }

    /// Limits of the variance between seasons: those of a Q profile, its tails averaged over what the variances of seasons may be.
    ///
    /// # Errors
    /// [`NumericError`](crate::error::NumericError) where a search fails.
    ///
    /// # References
    /// Viechtbauer 2007; Iyer, Wang and Mathew 2004.
    pub fn spread_squared_limits(&self, seasons: &[Measured], confidence: f64) -> Result<(f64, f64)> {
        let tail = 0.5 * (1.0 - confidence);
        Ok((self.spread_squared(seasons, tail)?, self.spread_squared(seasons, 1.0 - tail)?))
    }

    /// The variance between seasons of which what is drawn lies below with a probability.
    fn spread_squared(&self, seasons: &[Measured], probability: f64) -> Result<f64> {
        let df = seasons.len() as f64 - 1.0;
        let count = self.ahead.len().min(MOST_PROFILES);
        let drawn: Vec<Vec<Measured>> = (0..count).map(|draw| self.at(seasons, draw)).collect();
        let share = |t: f64| {
            let tails: f64 = drawn.iter().map(|with| chi_squared::sf(scatter(with, t).0, df)).sum();
            tails / count as f64 - probability
        };
        if share(0.0) >= 0.0 {
            return Ok(0.0);
        }
        let mut high = seasons.iter().map(|one| one.variance).sum::<f64>().max(f64::MIN_POSITIVE);
        while share(high) < 0.0 && high.is_finite() {
            high *= 4.0;
        }
        brent(share, 0.0, high, 1e-12 * high)
    }

    /// The seasons with the variances of one draw.
    fn at(&self, seasons: &[Measured], draw: usize) -> Vec<Measured> {
        let each = seasons.iter().zip(&self.variances);
        each.map(|(season, drawn)| Measured {
            variance: drawn.get(draw).copied().unwrap_or(season.variance),
            ..*season
        })
        .collect()
    }
}

/// Draws of the variances over which the tails of a Q profile are averaged.
const MOST_PROFILES: usize = 1000;
