//! Plants that reached a step and passed it, batch by batch.

use serde::Serialize;

use crate::error::{Result, StepsError};

/// Plants of one batch at one step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Passed {
    /// Plants that reached the step and were old enough to be judged.
    pub reached: u64,
    /// Of these, the plants that passed it.
    pub passed: u64,
}

impl Passed {
    /// Both together.
    pub(in crate::steps) fn and(self, other: Self) -> Self {
        Self { reached: self.reached + other.reached, passed: self.passed + other.passed }
    }
}

/// Checked: all batches have the same steps, nothing rises, every step was reached. Gives how many steps there are.
pub(super) fn checked(batches: &[Vec<Option<Passed>>]) -> Result<usize> {
    let steps = batches.first().map_or(0, Vec::len);
    if steps == 0 {
        return Err(StepsError::NoSteps.into());
    }
    for (at, batch) in batches.iter().enumerate() {
        if batch.len() != steps {
            return Err(StepsError::UnevenChain { batch: at + 1, found: batch.len(), expected: steps }.into());
        }
        for (step, one) in batch.iter().enumerate() {
            if let Some(Passed { reached, passed }) = *one
                && passed > reached
            {
                let (batch, step) = (at + 1, step + 1);
                return Err(StepsError::RisesAlongChain { batch, step, into: reached, out: passed }.into());
            }
        }
    }
    let sums = totals(batches.iter().map(Vec::as_slice), steps);
    match sums.iter().position(|(reached, _)| *reached <= 0.0) {
        Some(step) => Err(StepsError::NothingReached { step: step + 1 }.into()),
        None => Ok(steps),
    }
}

/// Plants that reached and passed each step, over batches.
pub(super) fn totals<'a>(batches: impl Iterator<Item = &'a [Option<Passed>]>, steps: usize) -> Vec<(f64, f64)> {
    let mut sums = vec![(0.0, 0.0); steps];
    for batch in batches {
        for (sum, one) in sums.iter_mut().zip(batch) {
            if let Some(one) = one {
                sum.0 += one.reached as f64;
                sum.1 += one.passed as f64;
            }
        }
    }
    sums
}

/// The product of all takes but one, for each step.
pub(in crate::steps) fn others(takes: &[f64]) -> Vec<f64> {
    let product = |but: usize| takes.iter().enumerate().filter(|(at, _)| *at != but).map(|(_, take)| take).product();
    (0..takes.len()).map(product).collect()
}

/// Of all that start, the share lost at each step.
pub(super) fn lost(takes: &[f64]) -> Vec<f64> {
    let mut left = 1.0;
    let one = |take: &f64| {
        let lost = left * (1.0 - take);
        left *= take;
        lost
    };
    takes.iter().map(one).collect()
}
