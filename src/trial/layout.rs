//! How a treatment lies over the places and plants of a trial: what it was given to, and within what it is compared.

use std::collections::{BTreeMap, BTreeSet};

use crate::math::dense::Qr;
use crate::math::design::{constant_within, different};
use crate::trial::columns::{Factor, Groups, Units, cells};

/// The units of one treatment, and the columns whose levels keep them apart.
#[derive(Debug, Clone)]
pub(crate) struct Layout<'a> {
    /// "tray", or the column whose levels are the units.
    pub(crate) unit: String,
    /// The column whose levels the treatment was given to as a whole.
    pub(crate) place: Option<&'a Factor>,
    /// Trays of each unit.
    pub(crate) groups: Groups,
    /// Places (seasons, blocks, whole plots, stock plants) within which the treatment differs.
    pub(crate) places: Vec<&'a Factor>,
    /// Other treatments that do not change within a unit.
    pub(crate) others: Vec<&'a Factor>,
    /// A place within which the treatment differs and which is no stratum, since with it no stratum would hold two levels: it is taken out side
    /// by side with the strata.
    pub(crate) taken_out: Vec<&'a Factor>,
    /// A place that is no stratum for the same reason and that lasts over seasons in which the treatment changes its place, as bays do where darkness changes its bay from season to season. What they add to a difference is judged with what the units add: it cancels
    /// where each bay had each level as often, and stands beside it where levels mostly stayed where they were.
    pub(crate) lasting: Vec<&'a Factor>,
}

/// Units in strata of at least two levels.
struct Held {
    /// Share of each level's units.
    shares: BTreeMap<u32, f64>,
    /// Units less strata and levels.
    free: f64,
}

impl<'a> Layout<'a> {
    /// The layout of `treatment` over all trays; `asked` are the trays that the question is about.
    ///
    /// Stock plants that gave cuttings to several levels are strata as blocks are, unless that leaves less than half of the degrees of
    /// freedom or loses a fifth of a level's units: then a plant's trays of one level are one unit, since they share its luck. Both
    /// hold (`tests/calibration/units.md`); strata are sharper where they cost little.
    pub(crate) fn of(units: &'a Units, treatment: &'a Factor, asked: &[usize]) -> Self {
        let everything: Vec<usize> = (0..units.len()).collect();
        let (unit, groups) = units.groups_of(treatment, &everything);
        let place = units.unit_of(treatment);
        let mut layout = Self {
            unit,
            place,
            groups,
            places: Vec::new(),
            others: Vec::new(),
            taken_out: Vec::new(),
            lasting: Vec::new(),
        };
        layout.look_around(units, treatment, asked);
        let plants = units.stock_plant.as_ref().filter(|plants| differs_within(treatment, plants));
        if let Some(plants) = plants.filter(|plants| layout.constant(plants)) {
            layout.add_plants(units, treatment, plants, asked);
        }
        layout
    }

    /// The same with single trays as units where a plant's trays of one level counted as one, if places that cross the plants would be
    /// lost with them.
    pub(crate) fn in_trays(&mut self, units: &'a Units, treatment: &'a Factor, asked: &[usize]) {
        if self.place.is_some() || self.lost(units, treatment).is_empty() {
            return;
        }
        let everything: Vec<usize> = (0..units.len()).collect();
        (self.unit, self.groups) = units.groups_of(treatment, &everything);
        self.look_around(units, treatment, asked);
    }

    /// Recorded places that hold several levels of the treatment each and are neither strata nor the units.
    pub(crate) fn lost(&self, units: &'a Units, treatment: &Factor) -> Vec<&'a Factor> {
        let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
        let known = |place: &&Factor| place.name == self.unit || self.places.iter().any(|one| one.name == place.name);
        recorded.filter(|place| !known(place) && differs_within(treatment, place)).collect()
    }

    /// True where places lie so that strata do not set the levels side by side: other places are lost to the trays, or would leave no stratum
    /// with two levels.
    pub(crate) fn crosswise(&self, units: &'a Units, treatment: &Factor) -> bool {
        self.parted() || self.place.is_none() && !self.lost(units, treatment).is_empty()
    }

    /// True where a place within which the treatment differs is no stratum, so that strata alone say nothing.
    pub(crate) fn parted(&self) -> bool {
        !self.taken_out.is_empty() || !self.lasting.is_empty()
    }

    /// True where other treatments cut the units into strata so small that a fit of all units with these treatments side by side says more: a
    /// fifth of a level's units would stand in strata of that level alone, or the combinations of treatments leave less than half of the
    /// degrees of freedom. `tests/calibration/beside.md` shows what either costs.
    pub(crate) fn thin(&self, treatment: &Factor, asked: &[usize]) -> bool {
        if self.others.is_empty() {
            return false;
        }
        let by: Vec<&Factor> = self.others.iter().chain(&self.places).copied().collect();
        let (with, without) = (self.held(treatment, &by, asked), self.held(treatment, &self.places, asked));
        let kept = |(level, share): (&u32, &f64)| with.shares.get(level).is_some_and(|own| *own >= 0.8 * share);
        if !without.shares.iter().all(kept) {
            return true;
        }
        let leads: Vec<usize> = self.groups.iter().filter_map(|group| group.first().copied()).collect();
        let combinations = |factors: &[&Factor]| -> usize { cells(factors, &leads).len() };
        let treatments: Vec<&Factor> = self.others.iter().copied().chain([treatment]).collect();
        let beyond_one =
            |factors: &[&Factor]| -> usize { factors.iter().map(|one| combinations(&[*one]).saturating_sub(1)).sum() };
        let left = leads.len().saturating_sub(beyond_one(&self.places));
        2 * left.saturating_sub(combinations(&treatments)) < left.saturating_sub(1 + beyond_one(&treatments))
    }

    fn look_around(&mut self, units: &'a Units, treatment: &'a Factor, asked: &[usize]) {
        let recorded = [&units.season, &units.block, &units.whole_plot].into_iter().flatten();
        self.places = recorded.filter(|place| differs_within(treatment, place) && self.constant(place)).collect();
        let others = units.treatments.iter().filter(|one| one.name != treatment.name);
        self.others = others.filter(|one| self.constant(one)).collect();
        self.taken_out.clear();
        self.lasting.clear();
        let leads: Vec<usize> = self.leads(asked).collect();
        // Where each of its levels holds one of the units asked about, as each bay does in a single season, a place is that unit.
        self.places.retain(|place| !alone(place, &leads));
        let (meets, all) = (|by: &[&Factor]| meet(treatment, by, &leads), self.places.len());
        if all < 2 || meets(&self.places) {
            return;
        }
        // As many places as strata as still hold two levels in one of them; the coarsest first.
        let everywhere = self.estimable(treatment, &self.places, &leads);
        for out in (0..all).rev() {
            let kept = |at: &usize| *at != out;
            let strata: Vec<&Factor> = (0..all).filter(kept).filter_map(|at| self.places.get(at).copied()).collect();
            let place = self.places.get(out).filter(|_| meets(&strata));
            let Some(place) = place else { continue };
            let lasts = units.lasting_block().is_some_and(|block| block.name == place.name);
            if lasts && self.estimable(treatment, &strata, &leads) {
                self.lasting = vec![self.places.remove(out)];
                return;
            }
            if !lasts && everywhere {
                self.taken_out = vec![self.places.remove(out)];
                return;
            }
        }
    }

    /// The first tray of every unit that is asked about.
    pub(crate) fn leads<'b>(&'b self, asked: &'b [usize]) -> impl Iterator<Item = usize> + 'b {
        let mut inside = vec![false; asked.last().map_or(0, |last| last + 1)];
        for unit in asked {
            inside.get_mut(*unit).into_iter().for_each(|inside| *inside = true);
        }
        let held = move |group: &&[usize]| group.iter().any(|unit| inside.get(*unit) == Some(&true));
        self.groups.iter().filter(held).filter_map(|group| group.first().copied())
    }

    /// True where the units leave a degree of freedom once levels, other treatments and these places are taken out, and these leave
    /// something of the difference between levels.
    fn estimable(&self, treatment: &Factor, strata: &[&Factor], leads: &[usize]) -> bool {
        let beside: Vec<&Factor> = self.others.iter().chain(strata).copied().collect();
        let without = rank(&beside, leads);
        let with = rank(&[beside.as_slice(), &[treatment]].concat(), leads);
        let levels: Vec<u32> = leads.iter().filter_map(|lead| treatment.codes.get(*lead).copied()).collect();
        with + 1 == without + different(&levels) && with < leads.len()
    }

    fn add_plants(&mut self, units: &'a Units, treatment: &'a Factor, plants: &'a Factor, asked: &[usize]) {
        let plain: Vec<&Factor> = self.others.iter().chain(&self.places).copied().collect();
        let with: Vec<&Factor> = plain.iter().copied().chain([plants]).collect();
        let (without, with) = (self.held(treatment, &plain, asked), self.held(treatment, &with, asked));
        let kept =
            without.shares.iter().all(|(level, share)| with.shares.get(level).is_some_and(|own| *own >= 0.8 * share));
        if kept && 2.0 * with.free >= without.free && with.free >= 1.0 {
            self.places.push(plants);
            return;
        }
        let mut portions: BTreeMap<(u32, u32), Vec<usize>> = BTreeMap::new();
        for (unit, (plant, level)) in plants.codes.iter().zip(&treatment.codes).enumerate() {
            portions.entry((*plant, *level)).or_default().push(unit);
        }
        if portions.values().any(|trays| trays.len() > 1) {
            self.unit.clone_from(&plants.name);
            self.groups = Groups::of(portions.into_values());
            self.look_around(units, treatment, asked);
        }
    }

    /// Recorded places and plants that cross the units: neither these units, nor parts of them, nor strata. What they add does not lie in
    /// the spread between units.
    pub(crate) fn crossed(&self, units: &'a Units) -> Vec<&'a Factor> {
        let Some(unit) = self.place else { return Vec::new() };
        let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
        let held = || self.places.iter().chain(&self.taken_out).chain(&self.lasting);
        let known = |place: &&Factor| place.name == unit.name || held().any(|one| one.name == place.name);
        let several = |place: &&Factor| place.codes.iter().any(|code| Some(code) != place.codes.first());
        recorded.filter(|place| !known(place) && several(place) && !unit.constant_within(place)).collect()
    }

    /// True when no unit holds two levels of the factor.
    fn constant(&self, factor: &Factor) -> bool {
        let code = |unit: &usize| factor.codes.get(*unit);
        self.groups.iter().all(|group| {
            let first = group.first().and_then(code);
            group.iter().all(|unit| code(unit) == first)
        })
    }

    fn held(&self, treatment: &Factor, by: &[&Factor], asked: &[usize]) -> Held {
        let leads: Vec<usize> = self.leads(asked).collect();
        let strata_of = cells(by, &leads);
        let each = cells(&[by, &[treatment]].concat(), &leads);
        let mut sizes = vec![0.0; each.len()];
        for number in &each.numbers {
            sizes.get_mut(*number as usize).into_iter().for_each(|size| *size += 1.0);
        }
        let mut strata: Vec<BTreeMap<u32, f64>> = vec![BTreeMap::new(); strata_of.len()];
        let mut all: BTreeMap<u32, f64> = BTreeMap::new();
        for (first, size) in each.firsts.iter().zip(&sizes) {
            let level = leads.get(*first).and_then(|lead| treatment.codes.get(*lead));
            let stratum = strata_of.numbers.get(*first).and_then(|number| strata.get_mut(*number as usize));
            let (Some(level), Some(stratum)) = (level, stratum) else { continue };
            *stratum.entry(*level).or_default() += size;
            *all.entry(*level).or_default() += size;
        }
        let mut shares: BTreeMap<u32, f64> = all.keys().map(|level| (*level, 0.0)).collect();
        let mut free = 1.0 - all.len() as f64;
        for stratum in strata.iter().filter(|stratum| stratum.len() > 1) {
            free += stratum.values().sum::<f64>() - 1.0;
            for (level, count) in stratum {
                *shares.entry(*level).or_default() += count / all.get(level).copied().unwrap_or(1.0);
            }
        }
        Held { shares, free }
    }
}

/// True for a place of several levels, some of which hold several levels of the treatment.
fn differs_within(treatment: &Factor, place: &Factor) -> bool {
    place.codes.iter().any(|code| Some(code) != place.codes.first()) && !treatment.constant_within(place)
}

/// True where some combination of the levels of `by` holds two levels of the treatment.
fn meet(treatment: &Factor, by: &[&Factor], leads: &[usize]) -> bool {
    let levels: Vec<Option<u32>> = leads.iter().map(|lead| treatment.codes.get(*lead).copied()).collect();
    !constant_within(&levels, &cells(by, leads).numbers)
}

/// True where no two of the units share a level of the place.
fn alone(place: &Factor, leads: &[usize]) -> bool {
    let found: Vec<u32> = leads.iter().filter_map(|lead| place.codes.get(*lead).copied()).collect();
    leads.len() > 1 && different(&found) == leads.len()
}

/// The rank of a constant and an indicator for every level of every column.
fn rank(factors: &[&Factor], leads: &[usize]) -> usize {
    let mut columns = vec![vec![1.0; leads.len()]];
    for factor in factors {
        let codes = || leads.iter().filter_map(|lead| factor.codes.get(*lead).copied());
        let levels: BTreeSet<u32> = codes().collect();
        columns
            .extend(levels.into_iter().map(|level| codes().map(|code| f64::from(u8::from(code == level))).collect()));
    }
    Qr::new(&columns, 1e-9).rank()
}
