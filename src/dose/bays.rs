//! Bays (or blocks, seasons, plants) to which a treatment beside the strengths was given as a whole: strengths are compared within them, the
//! level of a curve draws on how they differ.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::candidates::Judge;
use super::input::CurveOptions;
use crate::answer::Note;
use crate::compare::{code_of, column};
use crate::error::Result;
use crate::layers::{Layers, Place, Trays};
use crate::math::distributions::{fisher_f, student_t};
use crate::report::{capital, join};
use crate::trial::{Factor, Units};

/// The bays that carry the level of the curves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurveBays {
    /// The bays' column.
    pub column: String,
    /// The treatments given to them, "heat".
    pub given: String,
    /// True where curves stand for levels of such a treatment, so that their levels are compared between bays.
    pub between: bool,
    /// Degrees of freedom between bays of one treatment; 0 where each treatment had a single bay.
    pub dof: f64,
    /// One for each curve, in their order.
    pub curves: Vec<LevelOverBays>,
}

/// How well the level of one curve is known over bays.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LevelOverBays {
    /// Independent cuttings that would say as much of the curve's mean take.
    pub effective: f64,
    /// Degrees of freedom of its variance.
    pub dof: f64,
}

/// The recorded units that held a single level of a treatment beside the strengths, and several strengths.
fn carriers<'a>(units: &'a Units, treatment: &Factor, beside: &[&Factor]) -> Vec<&'a Factor> {
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    let varied: Vec<&&Factor> = beside.iter().filter(|one| levels_of(one) > 1).collect();
    recorded
        .filter(|place| levels_of(place) > 1 && levels_of(place) < units.len())
        .filter(|place| !treatment.constant_within(place) && varied.iter().any(|one| one.constant_within(place)))
        .collect()
}

fn levels_of(factor: &Factor) -> usize {
    factor.codes.iter().collect::<std::collections::BTreeSet<_>>().len()
}

impl CurveBays {
    /// The bays of curves whose trays are `members`, one list each; none where no treatment was given to bays.
    ///
    /// The spread between bays is that of all levels of the treatments given to them, also where `at` keeps one.
    pub(super) fn of(
        units: &Units,
        treatment: &Factor,
        within: &[&Factor],
        options: &CurveOptions,
        members: &[Vec<usize>],
    ) -> Result<Option<Self>> {
        let code = |(name, level): (&String, &String)| {
            let one = column(units, name)?;
            Ok((one, code_of(one, level)?))
        };
        let kept_at: Vec<(&Factor, u32)> = options.at.iter().map(code).collect::<Result<_>>()?;
        let common: Vec<&Factor> = options.common.iter().map(|name| column(units, name)).collect::<Result<_>>()?;
        let held = kept_at.iter().map(|(one, _)| *one);
        let beside: Vec<&Factor> = within.iter().copied().chain(common).chain(held).collect();
        let places = carriers(units, treatment, &beside);
        if places.is_empty() {
            return Ok(None);
        }
        let to_bays = |one: &Factor| levels_of(one) > 1 && places.iter().any(|place| one.constant_within(place));
        let stays = |unit: &usize| {
            let others = kept_at.iter().filter(|(one, _)| !to_bays(one));
            others.into_iter().all(|(one, code)| one.codes.get(*unit) == Some(code))
        };
        let all: Vec<usize> = (0..units.len())
            .filter(|unit| units.stuck.get(*unit).is_some_and(|stuck| *stuck > 0))
            .filter(stays)
            .collect();
        let named = |list: Vec<&Factor>| {
            let mut names: Vec<String> = list.iter().map(|one| one.name.clone()).collect();
            names.dedup();
            join(&names)
        };
        let given = named(beside.iter().copied().filter(|one| to_bays(one)).collect());
        let between = within.iter().any(|one| to_bays(one));
        let (dof, curves) = over_bays(units, &all, &places, members);
        Ok(Some(Self { column: named(places), given, between, dof, curves }))
    }

    /// Do bays tell how well a level is known?
    pub(super) fn judge_levels(&self) -> bool {
        self.dof > 0.0
    }

    /// What bays add to the variance of the level of a curve on the log odds, beside that of so many effective cuttings with this take, so
    /// that the critical value of the trays gives the reach that bays need.
    ///
    /// The variance over bays has the reach of its own degrees of freedom, what lies within them that of trays; squares of reaches add up.
    ///
    /// # References
    /// Howe WG (1974), J. Am. Stat. Assoc. 69:789-794 (limits of a sum of means by adding squared reaches).
    pub(super) fn level(&self, curve: usize, judge: &Judge, (take, cuttings): (f64, f64), level: f64) -> f64 {
        let Some(own) = self.curves.get(curve).filter(|own| self.judge_levels() && own.effective > 0.0) else {
            return 0.0;
        };
        let stretch = student_t::quantile(f64::midpoint(1.0, level), own.dof) / judge.critical(level);
        let take = (take * cuttings + 0.5) / (cuttings + 1.0);
        ((stretch * stretch / own.effective - 1.0 / cuttings) / (take * (1.0 - take))).max(0.0)
    }

    /// Variances of the curves' levels on the log odds over bays.
    pub(super) fn variances(&self, takes: &[(f64, f64)]) -> Vec<f64> {
        let one = |(own, (take, cuttings)): (&LevelOverBays, &(f64, f64))| {
            let take = (take * cuttings + 0.5) / (cuttings + 1.0);
            1.0 / (own.effective * take * (1.0 - take))
        };
        self.curves.iter().zip(takes).map(one).collect()
    }

    /// F and its P for levels on the log odds that are alike but for their variances.
    pub(super) fn test(&self, levels: &[f64], variances: &[f64]) -> (f64, f64, f64) {
        let weight: f64 = variances.iter().map(|v| 1.0 / v).sum();
        let mean = levels.iter().zip(variances).map(|(x, v)| x / v).sum::<f64>() / weight;
        let others = levels.len() as f64 - 1.0;
        let square: f64 = levels.iter().zip(variances).map(|(x, v)| (x - mean).powi(2) / v).sum();
        let statistic = square / others;
        (statistic, others, fisher_f::sf(statistic, others, self.dof))
    }

    /// Half the width of an interval of a difference of two levels.
    pub(super) fn reach(&self, variance: f64, level: f64) -> f64 {
        student_t::quantile(f64::midpoint(1.0, level), self.dof) * variance.sqrt()
    }

    /// What a reader must know of them.
    pub(super) fn note(&self) -> Note {
        let Self { column, given, dof, .. } = self;
        let first = capital(given);
        let text = if self.judge_levels() {
            format!(
                "{first} was given to whole levels of {column}: strengths are compared within them by trays, takes and the level of a curve hold over levels of {column} ({dof:.0} df); more of these help, more trays in them hardly do."
            )
        } else {
            format!(
                "{first} was given to whole levels of {column}, one for each: strengths are compared within them, but takes hold for these levels of {column} only, and what {given} does cannot be told from what they do."
            )
        };
        Note::new(if self.judge_levels() { "level_over_bays" } else { "level_not_judged" }, text)
    }
}

/// Degrees of freedom between bays, and how well the mean take of each list of trays is known over them.
fn over_bays(units: &Units, all: &[usize], places: &[&Factor], members: &[Vec<usize>]) -> (f64, Vec<LevelOverBays>) {
    let unknown = vec![LevelOverBays { effective: 0.0, dof: 0.0 }; members.len()];
    let counts = |of: &[u64]| -> Vec<f64> { all.iter().filter_map(|unit| of.get(*unit)).map(|n| *n as f64).collect() };
    let (rooted, stuck) = (counts(&units.rooted), counts(&units.stuck));
    let mut cells: BTreeMap<Vec<u32>, usize> = BTreeMap::new();
    let mut row = Vec::with_capacity(all.len());
    for unit in all {
        let (key, next) =
            (units.treatments.iter().filter_map(|one| one.codes.get(*unit).copied()).collect(), cells.len());
        row.push(*cells.entry(key).or_insert(next));
    }
    let one = |at: usize| (0..cells.len()).map(|cell| f64::from(u8::from(cell == at))).collect();
    let design: Vec<Vec<f64>> = (0..cells.len()).map(one).collect();
    let place = |factor: &&Factor| {
        let codes: Vec<u32> = all.iter().filter_map(|unit| factor.codes.get(*unit).copied()).collect();
        Place::new(&factor.name, &codes)
    };
    let places: Vec<Place> = places.iter().map(place).collect();
    let trays = Trays { rooted: &rooted, stuck: &stuck, row: &row, design: &design, places: &places };
    let Some(layers) = Layers::with(&trays, units.earlier.as_ref()) else { return (0.0, unknown) };
    let dof = layers.components.iter().map(|one| one.dof).filter(|dof| *dof > 0.5).fold(f64::INFINITY, f64::min);
    if !dof.is_finite() {
        return (0.0, unknown);
    }
    // Of trays with one rate the variance of a cutting cancels.
    let half = vec![0.5; stuck.len()];
    let level = |own: &Vec<usize>| {
        let sum: f64 = own.iter().filter_map(|unit| units.stuck.get(*unit)).map(|n| *n as f64).sum();
        let share: Vec<f64> = all.iter().map(|unit| if own.contains(unit) { 1.0 / sum } else { 0.0 }).collect();
        let judged = layers.of_combination(&trays, &share, &half);
        LevelOverBays { effective: 0.25 / judged.variance, dof: judged.dof }
    };
    (dof, members.iter().map(level).collect())
}
