//! How often each step costs most when batches are drawn anew.

use super::passed::{Passed, checked, lost, totals};
use crate::control::checkpoint;
use crate::error::Result;
use crate::math::distributions::rng;

/// For each step, the share of draws in which more trees are lost there than at any other; batches are drawn with replacement.
/// Draws in which a step is reached by no plant, and those in which none is lost, count for none.
///
/// # Errors
/// [`StepsError`](crate::error::StepsError) as [`chain_yield`](super::chain_yield).
///
/// ```
/// use rootling::steps::{Passed, lost_most_often};
/// let batch = |counts: [u64; 3]| counts.windows(2).map(|pair| Some(Passed { reached: pair[0], passed: pair[1] })).collect();
/// let shares = lost_most_often(&[batch([50, 40, 20]), batch([50, 41, 18]), batch([60, 50, 28])], 200, 1)?;
/// assert_eq!(shares, [0.0, 1.0]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn lost_most_often(batches: &[Vec<Option<Passed>>], draws: u64, seed: u64) -> Result<Vec<f64>> {
    let steps = checked(batches)?;
    let mut first = vec![0_u64; steps];
    let count = u32::try_from(batches.len()).unwrap_or(u32::MAX);
    for draw in 0..draws {
        checkpoint();
        let mut rng = rng::stream(seed, draw);
        let drawn = batches.iter().filter_map(|_| batches.get(rng::below(&mut rng, count) as usize)).map(Vec::as_slice);
        let sums = totals(drawn, steps);
        if sums.iter().any(|(reached, _)| *reached <= 0.0) {
            continue;
        }
        let takes: Vec<f64> = sums.iter().map(|(reached, passed)| passed / reached).collect();
        let lost = lost(&takes);
        if lost.iter().all(|share| *share <= 0.0) {
            continue;
        }
        let most = lost.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0)));
        if let Some(times) = most.and_then(|(at, _)| first.get_mut(at)) {
            *times += 1;
        }
    }
    Ok(first.iter().map(|times| *times as f64 / draws.max(1) as f64).collect())
}
