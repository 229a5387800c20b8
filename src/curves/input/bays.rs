//! Bays (or blocks, seasons, plants) to which a treatment beside the strengths was given as a whole: strengths are compared within them, the
//! level of a curve draws on how they differ.

use super::options::CurveOptions;
use super::over::{Judged, Share, by_cuttings, judged};
use super::places::CurveBays;
use crate::answer::Note;
use crate::compare::{code_of, column};
use crate::error::Result;
use crate::report::{agree, capital, join};
use crate::trial::{Factor, Units, same_shares};

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

/// The treatments beside the strengths, and the recorded units that each held a single level of one of them.
pub(crate) struct Carried<'a> {
    /// Treatments kept at a level, with its code.
    kept_at: Vec<(&'a Factor, u32)>,
    /// All treatments beside the strengths that are named.
    beside: Vec<&'a Factor>,
    /// The units.
    pub(crate) places: Vec<&'a Factor>,
}

impl<'a> Carried<'a> {
    pub(crate) fn new(
        units: &'a Units,
        treatment: &Factor,
        within: &[&'a Factor],
        options: &CurveOptions,
    ) -> Result<Self> {
        let code = |(name, level): (&String, &String)| {
            let one = column(units, name)?;
            Ok((one, code_of(one, level)?))
        };
        let kept_at: Vec<(&Factor, u32)> = options.at.iter().map(code).collect::<Result<_>>()?;
        let common: Vec<&Factor> = options.common.iter().map(|name| column(units, name)).collect::<Result<_>>()?;
        let held = kept_at.iter().map(|(one, _)| *one);
        let beside: Vec<&Factor> = within.iter().copied().chain(common).chain(held).collect();
        let places = carriers(units, treatment, &beside);
        Ok(Self { kept_at, beside, places })
    }

    fn to_places(&self, one: &Factor) -> bool {
        levels_of(one) > 1 && self.places.iter().any(|place| one.constant_within(place))
    }

    /// Seasons and blocks in which the treatments given to places change, so that they can be taken out of how these differ.
    fn crossing(&self, units: &'a Units) -> Vec<&'a Factor> {
        let given: Vec<&&Factor> = self.beside.iter().filter(|one| self.to_places(one)).collect();
        let known = |one: &&Factor| self.places.iter().any(|place| place.name == one.name);
        let recorded = [&units.season, &units.block].into_iter().flatten();
        recorded
            .filter(|one| levels_of(one) > 1 && !known(one) && given.iter().all(|given| !given.constant_within(one)))
            .collect()
    }

    /// The places that carry levels, and those that are taken out. Blocks that last over seasons while a treatment changed its place carry levels
    /// with those that held one of it each.
    fn parted(&self, units: &'a Units) -> (Vec<&'a Factor>, Vec<&'a Factor>) {
        let lasts = |one: &&Factor| units.lasting_block().is_some_and(|block| block.name == one.name);
        let (mut carrying, out): (Vec<&Factor>, Vec<&Factor>) = self.crossing(units).into_iter().partition(lasts);
        carrying.extend(&self.places);
        (carrying, out)
    }

    /// The trays that show how places differ: those of all levels of the treatments given to them, also where one is kept.
    pub(crate) fn trays(&self, units: &Units) -> Vec<usize> {
        let stays = |unit: &usize| {
            let others = self.kept_at.iter().filter(|(one, _)| !self.to_places(one));
            others.into_iter().all(|(one, code)| one.codes.get(*unit) == Some(code))
        };
        let stuck = |unit: &usize| units.stuck.get(*unit).is_some_and(|stuck| *stuck > 0);
        (0..units.len()).filter(stuck).filter(stays).collect()
    }
}

impl CurveBays {
    /// The bays of curves whose trays are `members`, one list each; none where no treatment was given to bays.
    pub(crate) fn of(units: &Units, carried: &Carried<'_>, within: &[&Factor], members: &[Vec<usize>]) -> Option<Self> {
        if carried.places.is_empty() {
            return None;
        }
        let named = |list: Vec<&Factor>| {
            let mut names: Vec<String> = list.iter().map(|one| one.name.clone()).collect();
            names.dedup();
            join(&names)
        };
        let given = named(carried.beside.iter().copied().filter(|one| carried.to_places(one)).collect());
        let between = within.iter().any(|one| carried.to_places(one));
        let curves: Vec<Vec<Share>> = members.iter().map(|own| by_cuttings(units, own)).collect();
        let trays = carried.trays(units);
        let (carrying, crossing) = carried.parted(units);
        let found = judged(units, &trays, (&carrying, &crossing), &curves);
        let mut df = if between && found.df > 0.0 { found.differences_df } else { found.df };
        let over: Vec<&Factor> = crossing.iter().chain(&carrying).copied().collect();
        let takes = judged(units, &trays, (&over, &[]), &curves).curves;
        let compared: Vec<&Factor> = within.iter().copied().filter(|one| carried.to_places(one)).collect();
        // Treatments that share a curve are no part of its height either.
        let sharing = carried.beside.iter().filter(|one| within.iter().all(|own| own.name != one.name));
        let members = members.concat();
        let odd = crossing.iter().chain(sharing).filter(|one| !same_shares(&compared, &[**one], &members));
        let uneven = Some(named(odd.copied().collect())).filter(|names| between && !names.is_empty());
        // What is not compared is said of the curves' own treatments.
        let given = if uneven.is_some() { named(compared) } else { given };
        if uneven.is_some() {
            df = 0.0;
        }
        let column = named(carried.places.clone());
        let Judged { curves: levels, covariances, .. } = found;
        Some(Self { column, given, between, df, curves: levels, covariances, takes, uneven })
    }
}

impl CurveBays {
    /// What a reader must know of them.
    pub(crate) fn note(&self) -> Note {
        let Self { column, given, df, .. } = self;
        let (first, were) = (capital(given), agree(given, "was", "were"));
        let text = if let Some(places) = &self.uneven {
            format!(
                "{first} {were} given to whole levels of {column}, and the levels hold {places} in different shares: curves keep what {places} adds in their heights, so heights are not compared here. A comparison and a model of {given} take {places} out."
            )
        } else if self.judge_levels() {
            format!(
                "{first} {were} given to whole levels of {column}: strengths are compared within them by trays, rates and the level of a curve hold over levels of {column} ({df:.0} df); more of these help, more trays in them hardly do."
            )
        } else {
            format!(
                "{first} {were} given to whole levels of {column}, one for each: strengths are compared within them, but rates hold for these levels of {column} only, and what {given} does cannot be told from what they do."
            )
        };
        Note::new(if self.judge_levels() { "level_over_bays" } else { "level_not_judged" }, text)
    }
}
