//! Takes of the steps and the overall yield, with standard errors from how batches differ.

use super::passed::{Passed, checked, lost, others, totals};
use crate::error::{Result, StepsError};
use crate::estimate::{around, check_level};
use crate::math::distributions::student_t;
use crate::rates::wilson;
use crate::steps::without_one::standard_error;

/// A chain: the take of each step and the overall yield, all as proportions of those that reached the step or started.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainYield {
    /// The product of all takes.
    pub value: f64,
    /// Its standard error: by linearisation over batches, never below that of plants that stand alone.
    pub se: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// The standard error by leaving out one batch at a time; None where a step then has no plants.
    pub se_without_one: Option<f64>,
    /// Degrees of freedom: batches less one.
    pub df: f64,
    /// Each step.
    pub steps: Vec<StepYield>,
    /// Covariances of the takes by linearisation, row by row.
    pub covariance: Vec<Vec<f64>>,
}

/// One step of a chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepYield {
    /// Of those that reached the step, the share that passed it.
    pub take: f64,
    /// Its standard error.
    pub se: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Of all that start, the share lost here.
    pub lost: f64,
    /// Its standard error.
    pub lost_se: f64,
    /// What a take higher by five points (or by what is left to 1) adds to the overall yield.
    pub gain: f64,
}

/// Points by which a take is raised to see what a step is worth.
const RAISED: f64 = 0.05;

/// The takes of a chain and its overall yield from batches; `None` where a batch was not counted at a step or is too young for it.
///
/// Where the batches of all steps are the same this is the yield of followed cohorts, and equals what came to the end over what was
/// started; where each step has the batches that passed it of late it is the yield at current rates. With takes `p_s`, plants `n_s`
/// that reached step s and batch residuals `z_bs = (passed_bs - p_s reached_bs) / n_s` the covariance of the takes is
/// `B / (B - 1) sum_b z_bs z_bt`, and the overall yield `p_1 .. p_S` has the residual `sum_s z_bs prod_(t != s) p_t`. Limits are
/// Wilson's on effective plants with t on batches less one; a standard error is never below that of plants that stand alone.
///
/// # Errors
/// [`StepsError`] for no step, batches with other steps, counts that rise, a step that nothing reached, fewer than two batches; a count
/// error for an impossible confidence.
///
/// ```
/// use rootling::steps::{Passed, chain_yield};
/// let batch = |counts: [u64; 3]| counts.windows(2).map(|pair| Some(Passed { reached: pair[0], passed: pair[1] })).collect();
/// let found = chain_yield(&[batch([50, 40, 20]), batch([50, 30, 18]), batch([60, 44, 30])], 0.95)?;
/// assert!((found.value - 68.0 / 160.0).abs() < 1e-12);
/// assert!(found.steps[1].lost > found.steps[0].lost);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn chain_yield(batches: &[Vec<Option<Passed>>], confidence: f64) -> Result<ChainYield> {
    check_level(confidence)?;
    let steps = checked(batches)?;
    let used: Vec<&[Option<Passed>]> =
        batches.iter().map(Vec::as_slice).filter(|batch| batch.iter().any(Option::is_some)).collect();
    if used.len() < 2 {
        return Err(StepsError::TooFewBatches { batches: used.len() }.into());
    }
    let sums = totals(used.iter().copied(), steps);
    let takes: Vec<f64> = sums.iter().map(|(reached, passed)| passed / reached).collect();
    let residuals: Vec<Vec<f64>> = used.iter().map(|batch| residuals(batch, &takes, &sums)).collect();
    let df = used.len() as f64 - 1.0;
    let factor = used.len() as f64 / df;
    // What a combination of takes varies by, over batches.
    let varies = |weights: &[f64]| -> f64 {
        let each = residuals.iter().map(|one| one.iter().zip(weights).map(|(z, weight)| z * weight).sum::<f64>());
        factor * each.map(|sum| sum * sum).sum::<f64>()
    };
    let alone: Vec<f64> = takes.iter().zip(&sums).map(|(take, (reached, _))| take * (1.0 - take) / reached).collect();
    let se = |weights: &[f64]| {
        let least: f64 = weights.iter().zip(&alone).map(|(weight, variance)| weight * weight * variance).sum();
        varies(weights).max(least).sqrt()
    };
    let critical = student_t::quantile(f64::midpoint(1.0, confidence), df);
    let plants = |at: usize| sums.get(at).map_or(0.0, |sum| sum.0);
    let weights = others(&takes);
    let product: f64 = takes.iter().product();
    let whole_se = se(&weights);
    let (low, high) = limits(product, whole_se, plants(0), critical);
    let lost = lost(&takes);
    let told = takes.iter().enumerate().zip(lost).zip(&weights).map(|(((at, take), lost), other)| {
        let only: Vec<f64> = (0..steps).map(|step| f64::from(u8::from(step == at))).collect();
        let se_take = se(&only);
        let (low, high) = limits(*take, se_take, plants(at), critical);
        let gain = other * RAISED.min(1.0 - take);
        StepYield { take: *take, se: se_take, low, high, lost, lost_se: se(&slopes_of_loss(&takes, at)), gain }
    });
    let told = told.collect();
    let covariance = (0..steps).map(|one| (0..steps).map(|two| factor * together(&residuals, one, two)).collect());
    Ok(ChainYield {
        value: product,
        se: whole_se,
        low,
        high,
        se_without_one: standard_error(&without_one(&used, &sums)),
        df,
        steps: told,
        covariance: covariance.collect(),
    })
}

fn residuals(batch: &[Option<Passed>], takes: &[f64], sums: &[(f64, f64)]) -> Vec<f64> {
    let each = batch.iter().zip(takes).zip(sums);
    each.map(|((one, take), (reached, _))| {
        one.map_or(0.0, |one| (one.passed as f64 - take * one.reached as f64) / reached)
    })
    .collect()
}

fn together(residuals: &[Vec<f64>], one: usize, two: usize) -> f64 {
    residuals.iter().filter_map(|batch| Some(batch.get(one)? * batch.get(two)?)).sum()
}

/// How the share lost at a step moves with each take: with those before it, and against its own.
fn slopes_of_loss(takes: &[f64], at: usize) -> Vec<f64> {
    let before: Vec<f64> = takes.iter().take(at).copied().collect();
    let own = takes.get(at).copied().unwrap_or_default();
    let mut slopes: Vec<f64> = others(&before).into_iter().map(|other| other * (1.0 - own)).collect();
    slopes.push(-before.iter().product::<f64>());
    slopes.resize(takes.len(), 0.0);
    slopes
}

/// Wilson's limits on as many plants as would vary as much if each stood alone.
fn limits(value: f64, se: f64, plants: f64, critical: f64) -> (f64, f64) {
    let varies = value * (1.0 - value);
    let effective = if se > 0.0 && varies > 0.0 { (varies / (se * se)).min(plants) } else { plants };
    around(value, wilson(value * effective, effective, critical))
}

/// The overall yield without each batch in turn.
fn without_one(batches: &[&[Option<Passed>]], sums: &[(f64, f64)]) -> Vec<Option<f64>> {
    let without = |batch: &&[Option<Passed>]| {
        let left = sums.iter().zip(batch.iter()).map(|((reached, passed), one)| {
            let (r, p) = one.map_or((0.0, 0.0), |one| (one.reached as f64, one.passed as f64));
            (reached - r > 0.0).then(|| (passed - p) / (reached - r))
        });
        left.product::<Option<f64>>()
    };
    batches.iter().map(without).collect()
}
