//! A trial under way: the chance that it ends with a difference shown, given the trays read so far.

use super::design::PlannedTrial;
use super::draw::TrayTable;
use super::kernel::{Drawn, Kernel, Wanted};
use super::numbers_looks::{EndChance, EndChances, EndOptions};
use super::question::{Asked, Question};
use super::words_looks;
use crate::answer::Answer;
use crate::compare::{code_of, column};
use crate::control::Control;
use crate::effects::Adjustment;
use crate::error::{PlanError, Result};
use crate::estimate::check_level;
use crate::math::rng::ChaCha8Rng;
use crate::rates::{Arm, tray_spread};
use crate::simulate::replicates;
use crate::trial::{UnitKind, Units};

/// The chance that a trial ends with a difference shown, for takes as expected, as seen so far, and without a difference: the trays read
/// stay as they are, those to come are drawn, and all are judged by the tool's default analysis.
///
/// The trays must have been dealt out freely: with blocks, bays or plants the trays to come would have to be known one by one.
///
/// # Errors
/// [`PlanError`] for what cannot be planned, a choice error for an unknown column or level.
///
/// # References
/// Lan KKG, Simon R, Halperin M (1982), Commun. Stat. C 1:207-219 (stopping by the chance that is left; from memory).
///
/// ```
/// use rootling::prelude::*;
/// use rootling::plan::{EndOptions, chance_at_end};
/// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n0,c,4,20\n2500,d,14,20\n2500,e,12,20\n2500,f,9,20\n";
/// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
/// # let trial = read_csv(csv, &options)?;
/// let asked = EndOptions { trays: 8, draws: 1_000, ..EndOptions::default() };
/// let found = chance_at_end(trial.units(), "strength", ("0", "2500"), &asked, &Control::new())?.numbers;
/// assert!(found.rows[0].chance > 0.95 && found.rows[1].chance < found.rows[0].chance);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn chance_at_end(
    units: &Units,
    treatment: &str,
    levels: (&str, &str),
    options: &EndOptions,
    control: &Control,
) -> Result<Answer<EndChances>> {
    check_level(1.0 - options.p_level)?;
    if !(100..=1_000_000).contains(&options.draws) {
        return Err(PlanError::Draws { draws: options.draws }.into());
    }
    let places = [&units.block, &units.whole_plot, &units.season, &units.stock_plant];
    if units.kind != UnitKind::Tray || units.treatments.len() > 1 || places.iter().any(|place| place.is_some()) {
        return Err(PlanError::NotFree.into());
    }
    let factor = column(units, treatment)?;
    let arm = |level: &str| -> Result<Arm> {
        let code = code_of(factor, level)?;
        let own = factor.codes.iter().enumerate().filter(|(_, one)| **one == code);
        let (rooted, stuck) = own.filter_map(|(at, _)| units.count(at)).map(|one| (one.rooted, one.stuck)).unzip();
        Ok(Arm { rooted, stuck })
    };
    let arms = [arm(levels.0)?, arm(levels.1)?];
    let left = options.trays.saturating_sub(arms.iter().map(|arm| arm.stuck.len() as u64).min().unwrap_or(0));
    let spread = tray_spread(&arms).filter(|_| left > 0).ok_or(PlanError::NothingToCome { trays: options.trays })?;
    let cuttings = options.cuttings.unwrap_or_else(|| {
        let (_, stuck) = arms.iter().map(Arm::total).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        (stuck / arms.iter().map(|arm| arm.stuck.len()).sum::<usize>().max(1) as f64).round().max(1.0) as u64
    });
    let [first, second] = arms.each_ref().map(Arm::rate);
    let under_way = UnderWay { arms: &arms, correlation: spread.icc_used().min(0.95), cuttings, options, control };
    let pooled = f64::midpoint(first, second);
    let expected = options.takes.map(|takes| ("as expected", takes));
    let assumed = [Some(("as seen so far", (first, second))), Some(("no difference", (pooled, pooled)))];
    control.expect(2 + u64::from(expected.is_some()));
    let rows = std::iter::once(expected)
        .chain(assumed)
        .flatten()
        .map(|(name, takes)| under_way.chance(name, takes))
        .collect::<Result<Vec<_>>>()?;
    let found = EndChances {
        factor: factor.name.clone(),
        levels: (levels.0.to_owned(), levels.1.to_owned()),
        read: (arms[0].stuck.len() as u64, arms[1].stuck.len() as u64),
        trays: options.trays,
        value: second - first,
        correlation: under_way.correlation,
        p_level: options.p_level,
        rows,
        draws: options.draws,
    };
    Ok(words_looks::ending(found, options))
}

struct UnderWay<'a> {
    arms: &'a [Arm; 2],
    correlation: f64,
    cuttings: u64,
    options: &'a EndOptions,
    control: &'a Control,
}

impl UnderWay<'_> {
    fn chance(&self, assumed: &str, (first, second): (f64, f64)) -> Result<EndChance> {
        let plan = PlannedTrial {
            takes: vec![first, second],
            cuttings: self.cuttings,
            correlation: self.correlation,
            trays: self.options.trays,
            ..PlannedTrial::default()
        };
        let asked = Asked {
            question: Question::Difference,
            confidence: 1.0 - self.options.p_level,
            margin: 0.0,
            target: 0.0,
            together: Adjustment::None,
            scores: vec![0.0, 1.0],
        };
        let kernel = Kernel::new(&plan, &asked, Wanted::default())?;
        let table = |take: f64| TrayTable::new(self.cuttings, take, self.correlation, plan.law);
        let tables = [table(first)?, table(second)?];
        let one = |random: &mut ChaCha8Rng| {
            let mut arms = self.arms.to_vec();
            for (arm, table) in arms.iter_mut().zip(&tables) {
                while (arm.stuck.len() as u64) < self.options.trays {
                    arm.rooted.push(table.draw(random));
                    arm.stuck.push(self.cuttings);
                }
            }
            let places = arms.iter().map(|arm| vec![0; arm.stuck.len()]).collect();
            let p = kernel.judged(&Drawn { arms, places }, random, self.control)?.p;
            Ok(p.is_some_and(|p| p <= self.options.p_level))
        };
        let shown: u64 =
            replicates(self.options.draws, self.options.seed, 0, self.control, one, |sum: &mut u64, one| {
                *sum += u64::from(one)
            })?;
        self.control.finish(1);
        let chance = shown as f64 / self.options.draws as f64;
        let error = (chance * (1.0 - chance) / self.options.draws as f64).sqrt();
        Ok(EndChance { assumed: assumed.to_owned(), first, second, chance, error })
    }
}
