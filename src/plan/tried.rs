//! A design tried many times: what share of trials shows what is there.

use super::design::PlannedTrial;
use super::kernel::{Kernel, Outcome, Wanted};
use super::numbers::{PairPower, PlanRow};
use super::options::PlanOptions;
use super::question::{Asked, Question};
use super::uncertain::Correlations;
use crate::control::Control;
use crate::error::{PlanError, Result};
use crate::simulate::replicates;

/// What many trials came to.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Tried {
    draws: u64,
    shown: Vec<u64>,
    all: u64,
    confirmed: Option<u64>,
    widths: Vec<f64>,
}

impl Tried {
    fn add(&mut self, one: &Outcome, wanted: &[bool]) {
        self.draws += 1;
        self.shown.resize(wanted.len(), 0);
        self.shown.iter_mut().zip(&one.shown).for_each(|(count, shown)| *count += u64::from(*shown));
        self.all += u64::from(one.shown.iter().zip(wanted).all(|(shown, wanted)| *shown || !wanted));
        if let Some(confirmed) = one.confirmed {
            *self.confirmed.get_or_insert(0) += u64::from(confirmed);
        }
        self.widths.extend(one.half_width);
    }

    fn share(&self, count: u64) -> f64 {
        count as f64 / self.draws.max(1) as f64
    }
}

/// Ready to try designs.
pub(super) struct Bench<'a> {
    pub(super) options: &'a PlanOptions,
    pub(super) asked: Asked,
    pub(super) control: &'a Control,
}

impl<'a> Bench<'a> {
    /// # Errors
    /// What cannot be planned.
    pub(super) fn new(options: &'a PlanOptions, control: &'a Control) -> Result<Self> {
        let asked = options.asked()?;
        Ok(Self { options, asked, control })
    }

    /// Which of the pairs are expected to differ; what is not a pair always counts.
    fn apart(&self, kernel: &Kernel<'_>) -> Vec<bool> {
        let takes = &self.options.trial.takes;
        let take = |level: usize| takes.get(level).copied().unwrap_or(0.0);
        let apart = |pair: &(usize, usize)| take(pair.0) != take(pair.1);
        let found: Vec<bool> = kernel.pairs().iter().map(apart).collect();
        if found.iter().any(|apart| *apart) { found } else { vec![true; found.len().max(1)] }
    }

    /// Draws `draws` trials of a design.
    pub(super) fn tried(&self, plan: &PlannedTrial, draws: u64, wanted: Wanted) -> Result<(Tried, Vec<bool>)> {
        let kernel = Kernel::new(plan, &self.asked, wanted)?;
        let expected = self.apart(&kernel);
        let found = replicates(
            draws,
            self.options.seed,
            0,
            self.control,
            |random| kernel.one(random, self.control),
            |sum: &mut Tried, one: Outcome| sum.add(&one, &expected),
        )?;
        Ok((found, expected))
    }

    /// The share of trials that show what is there: of several pairs, that of the pair shown least often.
    pub(super) fn power(&self, plan: &PlannedTrial, draws: u64) -> Result<f64> {
        let (found, expected) = self.tried(plan, draws, Wanted::default())?;
        Ok(least(&found, &expected))
    }

    /// One row of an answer.
    pub(super) fn row(&self, plan: &PlannedTrial, wanted: Wanted) -> Result<(PlanRow, Vec<PairPower>)> {
        if plan.block_trays > 0 && !plan.trays.is_multiple_of(plan.block_trays) {
            return Err(PlanError::NotFilled { trays: plan.trays, block: plan.block_trays }.into());
        }
        let (mut found, expected) = self.tried(plan, self.options.draws, wanted)?;
        let power = least(&found, &expected);
        let several = expected.len() > 1;
        let widths = quantiles(&mut found.widths);
        let row = PlanRow {
            trays: plan.trays_per_level(),
            bays: plan.bays,
            cuttings: plan.cuttings,
            correlation: plan.correlation,
            power,
            error: (power * (1.0 - power) / found.draws as f64).sqrt(),
            expected_power: None,
            all_shown: several.then(|| found.share(found.all)),
            confirmed: found.confirmed.map(|count| found.share(count)),
            smallest_p: smallest_p(plan, self.asked.question),
            half_width: widths.map(|pair| pair.0),
            half_width_90: widths.map(|pair| pair.1),
            n_cuttings: plan.trays_per_level() * plan.cuttings * plan.takes.len() as u64,
            n_trays: plan.trays_per_level() * plan.takes.len() as u64,
            cost: self.cost(plan),
            reached: true,
        };
        Ok((row, if several { self.pairs(plan, &found) } else { Vec::new() }))
    }

    fn pairs(&self, plan: &PlannedTrial, found: &Tried) -> Vec<PairPower> {
        let take = |level: usize| plan.takes.get(level).copied().unwrap_or(0.0);
        let pairs = self.asked.question.pairs(plan.takes.len()).into_iter().zip(&found.shown);
        pairs
            .map(|((first, second), shown)| PairPower {
                first: self.options.level(first),
                second: self.options.level(second),
                expected: take(second) - take(first),
                power: found.share(*shown),
            })
            .collect()
    }

    /// What the whole trial costs, where costs are given.
    pub(super) fn cost(&self, plan: &PlannedTrial) -> Option<f64> {
        let (tray, cutting) = (self.options.cost_per_tray, self.options.cost_per_cutting);
        if tray.is_none() && cutting.is_none() {
            return None;
        }
        let trays = (plan.trays_per_level() * plan.takes.len() as u64) as f64;
        Some(trays * (tray.unwrap_or(0.0) + plan.cuttings as f64 * cutting.unwrap_or(0.0)))
    }

    /// The same row with the correlation as uncertain as earlier trials leave it.
    pub(super) fn uncertain(&self, row: &mut PlanRow, plan: &PlannedTrial, known: &Correlations) -> Result<()> {
        row.expected_power = Some(self.expected(plan, known, self.options.draws)?);
        Ok(())
    }

    /// The power averaged over correlations that are equally likely, of so many trials in all.
    pub(super) fn expected(&self, plan: &PlannedTrial, known: &Correlations, draws: u64) -> Result<f64> {
        let parts = known.parts();
        let each = (draws / parts.len().max(1) as u64).max(50);
        let powers = parts.iter().map(|correlation| self.power(&plan.alike(*correlation), each));
        Ok(powers.sum::<Result<f64>>()? / parts.len().max(1) as f64)
    }
}

fn least(found: &Tried, expected: &[bool]) -> f64 {
    let counted = found.shown.iter().zip(expected).filter(|(_, expected)| **expected).map(|(count, _)| *count);
    found.share(counted.min().unwrap_or(0))
}

/// The middle of numbers, and what nine in ten stay below.
fn quantiles(values: &mut [f64]) -> Option<(f64, f64)> {
    values.sort_by(f64::total_cmp);
    let at =
        |share: f64| values.get(((values.len() as f64 * share) as usize).min(values.len().saturating_sub(1))).copied();
    at(0.5).zip(at(0.9))
}

/// The smallest P value that dealing out two levels again can give: twice one over the number of ways, all blocks together.
fn smallest_p(plan: &PlannedTrial, question: Question) -> Option<f64> {
    if question != Question::Difference {
        return None;
    }
    let units = if plan.bays > 0 { plan.bays } else { plan.trays };
    let ways = |each: u64| (1..=each).fold(1.0, |ways, at| ways * (each + at) as f64 / at as f64);
    let ways = match plan.block_trays {
        0 => ways(units),
        each => ways(each).powi((plan.trays / each) as i32),
    };
    Some((2.0 / ways).min(1.0))
}
