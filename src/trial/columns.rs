//! The typed columns that methods work on: counts per unit with coded factors. No frames here.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::answer::GivenTo;
use crate::choice::choice;
use crate::estimate::{Count, LARGEST_COUNT};
use crate::layers::Earlier;
use crate::math::design::{Key, Ranked, constant_within, different, ranked, sorted};

/// A column of levels, coded 0, 1, ... in the order of `levels`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Factor {
    /// The user's column name.
    pub name: String,
    /// Level names in order (numbers in numeric order, text in alphabetical order).
    pub levels: Vec<String>,
    /// The levels as numbers, when every level is one.
    pub numbers: Option<Vec<f64>>,
    /// One code per unit, each below `levels.len()`.
    pub codes: Vec<u32>,
}

impl Factor {
    /// The level's name of one unit.
    #[must_use]
    pub fn label(&self, unit: usize) -> Option<&str> {
        self.levels.get(*self.codes.get(unit)? as usize).map(String::as_str)
    }

    /// The codes as a key to group by.
    #[must_use]
    pub fn key(&self) -> Key<'_> {
        Key::new(&self.codes, self.levels.len())
    }

    /// True when every level of `outer` holds a single level of this factor.
    #[must_use]
    pub fn constant_within(&self, outer: &Self) -> bool {
        constant_within(&self.codes, &outer.codes)
    }

    /// True when these units do not all have the same level: a place that varies over them can be taken out, or judged by.
    #[must_use]
    pub fn varies_over(&self, units: &[usize]) -> bool {
        let first = units.first().and_then(|unit| self.codes.get(*unit));
        units.iter().any(|unit| self.codes.get(*unit) != first)
    }
}

/// A numeric covariate, one value per unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Covariate {
    /// The user's column name.
    pub name: String,
    /// One value per unit.
    pub values: Vec<f64>,
}

/// What a unit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitKind {
    /// A recorded tray: the experimental unit. Where no trays and mother plants are recorded, and no treatment changes within a plant,
    /// the cuttings of a plant.
    Tray,
    /// Cuttings pooled per combination of recorded columns, since no tray was recorded.
    Pooled,
}

choice!(
    UnitKind, "kind of unit":
    Tray = "tray",
    Pooled = "pooled",
);

/// Counts per unit, with everything recorded about each unit. All vectors have one entry per unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Units {
    /// Tray or pooled.
    pub kind: UnitKind,
    /// Cuttings rooted.
    pub rooted: Vec<u64>,
    /// Cuttings stuck.
    pub stuck: Vec<u64>,
    /// The treatments, in the order they were declared.
    pub treatments: Vec<Factor>,
    /// Tray names.
    pub tray: Option<Factor>,
    /// Block (bench, place or time).
    pub block: Option<Factor>,
    /// Whole plot (dark room, bay, bay-run).
    pub whole_plot: Option<Factor>,
    /// Season.
    pub season: Option<Factor>,
    /// Mother plant.
    pub stock_plant: Option<Factor>,
    /// Numeric covariates.
    pub covariates: Vec<Covariate>,
    /// How trays and the units above them differed in earlier trials of the place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub earlier: Option<Earlier>,
}

impl Units {
    /// The blocks, where they last over seasons and whole plots are theirs of one season, as bays are whose darkness may change from season to
    /// season.
    pub(crate) fn lasting_block(&self) -> Option<&Factor> {
        let (season, block, plots) = (self.season.as_ref()?, self.block.as_ref()?, self.whole_plot.as_ref()?);
        let of_one_season = block.constant_within(plots) && season.constant_within(plots);
        Some(block).filter(|block| of_one_season && !season.constant_within(block))
    }

    /// What contradicts itself in units that did not come from a trial, such as those of a record that was edited.
    #[must_use]
    pub fn flaw(&self) -> Option<String> {
        let n = self.rooted.len();
        let counts = || self.rooted.iter().zip(&self.stuck);
        if n == 0 || self.stuck.len() != n {
            return Some("its counts are missing or differ in length".to_owned());
        }
        if let Some((rooted, stuck)) = counts().find(|(rooted, stuck)| rooted > stuck || **stuck > LARGEST_COUNT) {
            return Some(format!("{rooted} rooted of {stuck} stuck cannot be"));
        }
        let places = [&self.tray, &self.block, &self.whole_plot, &self.season, &self.stock_plant];
        let torn = |one: &&Factor| {
            let levels = one.levels.len();
            one.codes.len() != n
                || one.codes.iter().any(|code| *code as usize >= levels)
                || one.numbers.as_ref().is_some_and(|numbers| numbers.len() != levels)
        };
        if let Some(one) = self.treatments.iter().chain(places.into_iter().flatten()).find(torn) {
            return Some(format!("the column {:?} does not fit its levels or the counts", one.name));
        }
        let odd = |one: &&Covariate| one.values.len() != n || !one.values.iter().all(|value| value.is_finite());
        self.covariates.iter().find(odd).map(|one| format!("the column {:?} does not fit the counts", one.name))
    }

    /// True where no trays were recorded and the cuttings of a mother plant are one unit.
    #[must_use]
    pub fn plants_are_units(&self) -> bool {
        self.kind == UnitKind::Tray && self.tray.is_none() && self.stock_plant.is_some()
    }

    /// Number of units.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rooted.len()
    }

    /// True when there is no unit.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rooted.is_empty()
    }

    /// The treatment or design column of that name.
    #[must_use]
    pub fn factor(&self, name: &str) -> Option<&Factor> {
        let design = [&self.block, &self.whole_plot, &self.season, &self.stock_plant, &self.tray];
        self.treatments.iter().chain(design.into_iter().flatten()).find(|factor| factor.name == name)
    }

    /// Rooted and stuck of one unit.
    #[must_use]
    pub fn count(&self, unit: usize) -> Option<Count> {
        Some(Count { rooted: *self.rooted.get(unit)?, stuck: *self.stuck.get(unit)? })
    }

    /// The recorded column whose levels `treatment` was given to as a whole: each of them holds a single level of it. Any of whole
    /// plot, block, season and stock plant can be it; where several are, that of fewest levels (of nested ones the outermost). `None`
    /// where single trays were given it.
    #[must_use]
    pub fn unit_of(&self, treatment: &Factor) -> Option<&Factor> {
        let recorded = [&self.whole_plot, &self.block, &self.season, &self.stock_plant].into_iter().flatten();
        let several = |place: &&Factor| {
            let found = different(&place.codes);
            let is = |other: &Option<Factor>| other.as_ref().is_some_and(|other| other.name == place.name);
            let named = is(&self.whole_plot) || self.plants_are_units() && is(&self.stock_plant);
            // A place that is a tray by another name changes nothing.
            found > 1 && (named || found < self.len())
        };
        recorded
            .filter(several)
            .filter(|place| treatment.constant_within(place))
            .min_by_key(|place| different(&place.codes))
    }

    /// Treatments that were given to whole bays, blocks, seasons or plants, each with how many of these there are.
    pub(crate) fn given_to(&self) -> Vec<GivenTo> {
        let one = |treatment: &Factor| {
            let place = self.unit_of(treatment)?;
            // A place that is a tray by another name carries no more than trays do.
            let several = different(&place.codes);
            let pairs: BTreeSet<(u32, u32)> =
                treatment.codes.iter().copied().zip(place.codes.iter().copied()).collect();
            let held = |code: usize| pairs.iter().filter(|(level, _)| *level as usize == code).count() as u64;
            (several < self.len()).then(|| GivenTo {
                treatment: treatment.name.clone(),
                unit: place.name.clone(),
                n_units: several as u64,
                levels: treatment.levels.iter().enumerate().map(|(code, name)| (name.clone(), held(code))).collect(),
            })
        };
        let counted = self.kind == UnitKind::Tray;
        self.treatments.iter().filter(|_| counted).filter_map(one).collect()
    }

    /// What `treatment` was given to: the levels of [`unit_of`](Self::unit_of) (their trays together), or single trays. `members` are
    /// unit numbers; the name is "tray" or the column's.
    ///
    /// # References
    /// Hurlbert SH (1984), Ecol. Monogr. 54:187-211; Donner A, Klar N (2000), chapter 1.
    #[must_use]
    pub fn experimental_units(&self, treatment: &Factor, members: &[usize]) -> (String, Vec<Vec<usize>>) {
        let (name, groups) = self.groups_of(treatment, members);
        (name, groups.iter().map(<[usize]>::to_vec).collect())
    }

    /// The same, one unit after another.
    pub(crate) fn groups_of(&self, treatment: &Factor, members: &[usize]) -> (String, Groups) {
        let Some(place) = self.unit_of(treatment) else { return ("tray".to_owned(), Groups::single(members)) };
        let known: Vec<usize> = members.iter().copied().filter(|unit| *unit < place.codes.len()).collect();
        let found = sorted(&[Key::of(&picked(&place.codes, &known))], known.len());
        let named = |ats: &[usize]| ats.iter().filter_map(|at| known.get(*at).copied()).collect::<Vec<usize>>();
        (place.name.clone(), Groups::of(found.groups().map(named)))
    }
}

/// Groups of units, one after another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Groups {
    members: Vec<usize>,
    /// Where each begins, and the end.
    starts: Vec<usize>,
}

impl Groups {
    /// Each unit by itself.
    pub(crate) fn single(members: &[usize]) -> Self {
        Self { members: members.to_vec(), starts: (0..=members.len()).collect() }
    }

    /// As they come.
    pub(crate) fn of(groups: impl Iterator<Item = Vec<usize>>) -> Self {
        let (mut members, mut starts) = (Vec::new(), vec![0]);
        for group in groups {
            members.extend(group);
            starts.push(members.len());
        }
        Self { members, starts }
    }

    /// All groups.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &[usize]> {
        let ends = self.starts.iter().zip(self.starts.iter().skip(1));
        ends.map(|(start, end)| self.members.get(*start..*end).unwrap_or_default())
    }

    /// The units of all groups.
    pub(crate) fn members(&self) -> &[usize] {
        &self.members
    }
}

/// The entries at some units.
fn picked<T: Copy>(values: &[T], units: &[usize]) -> Vec<T> {
    units.iter().filter_map(|unit| values.get(*unit).copied()).collect()
}

/// The units named, numbered by their combination of levels: combinations in the order of the codes, and in `firsts` the place among
/// `units` of the first of each.
pub(crate) fn cells(factors: &[&Factor], units: &[usize]) -> Ranked {
    let all = factors.first().is_none_or(|one| one.codes.len() == units.len())
        && units.iter().enumerate().all(|(at, unit)| at == *unit);
    if all {
        return ranked(&factors.iter().map(|one| Key::of(&one.codes)).collect::<Vec<_>>(), units.len());
    }
    let codes: Vec<Vec<u32>> = factors.iter().map(|one| picked(&one.codes, units)).collect();
    ranked(&codes.iter().map(|codes| Key::of(codes)).collect::<Vec<_>>(), units.len())
}
