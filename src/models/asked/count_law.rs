//! The law of one tray's count under a fitted model: its mean, spread, tails and draws.

use crate::control::{checkpoint, checkpoint_at};
use crate::math::distributions::{beta_binomial, binomial};
use crate::math::regression::Link;
use crate::math::rng;
use crate::math::rng::ChaCha8Rng;
use crate::models::enter::TrayMode;
use crate::models::kept::Model;
use crate::models::laws::Spread;
use crate::models::laws::mixed::marginal_rate;

/// The law of the number rooted among the cuttings of a tray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum CountLaw {
    /// Rates of trays vary around a mean with correlation `rho` of two cuttings; binomial at 0.
    Beta { mean: f64, rho: f64 },
    /// Normal effects of SD `deviation` around `eta` on the link scale.
    Normal { link: Link, eta: f64, deviation: f64 },
}

/// Probabilities around a count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tails {
    /// Fewer.
    pub(crate) below: f64,
    /// Exactly as many.
    pub(crate) at: f64,
    /// More.
    pub(crate) above: f64,
}

/// Trays up to this size are summed count by count.
const MOST_SUMMED: f64 = 1000.0;

/// Correlations are held below this.
const LARGEST_RHO: f64 = 0.9999;

impl CountLaw {
    /// The law of a tray of `stuck` cuttings at a linear predictor. A dispersion `phi`, which gives variances and no law, is
    /// matched by the beta-binomial with `rho = (phi - 1) / (stuck - 1)`, whose variance is `phi` times the binomial one.
    pub(crate) fn of(model: &Model, eta: f64, stuck: f64) -> Self {
        let mean = model.spec.link.at(eta).mean;
        let deviation = model.spread.iter().map(|spread| spread.value * spread.value).sum::<f64>().sqrt();
        match model.trays {
            TrayMode::Random if deviation > 0.0 => Self::Normal { link: model.spec.link, eta, deviation },
            TrayMode::BetaBinomial => {
                let rho =
                    model.spread.iter().map(|spread| spread.value).sum::<f64>() / model.spread.len().max(1) as f64;
                Self::Beta { mean, rho: rho.min(LARGEST_RHO) }
            }
            TrayMode::Effective => {
                let trays = model.strata.correlation.map_or(0.0, |known| known.used());
                // A tray of any place: what places have in common joins it.
                let rho = model.strata.above.as_ref().map_or(trays, |above| above.layers.of_any_tray());
                Self::Beta { mean, rho: rho.min(LARGEST_RHO) }
            }
            TrayMode::Dispersion => Self::with_variance(mean, model.strata.tray.dispersion, stuck),
            TrayMode::Robust => {
                let dispersion = model.pearson / (model.error_df.max(1)) as f64;
                Self::with_variance(mean, dispersion.max(1.0), stuck)
            }
            _ => Self::Beta { mean, rho: 0.0 },
        }
    }

    /// The same for a tray of the level that has a correlation of its own, where levels have; the mean over levels otherwise.
    pub(crate) fn of_level(model: &Model, level: Option<&str>, eta: f64, stuck: f64) -> Self {
        let own = |spread: &&Spread| level.is_some() && spread.level.as_deref() == level;
        match model.spread.iter().find(own) {
            Some(spread) => Self::Beta { mean: model.spec.link.at(eta).mean, rho: spread.value.min(LARGEST_RHO) },
            None => Self::of(model, eta, stuck),
        }
    }

    /// The same for a unit of the trial.
    pub(crate) fn of_unit(model: &Model, unit: usize, eta: f64, stuck: f64) -> Self {
        let Some(column) = &model.spec.correlation_by else { return Self::of(model, eta, stuck) };
        let label = match model.units.factor(column) {
            Some(factor) => factor.label(unit).map(str::to_owned),
            None => {
                let values = model.units.covariates.iter().find(|covariate| covariate.name == *column);
                values.and_then(|covariate| covariate.values.get(unit)).map(f64::to_string)
            }
        };
        Self::of_level(model, label.as_deref(), eta, stuck)
    }

    /// The beta-binomial law of `stuck` cuttings whose variance is `factor` (at least 1) times the binomial one.
    pub(crate) fn with_variance(mean: f64, factor: f64, stuck: f64) -> Self {
        let rho = if stuck > 1.0 { ((factor - 1.0) / (stuck - 1.0)).clamp(0.0, LARGEST_RHO) } else { 0.0 };
        Self::Beta { mean, rho }
    }

    /// Expected rate over trays.
    pub(crate) fn mean(&self) -> f64 {
        match *self {
            Self::Beta { mean, .. } => mean,
            Self::Normal { link, eta, deviation } => marginal_rate(link, eta, deviation).rate,
        }
    }

    /// How the expected rate moves with the linear predictor.
    pub(crate) fn slope(&self, link: Link, eta: f64) -> f64 {
        match *self {
            Self::Beta { .. } => link.at(eta).slope(),
            Self::Normal { deviation, .. } => marginal_rate(link, eta, deviation).by_eta,
        }
    }

    /// Correlation of two cuttings of one tray.
    pub(crate) fn rho(&self) -> f64 {
        match *self {
            Self::Beta { rho, .. } => rho,
            Self::Normal { link, eta, deviation } => {
                let (mut mean, mut square) = (0.0, 0.0);
                for (weight, z) in nodes(0.05) {
                    let p = link.at(eta + deviation * z).mean;
                    (mean, square) = (mean + weight * p, square + weight * p * p);
                }
                ((square - mean * mean) / (mean * (1.0 - mean))).clamp(0.0, LARGEST_RHO)
            }
        }
    }

    /// Variance of the count of `stuck` cuttings: `m p (1 - p) (1 + (m - 1) rho)`.
    pub(crate) fn variance(&self, stuck: f64) -> f64 {
        let mean = self.mean();
        stuck * mean * (1.0 - mean) * (1.0 + (stuck - 1.0) * self.rho())
    }

    /// Probabilities of fewer, as many and more than `rooted` of `stuck`, each summed by itself.
    pub(crate) fn tails(&self, rooted: f64, stuck: f64) -> Tails {
        match *self {
            Self::Beta { mean, rho: 0.0 } => binomial_tails(rooted, stuck, mean),
            Self::Beta { mean, rho } => {
                let probability = |k: u64| beta_binomial::ln_pmf(k as f64, stuck, mean, rho).exp();
                let (y, m) = (rooted as u64, stuck as u64);
                if stuck > MOST_SUMMED
                    && let Some(below) = beta_binomial::cdf(rooted - 1.0, stuck, mean, rho)
                    && let Some(above) = beta_binomial::sf(rooted, stuck, mean, rho)
                {
                    return Tails { below, at: probability(y), above };
                }
                let summed = |k: u64| {
                    checkpoint_at(k);
                    probability(k)
                };
                Tails {
                    below: (0..y).map(summed).sum(),
                    at: probability(y),
                    above: (y + 1..=m).rev().map(summed).sum(),
                }
            }
            Self::Normal { link, eta, deviation } => {
                // The binomial tails turn over a stretch of about 2 / sqrt(m) on the link scale.
                let step = (0.5 / (deviation * stuck.sqrt())).min(0.2);
                let mut out = Tails { below: 0.0, at: 0.0, above: 0.0 };
                for (weight, z) in nodes(step) {
                    checkpoint();
                    let one = binomial_tails(rooted, stuck, link.at(eta + deviation * z).mean);
                    out.below += weight * one.below;
                    out.at += weight * one.at;
                    out.above += weight * one.above;
                }
                out
            }
        }
    }

    /// The smallest count that is not exceeded with probability `p` or more.
    pub(crate) fn quantile(&self, p: f64, stuck: u64) -> u64 {
        let enough = |k: u64| {
            let tails = self.tails(k as f64, stuck as f64);
            if p < 0.5 { tails.below + tails.at >= p } else { tails.above <= 1.0 - p }
        };
        let (mut low, mut high) = (0, stuck);
        while low < high {
            let middle = low + (high - low) / 2;
            if enough(middle) {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        low
    }

    /// Draws a count.
    pub(crate) fn draw(&self, random: &mut ChaCha8Rng, stuck: u64) -> u64 {
        match *self {
            Self::Beta { mean, rho } => rng::beta_binomial(random, stuck, mean, rho),
            Self::Normal { link, eta, deviation } => {
                let tray = eta + deviation * rng::deviate(random);
                rng::binomial(random, stuck, link.at(tray).mean)
            }
        }
    }
}

fn binomial_tails(rooted: f64, stuck: f64, mean: f64) -> Tails {
    Tails {
        below: if rooted > 0.0 { binomial::cdf(rooted - 1.0, stuck, mean) } else { 0.0 },
        at: binomial::pmf(rooted, stuck, mean),
        above: binomial::sf(rooted, stuck, mean),
    }
}

/// The trapezoid rule for means over a standard normal law: weights and nodes `step` apart. For smooth functions its error falls
/// faster than any power of the step.
fn nodes(step: f64) -> impl Iterator<Item = (f64, f64)> {
    let each_side = (9.0 / step).ceil();
    let scale = step / (2.0 * std::f64::consts::PI).sqrt();
    (0..=2 * each_side as u64).map(move |k| {
        let z = (k as f64 - each_side) * step;
        (scale * (-0.5 * z * z).exp(), z)
    })
}
