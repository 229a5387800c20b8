//! Trays drawn by a table: one number decides how many of a tray's cuttings root.

use super::design::TrayLaw;
use crate::error::{PlanError, Result};
use crate::math::distributions::{beta_binomial, binomial};
use crate::math::rng::{self, ChaCha8Rng};
use crate::math::search::brent;
use crate::math::special::{expit, gauss_hermite, logit};

/// Points of the rule by which counts are averaged over normal log odds.
const POINTS: usize = 61;
/// The widest normal law of log odds that is averaged over by these points.
const WIDEST: f64 = 8.0;
/// Parts of the unit line for which the first count is known.
const PARTS: usize = 128;

/// Counts of trays of one take, size and law.
#[derive(Debug, Clone)]
pub(super) struct TrayTable {
    /// Chance of so many or fewer.
    below: Vec<f64>,
    /// Where to start looking, for every part of the unit line.
    start: [u16; PARTS],
}

impl TrayTable {
    /// # Errors
    /// A numeric error where no normal law has such a mean and variance.
    pub(super) fn new(cuttings: u64, take: f64, correlation: f64, law: TrayLaw) -> Result<Self> {
        let chances = match law {
            TrayLaw::BetaBinomial => beta_chances(cuttings, take, correlation),
            TrayLaw::LogitNormal => LogOdds::of(take, correlation)?.chances(cuttings),
        };
        let total: f64 = chances.iter().sum();
        let below: Vec<f64> = chances
            .iter()
            .scan(0.0, |sum, chance| {
                *sum += chance / total;
                Some(*sum)
            })
            .collect();
        let first = |part: usize| {
            let from = part as f64 / PARTS as f64;
            below.partition_point(|so_far| *so_far <= from).min(below.len().saturating_sub(1))
        };
        let start = std::array::from_fn(|part| u16::try_from(first(part)).unwrap_or(u16::MAX));
        Ok(Self { below, start })
    }

    /// Rooted cuttings of one tray.
    #[inline]
    pub(super) fn draw(&self, random: &mut ChaCha8Rng) -> u64 {
        let u = rng::uniform(random);
        let mut count = self.start.get((u * PARTS as f64) as usize).map_or(0, |start| usize::from(*start));
        while self.below.get(count).is_some_and(|below| *below <= u) && count + 1 < self.below.len() {
            count += 1;
        }
        count as u64
    }
}

fn beta_chances(cuttings: u64, take: f64, correlation: f64) -> Vec<f64> {
    let n = cuttings as f64;
    (0..=cuttings)
        .map(|count| match (take > 0.0 && take < 1.0, correlation > 0.0) {
            (false, _) => f64::from(u8::from(count == if take > 0.5 { cuttings } else { 0 })),
            (true, true) => beta_binomial::ln_pmf(count as f64, n, take, correlation).exp(),
            (true, false) => binomial::pmf(count as f64, n, take),
        })
        .collect()
}

/// Normal log odds of trays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LogOdds {
    pub(super) centre: f64,
    pub(super) sd: f64,
}

/// Mean and variance of the rate of trays.
fn moments(centre: f64, sd: f64) -> (f64, f64) {
    let rule = gauss_hermite(POINTS);
    let rates = rule.nodes.iter().zip(&rule.weights).map(|(z, weight)| (*weight, expit(centre + sd * z)));
    let (mean, square) =
        rates.fold((0.0, 0.0), |sum, (weight, rate)| (sum.0 + weight * rate, sum.1 + weight * rate * rate));
    (mean, square - mean * mean)
}

impl LogOdds {
    /// Those with this mean rate, and as variance the correlation times what a single cutting has.
    pub(super) fn of(take: f64, correlation: f64) -> Result<Self> {
        if take <= 0.0 || take >= 1.0 || correlation <= 0.0 {
            return Ok(Self { centre: logit(take), sd: 0.0 });
        }
        let centred = |sd: f64| {
            let reach = 4.0 + sd * sd;
            brent(|centre| moments(centre, sd).0 - take, logit(take) - reach, logit(take) + reach, 1e-12)
        };
        let wanted = correlation * take * (1.0 - take);
        let mut failed = None;
        let off = |sd: f64| match centred(sd) {
            Ok(centre) => moments(centre, sd).1 - wanted,
            Err(error) => {
                failed = Some(error);
                0.0
            }
        };
        if moments(centred(WIDEST)?, WIDEST).1 < wanted {
            return Err(PlanError::TooAlike { value: correlation }.into());
        }
        let sd = brent(off, 0.0, WIDEST, 1e-10);
        match (failed, sd) {
            (None, Ok(sd)) => Ok(Self { centre: centred(sd)?, sd }),
            (Some(error), _) | (None, Err(error)) => Err(error),
        }
    }

    fn chances(self, cuttings: u64) -> Vec<f64> {
        let n = cuttings as f64;
        if self.sd == 0.0 {
            return beta_chances(cuttings, expit(self.centre), 0.0);
        }
        let rule = gauss_hermite(POINTS);
        let rates: Vec<(f64, f64)> = rule
            .nodes
            .iter()
            .zip(&rule.weights)
            .map(|(z, weight)| (*weight, expit(self.centre + self.sd * z)))
            .collect();
        (0..=cuttings)
            .map(|count| rates.iter().map(|(weight, rate)| weight * binomial::pmf(count as f64, n, *rate)).sum())
            .collect()
    }

    /// Rooted cuttings of one tray whose place moves its log odds by `effect`.
    pub(super) fn draw(self, random: &mut ChaCha8Rng, cuttings: u64, effect: f64) -> u64 {
        let own = if self.sd > 0.0 { self.sd * rng::deviate(random) } else { 0.0 };
        rng::binomial(random, cuttings, expit(self.centre + own + effect))
    }
}
