//! Takes of the steps and the overall yield, with standard errors from how batches differ.

use super::judged::Judged;
use super::passed::{Passed, lost, others};
use super::takes::Takes;
use crate::error::Result;
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
    /// Degrees of freedom of its limits.
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
    /// Degrees of freedom of its limits.
    pub df: f64,
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
/// `within` gives the season of each batch, so that limits hold for these seasons: what they differ by is then not how batches differ. A
/// season of one batch leaves all of them together.
///
/// Where the batches of all steps are the same this is the yield of followed cohorts, and equals what came to the end over what was
/// started; where each step has the batches that passed it of late it is the yield at current rates. With takes `p_s`, plants `n_s`
/// that reached step s and batch residuals `z_bs = (passed_bs - p_s reached_bs) / n_s` the overall yield `p_1 .. p_S` has the residual
/// `sum_s z_bs prod_(t != s) p_t`. Residuals are divided by the root of one less the batch's share, degrees of freedom are
/// Satterthwaite's, fewer for unequal batches and takes near 0 and 1. Limits are Wilson's on effective plants with t; a standard error is never
/// below that of plants that stand alone.
///
/// # Errors
/// [`StepsError`](crate::error::StepsError) for no step, batches with other steps, counts that rise, a step that nothing reached or that one batch alone was counted at,
/// fewer than two batches; a count error for an impossible confidence.
///
/// # References
/// Bell and `McCaffrey` 2002, Survey Methodology 28:169-181.
///
/// ```
/// use rootling::steps::{Passed, chain_yield};
/// let batch = |counts: [u64; 3]| counts.windows(2).map(|pair| Some(Passed { reached: pair[0], passed: pair[1] })).collect();
/// let found = chain_yield(&[batch([50, 40, 20]), batch([50, 30, 18]), batch([60, 44, 30])], None, 0.95)?;
/// assert!((found.value - 68.0 / 160.0).abs() < 1e-12);
/// assert!(found.steps[1].lost > found.steps[0].lost);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn chain_yield(batches: &[Vec<Option<Passed>>], within: Option<&[usize]>, confidence: f64) -> Result<ChainYield> {
    check_level(confidence)?;
    let known = Takes::of(batches, within)?;
    let steps = known.takes.len();
    let whole = known.whole();
    let value = known.product();
    let (low, high) = limits(value, whole, confidence);
    let lost = lost(&known.takes);
    let told = known.takes.iter().enumerate().zip(lost).zip(others(&known.takes)).map(|(((at, take), lost), other)| {
        let judged = known.take(at);
        let (low, high) = limits(*take, judged, confidence);
        let of_loss = known.combined(&slopes_of_loss(&known.takes, at), lost, known.started());
        StepYield {
            take: *take,
            se: judged.variance.sqrt(),
            low,
            high,
            df: judged.df,
            lost,
            lost_se: of_loss.variance.sqrt(),
            gain: other * RAISED.min(1.0 - take),
        }
    });
    let covariance = (0..steps).map(|one| (0..steps).map(|two| known.covariance(one, two)).collect());
    Ok(ChainYield {
        value,
        se: whole.variance.sqrt(),
        low,
        high,
        se_without_one: standard_error(&without_one(batches, &known.sums)),
        df: whole.df,
        steps: told.collect(),
        covariance: covariance.collect(),
    })
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
pub(in crate::steps) fn limits(value: f64, judged: Judged, confidence: f64) -> (f64, f64) {
    let critical = student_t::quantile(f64::midpoint(1.0, confidence), judged.df);
    around(value, wilson(value * judged.effective, judged.effective, critical))
}

/// The overall yield without each batch in turn.
fn without_one(batches: &[Vec<Option<Passed>>], sums: &[(f64, f64)]) -> Vec<Option<f64>> {
    let counted = batches.iter().filter(|batch| batch.iter().any(Option::is_some));
    let without = |batch: &Vec<Option<Passed>>| {
        let left = sums.iter().zip(batch).map(|((reached, passed), one)| {
            let (r, p) = one.map_or((0.0, 0.0), |one| (one.reached as f64, one.passed as f64));
            (reached - r > 0.0).then(|| (passed - p) / (reached - r))
        });
        left.product::<Option<f64>>()
    };
    counted.map(without).collect()
}
