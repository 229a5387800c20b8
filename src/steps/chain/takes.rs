//! The takes of a chain, and how well any combination of them is known.

use super::judged::{Judged, Part, Rate, judged};
use super::passed::{Passed, checked, others, totals};
use crate::error::{Result, StepsError};

/// Takes of all steps with what each batch adds to them.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::steps) struct Takes {
    /// Plants that reached and passed each step.
    pub(in crate::steps) sums: Vec<(f64, f64)>,
    /// The take of each step.
    pub(in crate::steps) takes: Vec<f64>,
    /// Batches, those that were counted at a step.
    batches: Vec<Followed>,
    /// True where every batch was counted at every step and none left alive: what came to the end is then a plain rate of what started.
    closed: bool,
}

/// One batch.
#[derive(Debug, Clone, PartialEq)]
struct Followed {
    group: usize,
    /// Plants that reached each step; None where it was not counted.
    reached: Vec<Option<f64>>,
    /// `(passed - take reached) / all that reached`, less what its group has of that on average.
    residuals: Vec<f64>,
    /// The same for the end of all that started, where the chain is closed.
    whole: f64,
}

impl Takes {
    /// The takes of these batches, compared among all or within the groups given.
    ///
    /// # Errors
    /// [`StepsError`] for no step, batches with other steps, counts that rise, a step that nothing reached or that one batch alone was counted at, fewer than two batches.
    pub(in crate::steps) fn of(batches: &[Vec<Option<Passed>>], within: Option<&[usize]>) -> Result<Self> {
        let steps = checked(batches)?;
        let groups = within.unwrap_or_default();
        let counted = batches.iter().enumerate().filter(|(_, batch)| batch.iter().any(Option::is_some));
        let used: Vec<(usize, &[Option<Passed>])> =
            counted.map(|(at, batch)| (groups.get(at).copied().unwrap_or_default(), batch.as_slice())).collect();
        if used.len() < 2 {
            return Err(StepsError::TooFewBatches { batches: used.len() }.into());
        }
        let alone =
            |step: &usize| used.iter().filter(|(_, batch)| batch.get(*step).is_some_and(Option::is_some)).count() < 2;
        if let Some(step) = (0..steps).find(alone) {
            return Err(StepsError::OneBatchAtStep { step: step + 1 }.into());
        }
        let sums = totals(used.iter().map(|one| one.1), steps);
        let takes: Vec<f64> = sums.iter().map(|(reached, passed)| passed / reached).collect();
        let closed = used.iter().all(|(_, batch)| closed(batch));
        let several = several_each(&used);
        let mut batches: Vec<Followed> = used
            .iter()
            .map(|(group, batch)| followed(if several { *group } else { 0 }, batch, &takes, &sums))
            .collect();
        centred(&mut batches, steps);
        Ok(Self { sums, takes, batches, closed })
    }

    /// Plants that started.
    pub(in crate::steps) fn started(&self) -> f64 {
        self.sums.first().map_or(0.0, |sum| sum.0)
    }

    /// The overall yield.
    pub(in crate::steps) fn product(&self) -> f64 {
        self.takes.iter().product()
    }

    /// The variance of each take if plants stood alone.
    fn alone(&self) -> impl Iterator<Item = f64> {
        self.takes.iter().zip(&self.sums).map(|(take, (reached, _))| take * (1.0 - take) / reached)
    }

    /// True where what came to the end is a plain rate of what started.
    pub(in crate::steps) fn is_closed(&self) -> bool {
        self.closed
    }

    /// How well the take of one step is known.
    pub(in crate::steps) fn take(&self, at: usize) -> Judged {
        let weights: Vec<f64> = (0..self.takes.len()).map(|step| f64::from(u8::from(step == at))).collect();
        let value = self.takes.get(at).copied().unwrap_or_default();
        self.combined(&weights, value, self.sums.get(at).map_or(0.0, |sum| sum.0))
    }

    /// How well the overall yield is known.
    pub(in crate::steps) fn whole(&self) -> Judged {
        let value = self.product();
        if !self.closed {
            return self.combined(&others(&self.takes), value, self.started());
        }
        let plants = self.started();
        let parts: Vec<Part> = self
            .batches
            .iter()
            .map(|one| Part {
                group: one.group,
                residual: one.whole,
                share: one.reached.first().copied().flatten().unwrap_or_default() / plants,
            })
            .collect();
        judged(&parts, Rate { value, plants, alone: value * (1.0 - value) / plants })
    }

    /// How well a combination of takes with these weights is known, where it makes a rate of so many plants.
    pub(in crate::steps) fn combined(&self, weights: &[f64], value: f64, plants: f64) -> Judged {
        let variances: Vec<f64> =
            self.alone().zip(weights).map(|(variance, weight)| weight * weight * variance).collect();
        let alone: f64 = variances.iter().sum();
        let weighty = weights.iter().filter(|weight| **weight != 0.0).count().max(1) as f64;
        let parts: Vec<Part> = self
            .batches
            .iter()
            .map(|one| {
                let each = one.reached.iter().zip(&self.sums).zip(variances.iter().zip(weights));
                let share = each.map(|((reached, (all, _)), (variance, weight))| {
                    let of = reached.unwrap_or_default() / all;
                    if alone > 0.0 { of * variance / alone } else { of * f64::from(u8::from(*weight != 0.0)) / weighty }
                });
                let residual = one.residuals.iter().zip(weights).map(|(z, weight)| z * weight).sum();
                Part { group: one.group, residual, share: share.sum() }
            })
            .collect();
        judged(&parts, Rate { value, plants, alone })
    }

    /// The covariance of two takes by linearisation.
    pub(in crate::steps) fn covariance(&self, one: usize, two: usize) -> f64 {
        let count = self.batches.len() as f64;
        let products = self.batches.iter().filter_map(|b| Some(b.residuals.get(one)? * b.residuals.get(two)?));
        count / (count - 1.0) * products.sum::<f64>()
    }
}

/// True where each step begins with those that passed the one before.
fn closed(batch: &[Option<Passed>]) -> bool {
    batch.iter().all(Option::is_some)
        && batch.windows(2).all(|pair| match pair {
            [Some(one), Some(two)] => one.passed == two.reached,
            _ => false,
        })
}

/// True where each group has two batches and more.
fn several_each(used: &[(usize, &[Option<Passed>])]) -> bool {
    let mut counts = std::collections::BTreeMap::<usize, usize>::new();
    used.iter().for_each(|(group, _)| *counts.entry(*group).or_default() += 1);
    counts.values().all(|count| *count > 1)
}

fn followed(group: usize, batch: &[Option<Passed>], takes: &[f64], sums: &[(f64, f64)]) -> Followed {
    let residual = |one: &Option<Passed>, take: f64, reached: f64| {
        one.map_or(0.0, |one| (one.passed as f64 - take * one.reached as f64) / reached)
    };
    let each = batch.iter().zip(takes).zip(sums);
    let residuals = each.map(|((one, take), (reached, _))| residual(one, *take, *reached)).collect();
    let reached: Vec<Option<f64>> = batch.iter().map(|one| one.map(|one| one.reached as f64)).collect();
    let all = sums.first().map_or(1.0, |sum| sum.0);
    let end = batch.last().copied().flatten().map_or(0.0, |last| last.passed as f64);
    let began = reached.first().copied().flatten().unwrap_or_default();
    let whole = (end - takes.iter().product::<f64>() * began) / all;
    Followed { group, reached, residuals, whole }
}

/// Takes what a group has on average, plant by plant, out of its batches: what seasons differ by is not how batches differ.
fn centred(batches: &mut [Followed], steps: usize) {
    let count = batches.iter().map(|one| one.group + 1).max().unwrap_or_default();
    if count < 2 {
        return;
    }
    let size = |one: &Followed| one.reached.iter().copied().flatten().next().unwrap_or_default();
    for step in 0..=steps {
        // One step after the other, and the whole last.
        let counted = |one: &Followed| step == steps || one.reached.get(step).is_some_and(Option::is_some);
        let mut means = vec![(0.0, 0.0); count];
        for one in batches.iter().filter(|one| counted(one)) {
            if let Some(mean) = means.get_mut(one.group) {
                let value = one.residuals.get(step).copied().unwrap_or(one.whole);
                *mean = (mean.0 + value, mean.1 + size(one));
            }
        }
        for one in batches.iter_mut() {
            let Some((sum, all)) = means.get(one.group).copied().filter(|_| counted(one)) else { continue };
            let less = if all > 0.0 { size(one) / all * sum } else { 0.0 };
            *one.residuals.get_mut(step).unwrap_or(&mut one.whole) -= less;
        }
    }
}
