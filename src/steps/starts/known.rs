//! What followed batches tell of plants to be started.

use std::collections::BTreeMap;

use super::numbers::{SeasonSpread, StartOptions};
use crate::error::{Result, StepsError};
use crate::steps::chain::{Passed, StartLaw, Takes, tree_cost};
use crate::steps::costs;
use crate::steps::held::{Steps, StepsBatch};

/// Seasons from which on their spread is estimated.
const SEASONS: usize = 3;
/// Largest standard error on the log odds that is worked with.
const WIDEST: f64 = 5.0;

/// What followed batches tell.
pub(super) struct Known {
    pub(super) law: StartLaw,
    pub(super) se: f64,
    /// The yield as it was found, which a law of 100 % cannot have.
    pub(super) found: f64,
    pub(super) batches: u64,
    pub(super) seasons: SeasonSpread,
    pub(super) n_seasons: Option<u64>,
    /// Cost of each started plant.
    pub(super) cost: Option<f64>,
}

/// What the batches that were followed to the end tell.
pub(super) fn known(steps: &Steps, options: &StartOptions) -> Result<Known> {
    steps.counted_at_each_step()?;
    let followed: Vec<&StepsBatch> =
        steps.batches().iter().filter(|one| one.steps.iter().all(Option::is_some)).collect();
    if followed.len() < 2 {
        return Err(steps.too_few(followed.len()));
    }
    let chain: Vec<Vec<Option<Passed>>> = followed.iter().map(|one| one.steps.clone()).collect();
    let at_the_end = |batch: &Vec<Option<Passed>>| batch.last().copied().flatten().is_some_and(|one| one.passed > 0);
    if !chain.iter().any(at_the_end) {
        return Err(StepsError::NothingAtTheEnd.into());
    }
    let seasons = steps.seasons_of(&followed);
    let takes = Takes::of(&chain, seasons.as_deref()).map_err(steps.naming(0))?;
    let (value, judged, plants) = (takes.product(), takes.whole(), takes.started());
    // Where all reached the end, as if half a plant more had failed.
    let take = value.min(1.0 - 0.5 / plants);
    let squares: f64 = followed.iter().map(|one| (one.started as f64).powi(2)).sum();
    let size = squares / plants;
    let varies = take * (1.0 - take);
    let effect = plants / judged.effective;
    let correlation = if size > 1.0 { ((effect - 1.0) / (size - 1.0)).clamp(0.0, 0.99) } else { 0.0 };
    // All reached the end: what is not known is how many of as many plants as stand alone may yet fail.
    let variance = if value < 1.0 { judged.variance } else { take * (1.0 - take) / judged.effective };
    let se = variance.sqrt();
    let known = StartLaw {
        take,
        batch_size: options.batch_size.unwrap_or(size),
        correlation,
        season_sd: 0.0,
        se: (se / varies).min(WIDEST),
        df: judged.df,
    };
    let n_seasons = seasons.as_ref().map(|codes| codes.iter().max().map_or(0, |last| last + 1));
    let (law, seasons) = match (options.season_sd, n_seasons) {
        (Some(given), _) => (with_seasons(known, given), SeasonSpread::Given),
        (None, Some(count)) if count >= SEASONS => {
            (over_seasons(known, &followed, &seasons.unwrap_or_default()), SeasonSpread::Estimated)
        }
        (None, _) => (known, SeasonSpread::NotCounted),
    };
    law.check()?;
    let costs = costs::by_column(&options.costs, steps.columns())?;
    let cost = costs.and_then(|costs| tree_cost(&takes, &costs, 0.95)).map(|cost| cost.started);
    Ok(Known {
        law,
        se,
        found: value,
        batches: followed.len() as u64,
        seasons,
        n_seasons: n_seasons.map(|count| count as u64),
        cost,
    })
}

/// A spread of seasons that is known: together with the yield's error it has Satterthwaite's degrees of freedom.
fn with_seasons(known: StartLaw, season_sd: f64) -> StartLaw {
    let (seasons, estimate) = (season_sd * season_sd, known.se * known.se);
    let df =
        if estimate > 0.0 { (seasons + estimate).powi(2) * known.df / (estimate * estimate) } else { f64::INFINITY };
    StartLaw { season_sd, df, ..known }
}

/// Seasons as they were: a further one lies about their mean by their standard deviation, with t on seasons less one. Their spread is
/// never taken to be smaller than what batches alone make it.
fn over_seasons(known: StartLaw, followed: &[&StepsBatch], codes: &[usize]) -> StartLaw {
    let mut sums = BTreeMap::<usize, (f64, f64)>::new();
    for (batch, code) in followed.iter().zip(codes) {
        let product = |at: usize, of: fn(&Passed) -> u64| {
            batch.steps.get(at).copied().flatten().map_or(0.0, |one| of(&one) as f64)
        };
        let last = batch.steps.len().saturating_sub(1);
        let sum = sums.entry(*code).or_default();
        *sum = (sum.0 + product(0, |one| one.reached), sum.1 + product(last, |one| one.passed));
    }
    let odds: Vec<f64> = sums.values().map(|(started, end)| ((end + 0.5) / (started - end + 0.5)).ln()).collect();
    let count = odds.len() as f64;
    let mean = odds.iter().sum::<f64>() / count;
    let square = odds.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / (count - 1.0);
    let sd = square.sqrt().max(known.se * count.sqrt()).min(WIDEST);
    StartLaw {
        take: 1.0 / (1.0 + (-mean).exp()),
        season_sd: sd,
        se: (sd / count.sqrt()).min(WIDEST),
        df: count - 1.0,
        ..known
    }
}
