//! The batches that count, and what they come to.

use super::numbers::{StepNumbers, StepYields, YieldOf, YieldOptions};
use crate::error::{Result, StepsError};
use crate::steps::chain::{Passed, Takes, TreeCost, chain_yield, lost_most_often, tree_cost};
use crate::steps::costs;
use crate::steps::held::{Steps, StepsBatch};

/// Most draws of batches.
const MOST: u64 = 1_000_000;

/// Works out takes and yield.
pub(super) fn asked(steps: &Steps, options: &YieldOptions) -> Result<StepYields> {
    if options.draws > MOST {
        return Err(StepsError::TooManyDraws { draws: options.draws, most: MOST }.into());
    }
    let used = used(steps, options.whose);
    if used.len() < 2 {
        return Err(steps.too_few(used.len()));
    }
    let mut chain: Vec<Vec<Option<Passed>>> = used.iter().map(|batch| batch.steps.clone()).collect();
    let reached = reached(&chain);
    chain.iter_mut().for_each(|batch| batch.truncate(reached));
    let seasons = steps.seasons_of(&used);
    let found = chain_yield(&chain, seasons.as_deref(), options.confidence).map_err(steps.naming(0))?;
    let cost = cost(steps, &chain, seasons.as_deref(), options)?;
    let most_often = lost_most_often(&chain, options.draws, options.seed)?;
    let mut left = 1.0;
    let names = steps.columns().iter().skip(1);
    let not_reached = names.clone().skip(reached).cloned().collect();
    let each = found.steps.iter().zip(names).zip(most_often).enumerate();
    let each = each.map(|(at, ((one, name), most_often))| {
        left *= one.take;
        let passed =
            |of: fn(&Passed) -> u64| -> u64 { chain.iter().filter_map(|batch| batch.get(at)?.as_ref()).map(of).sum() };
        StepNumbers {
            step: name.clone(),
            reached: passed(|one| one.reached),
            passed: passed(|one| one.passed),
            take: one.take,
            low: one.low,
            high: one.high,
            df: one.df,
            left,
            lost: one.lost,
            lost_se: one.lost_se,
            gain: one.gain,
            most_often,
        }
    });
    Ok(StepYields {
        whose: options.whose,
        start: steps.columns().first().cloned().unwrap_or_default(),
        not_reached,
        n_batches: used.len() as u64,
        n_young: (steps.batches().len() - used.len()) as u64,
        n_lost_early: if used.len() < steps.batches().len() { lost_early(&used) } else { 0 },
        n_started: used.iter().map(|batch| batch.started).sum(),
        value: found.value,
        low: found.low,
        high: found.high,
        se: found.se,
        se_without_one: found.se_without_one,
        df: found.df,
        cost: cost.map(|cost| cost.value),
        cost_low: cost.map(|cost| cost.low),
        cost_high: cost.and_then(|cost| cost.high),
        costs: options.costs.clone(),
        confidence: options.confidence,
        draws: options.draws,
        steps: each.collect(),
    })
}

/// Batches of which no plant came to the last step, so that they count though others of their age may live and do not.
fn lost_early(used: &[&StepsBatch]) -> u64 {
    let early = |batch: &&&StepsBatch| batch.steps.last().copied().flatten().is_some_and(|one| one.reached == 0);
    used.iter().filter(early).count() as u64
}

/// The batches that count.
fn used(steps: &Steps, whose: YieldOf) -> Vec<&StepsBatch> {
    let counts = |batch: &&StepsBatch| match whose {
        YieldOf::FollowedCohorts => batch.steps.iter().all(Option::is_some),
        YieldOf::CurrentRates => batch.steps.iter().any(Option::is_some),
    };
    steps.batches().iter().filter(counts).collect()
}

/// Steps up to the last that any plant reached: where all are lost at one, those behind it have no take, and the yield is what that step leaves.
/// Where nothing was started the whole chain stays, to be refused.
fn reached(chain: &[Vec<Option<Passed>>]) -> usize {
    let steps = chain.first().map_or(0, Vec::len);
    let any =
        |at: &usize| chain.iter().any(|batch| batch.get(*at).copied().flatten().is_some_and(|one| one.reached > 0));
    (0..steps).find(|at| !any(at)).filter(|at| *at > 0).unwrap_or(steps)
}

/// What a tree costs, where costs are given.
fn cost(
    steps: &Steps,
    chain: &[Vec<Option<Passed>>],
    seasons: Option<&[usize]>,
    options: &YieldOptions,
) -> Result<Option<TreeCost>> {
    let Some(mut costs) = costs::by_column(&options.costs, steps.columns())? else { return Ok(None) };
    costs.truncate(chain.first().map_or(0, Vec::len) + 1);
    Ok(tree_cost(&Takes::of(chain, seasons)?, &costs, options.confidence))
}
