//! Gains of all levels in money, from draws: what is expected, limits, chances, and what knowing more is worth.

use super::drawn::LevelDraws;
use super::known::Known;
use super::numbers::{LevelGain, NextTrialWorth};
use super::options::{ChooseOptions, TrialToCome};
use super::worth::worth_of_counts;
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::normal;
use crate::math::rng;

/// What is weighed.
pub(super) struct Weighed<'a> {
    pub(super) known: &'a Known,
    /// Cost of a cutting, by the code of its level.
    pub(super) costs: &'a [f64],
    pub(super) drawn: &'a [LevelDraws],
    pub(super) options: &'a ChooseOptions,
    /// The saleable share of each draw.
    pub(super) saleable: Vec<f64>,
}

/// All levels weighed.
pub(super) struct Found {
    pub(super) levels: Vec<LevelGain>,
    pub(super) best: usize,
    pub(super) runner_up: usize,
    /// Limits of what the best brings more than its runner-up.
    pub(super) lead: (f64, f64),
    pub(super) perfect_knowledge: f64,
}

/// Shares that come to sale: log odds of a normal law on either side of the share, whose quantiles are the limits given.
pub(super) fn saleable(options: &ChooseOptions) -> Vec<f64> {
    let draws = options.draws;
    let Some((low, high)) = options.saleable_limits else { return vec![options.saleable; draws as usize] };
    let logit = |p: f64| (p / (1.0 - p)).ln();
    let z = normal::quantile(f64::midpoint(1.0, options.confidence));
    let middle = logit(options.saleable);
    let (below, above) = ((middle - logit(low)) / z, (logit(high) - middle) / z);
    let one = |draw: u64| {
        let z = rng::deviate(&mut rng::stream(options.seed, 2 * draws + draw));
        1.0 / (1.0 + (-(middle + z * if z < 0.0 { below } else { above })).exp())
    };
    (0..draws).map(one).collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// A quantile of values in order, each in the middle of its share.
pub(super) fn quantile(ordered: &[f64], p: f64) -> f64 {
    let place = (p * ordered.len() as f64 - 0.5).clamp(0.0, ordered.len() as f64 - 1.0);
    let at = |place: f64| ordered.get(place as usize).copied().unwrap_or(f64::NAN);
    let (low, high) = (at(place.floor()), at(place.ceil()));
    low + (high - low) * place.fract()
}

/// Index of the largest; the first of several.
pub(super) fn largest(values: &[f64]) -> usize {
    let start = (0, f64::NEG_INFINITY);
    values.iter().copied().enumerate().fold(start, |best, one| if one.1 > best.1 { one } else { best }).0
}

impl Weighed<'_> {
    fn cost(&self, at: usize) -> f64 {
        let code = self.known.levels.get(at).map_or(0, |level| level.code);
        self.costs.get(code).copied().unwrap_or_default()
    }

    /// Gains of a season by draw, from takes.
    fn gains(&self, at: usize, takes: &[f64]) -> Vec<f64> {
        let cost = self.cost(at);
        let each = takes.iter().zip(&self.saleable);
        each.map(|(take, share)| self.options.cuttings_a_season * (self.options.price * share * take - cost)).collect()
    }

    /// Limits at the confidence asked for.
    fn limits(&self, values: &[f64]) -> (f64, f64) {
        let mut ordered = values.to_vec();
        ordered.sort_by(f64::total_cmp);
        let tail = 0.5 * (1.0 - self.options.confidence);
        (quantile(&ordered, tail), quantile(&ordered, 1.0 - tail))
    }

    /// Everything but the next trial.
    ///
    /// # Errors
    /// [`crate::Error::Interrupted`] when stopped.
    pub(super) fn found(&self, control: &Control) -> Result<Found> {
        let to_come: Vec<Vec<f64>> =
            self.drawn.iter().enumerate().map(|(at, level)| self.gains(at, &level.to_come)).collect();
        control.step()?;
        let lasting: Vec<Vec<f64>> =
            self.drawn.iter().enumerate().map(|(at, level)| self.gains(at, &level.lasting)).collect();
        let expected: Vec<f64> = lasting.iter().map(|gains| mean(gains)).collect();
        let best = largest(&expected);
        let others: Vec<f64> =
            expected.iter().enumerate().map(|(at, x)| if at == best { f64::NEG_INFINITY } else { *x }).collect();
        let runner_up = largest(&others);
        let chances = chances(&to_come);
        let most = mean(&highest(&lasting));
        let of_best = |gains: &Vec<Vec<f64>>| gains.get(best).cloned().unwrap_or_default();
        let (best_come, best_expected) = (of_best(&to_come), expected.get(best).copied().unwrap_or_default());
        let seasons = self.options.seasons as f64;
        let mut lead = (0.0, 0.0);
        let mut levels = Vec::with_capacity(expected.len());
        for (at, (gains, value)) in to_come.iter().zip(&expected).enumerate() {
            control.step()?;
            let apart: Vec<f64> = best_come.iter().zip(gains).map(|(best, own)| best - own).collect();
            let behind = self.limits(&apart);
            if at == runner_up {
                lead = behind;
            }
            let Some(level) = self.known.levels.get(at) else { continue };
            let with_shared = self.drawn.get(at).map(|level| self.gains(at, &level.with_shared)).unwrap_or_default();
            let (low, high) = self.limits(&with_shared);
            let take_expected = self.drawn.get(at).map_or(0.0, |level| mean(&level.lasting));
            levels.push(LevelGain {
                level: level.name.clone(),
                take: level.take(),
                take_expected,
                rooted: level.rooted,
                stuck: level.stuck,
                n_units: level.n_units,
                cost: self.cost(at),
                trees: self.options.cuttings_a_season * mean(&self.saleable) * take_expected,
                value: *value,
                low,
                high,
                chance_best: chances.get(at).copied().unwrap_or_default(),
                behind: best_expected - value,
                behind_low: (at != best).then_some(behind.0),
                behind_high: (at != best).then_some(behind.1),
                loss: seasons * (most - value).max(0.0),
            });
        }
        let perfect_knowledge = seasons * (most - best_expected).max(0.0);
        Ok(Found { levels, best, runner_up, lead, perfect_knowledge })
    }

    /// What the next trial is worth: it runs in the first season, with the choice as it stands in use, and its result serves the others.
    pub(super) fn next_trial(&self, next: TrialToCome, best: usize) -> NextTrialWorth {
        let share = mean(&self.saleable);
        let gain = |at: usize, level: &LevelDraws| -> Vec<f64> {
            let cost = self.cost(at);
            let one = |take: &f64| self.options.cuttings_a_season * (self.options.price * share * take - cost);
            level.lasting.iter().map(one).collect()
        };
        let gains: Vec<Vec<f64>> = self.drawn.iter().enumerate().map(|(at, level)| gain(at, level)).collect();
        let seen: Vec<Vec<f64>> = self.drawn.iter().map(|level| level.counted.clone()).collect();
        let found = worth_of_counts(&gains, &seen, best);
        let seasons_left = self.options.seasons.saturating_sub(1);
        let left = seasons_left as f64;
        let (value, value_error) = ((left * found.value).max(0.0), left * found.error);
        NextTrialWorth {
            trays: next.trays,
            cuttings: next.cuttings,
            cost: next.cost,
            seasons_left,
            value,
            value_error,
            net: value - next.cost,
            chance_other: found.chance_other,
            pays: value - 2.0 * value_error > next.cost,
        }
    }

    /// Expected gain of every level at another price.
    pub(super) fn at_price(&self, price: f64, takes: &[f64]) -> Vec<f64> {
        let share = mean(&self.saleable);
        let one = |(at, take): (usize, &f64)| self.options.cuttings_a_season * (price * share * take - self.cost(at));
        takes.iter().enumerate().map(one).collect()
    }

    /// The expected saleable share.
    pub(super) fn share(&self) -> f64 {
        mean(&self.saleable)
    }
}

/// The highest gain of each draw.
fn highest(gains: &[Vec<f64>]) -> Vec<f64> {
    let draws = gains.first().map_or(0, Vec::len);
    let at = |draw: usize| gains.iter().filter_map(|level| level.get(draw)).copied().fold(f64::NEG_INFINITY, f64::max);
    (0..draws).map(at).collect()
}

/// The share of draws in which each level brings most; levels that bring the same share it.
fn chances(gains: &[Vec<f64>]) -> Vec<f64> {
    let most = highest(gains);
    let mut found = vec![0.0; gains.len()];
    for (draw, most) in most.iter().enumerate() {
        let top: Vec<usize> = gains
            .iter()
            .enumerate()
            .filter(|(_, level)| level.get(draw).is_some_and(|gain| gain >= most))
            .map(|(at, _)| at)
            .collect();
        for at in &top {
            found.get_mut(*at).into_iter().for_each(|share| *share += 1.0 / top.len() as f64);
        }
    }
    found.into_iter().map(|share| share / most.len() as f64).collect()
}
