//! A trial that may end early: P levels for every look, so that all looks together alarm no more often than one would.

use super::design::PlannedTrial;
use super::kernel::{Drawn, Kernel, Wanted};
use super::numbers_looks::{LookRow, Looks, LooksOptions};
use super::question::{Asked, Question};
use super::words_looks;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::{PlanError, Result};
use crate::math::distributions::normal;
use crate::math::rng::ChaCha8Rng;
use crate::rates::Arm;
use crate::simulate::replicates;

/// Trials without a difference are drawn so many times as often: the constant is a far quantile.
const MORE: u64 = 4;
/// Trials that are looked at after every tray: as many looks as there are trays.
const EVERY: u64 = 2_000;
/// Where the streams of other draws begin.
const APART: u64 = 1 << 40;

/// P levels for so many looks at equal parts of a trial of two levels, simulated under the tool's default analysis, with what they cost.
///
/// The statistic of a look is the normal deviate of its P value; the constant is the quantile, over trials without a difference, of the
/// largest of them (Pocock), or of the largest of them times `sqrt(look / looks)` (O'Brien and Fleming).
///
/// # Errors
/// [`PlanError`] for what cannot be planned; [`Error::Interrupted`](crate::Error::Interrupted) when stopped.
///
/// # References
/// Pocock SJ (1977), Biometrika 64:191-199; O'Brien PC, Fleming TR (1979), Biometrics 35:549-556; Armitage P, McPherson CK, Rowe BC
/// (1969), J. R. Stat. Soc. A 132:235-244.
///
/// ```
/// use rootling::prelude::*;
/// use rootling::plan::{LooksOptions, PlanOptions, looks};
/// let mut plan = PlanOptions { correlation: vec![0.05], trays: vec![12], draws: 1_000, ..PlanOptions::default() };
/// plan.trial.takes = vec![0.5, 0.8];
/// let found = looks(&LooksOptions { plan, looks: 2, ..LooksOptions::default() }, &Control::new())?.numbers;
/// assert!(found.rows[0].p_level < 0.02 && found.rows[1].p_level < 0.051);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn looks(options: &LooksOptions, control: &Control) -> Result<Answer<Looks>> {
    let count = options.looks;
    if !(2..=10).contains(&count) {
        return Err(PlanError::Looks { looks: count }.into());
    }
    let asked = options.plan.asked()?;
    options.plan.check_expected(&asked)?;
    let plan = options.plan.one();
    if asked.question != Question::Difference || plan.bays > 0 || plan.block_trays > 0 {
        return Err(PlanError::LooksAt { question: asked.question.name() }.into());
    }
    if plan.trays % count != 0 || plan.trays / count < 2 {
        return Err(PlanError::LookTrays { looks: count, trays: plan.trays, least: 2 * count }.into());
    }
    let middle = plan.takes.iter().sum::<f64>() / plan.takes.len().max(1) as f64;
    let null = PlannedTrial { takes: vec![middle; 2], ..plan.clone() };
    let alpha = 1.0 - asked.confidence;
    let run = Run { asked: &asked, options, control };
    control.expect(4);
    let levels = run.levels(&null, alpha)?;
    control.finish(1);
    let found = run.found(&plan, &null, &levels)?;
    Ok(words_looks::answer(found, options))
}

struct Run<'a> {
    asked: &'a Asked,
    options: &'a LooksOptions,
    control: &'a Control,
}

/// Deviates of the P values of all looks, on the side of the difference expected.
fn deviate(p: f64) -> f64 {
    normal::isf((0.5 * p).max(f64::MIN_POSITIVE))
}

impl Run<'_> {
    /// P values after each of these numbers of trays per level, in many trials.
    fn series(&self, plan: &PlannedTrial, sizes: &[u64], draws: u64, first: u64) -> Result<Vec<Vec<f64>>> {
        let kernel = Kernel::new(plan, self.asked, Wanted::default())?;
        let one = |random: &mut ChaCha8Rng| {
            let drawn = kernel.drawn(random);
            let mut found = Vec::with_capacity(sizes.len());
            for size in sizes {
                let part = part(&drawn, *size as usize);
                found.push(kernel.judged(&part, random, self.control)?.p.unwrap_or(1.0));
            }
            Ok(found)
        };
        replicates(draws, self.options.plan.seed, first, self.control, one, |all: &mut Vec<Vec<f64>>, one| {
            all.push(one)
        })
    }

    fn sizes(&self, trays: u64) -> Vec<u64> {
        (1..=self.options.looks).map(|look| trays * look / self.options.looks).collect()
    }

    /// The constant of the boundary and the P level of every look.
    fn levels(&self, null: &PlannedTrial, alpha: f64) -> Result<(f64, Vec<f64>)> {
        let sizes = self.sizes(null.trays);
        let (of, boundary) = (sizes.len(), self.options.boundary);
        let series = self.series(null, &sizes, MORE * self.options.plan.draws, APART)?;
        let largest = |p_values: &Vec<f64>| {
            let weighted = p_values.iter().enumerate().map(|(at, p)| deviate(*p) * boundary.weight(at + 1, of));
            weighted.fold(0.0, f64::max)
        };
        let mut tops: Vec<f64> = series.iter().map(largest).collect();
        tops.sort_by(f64::total_cmp);
        let at = ((1.0 - alpha) * tops.len() as f64).ceil() as usize;
        let constant = tops.get(at.min(tops.len().saturating_sub(1))).copied().unwrap_or(0.0);
        let level = |at: usize| 2.0 * normal::sf(constant / boundary.weight(at + 1, of));
        Ok((constant, (0..of).map(level).collect()))
    }

    fn found(&self, plan: &PlannedTrial, null: &PlannedTrial, levels: &(f64, Vec<f64>)) -> Result<Looks> {
        let (draws, alpha) = (self.options.plan.draws, 1.0 - self.asked.confidence);
        let sizes = self.sizes(plan.trays);
        let with = self.series(plan, &sizes, draws, 0)?;
        self.control.finish(1);
        let without = self.series(null, &sizes, MORE * draws, 2 * APART)?;
        self.control.finish(1);
        let every: Vec<u64> = (2..=plan.trays).collect();
        let each = self.series(null, &every, draws.min(EVERY), 3 * APART)?;
        self.control.finish(1);
        let share = |count: usize, of: usize| count as f64 / of.max(1) as f64;
        let ended = |series: &[Vec<f64>], look: usize| {
            let by = |one: &&Vec<f64>| one.iter().zip(&levels.1).take(look + 1).any(|(p, level)| p <= level);
            share(series.iter().filter(by).count(), series.len())
        };
        let rows: Vec<LookRow> = sizes
            .iter()
            .zip(&levels.1)
            .enumerate()
            .map(|(at, (trays, level))| LookRow {
                look: at as u64 + 1,
                trays: *trays,
                p_level: *level,
                ended: ended(&with, at),
                alarms: ended(&without, at),
            })
            .collect();
        let naive = |series: &[Vec<f64>]| {
            share(series.iter().filter(|one| one.iter().any(|p| *p <= alpha)).count(), series.len())
        };
        let last = |one: &&Vec<f64>| one.last().is_some_and(|p| *p <= alpha);
        let stops = |one: &Vec<f64>| {
            let at = one.iter().zip(&levels.1).position(|(p, level)| p <= level);
            at.and_then(|at| sizes.get(at)).copied().unwrap_or(plan.trays) as f64
        };
        Ok(Looks {
            boundary: self.options.boundary,
            takes: plan.takes.clone(),
            cuttings: plan.cuttings,
            correlation: plan.correlation,
            confidence: self.asked.confidence,
            power: rows.last().map_or(0.0, |row| row.ended),
            power_without: share(with.iter().filter(last).count(), with.len()),
            mean_trays: with.iter().map(stops).sum::<f64>() / with.len().max(1) as f64,
            naive: naive(&without),
            naive_each_tray: naive(&each),
            constant: levels.0,
            rows,
            draws,
        })
    }
}

/// The first trays of either level.
fn part(drawn: &Drawn, trays: usize) -> Drawn {
    let first = |arm: &Arm| Arm {
        rooted: arm.rooted.iter().take(trays).copied().collect(),
        stuck: arm.stuck.iter().take(trays).copied().collect(),
    };
    Drawn {
        arms: drawn.arms.iter().map(first).collect(),
        places: drawn.places.iter().map(|own| own.iter().take(trays).copied().collect()).collect(),
    }
}
