//! Two levels of a treatment: their units, strata that hold both, and the difference of their means.

use std::collections::BTreeMap;

use super::gathered::{Gathered, Held};
use super::means::push;
use super::numbers::{CompareResponseOptions, MeanOf};
use crate::compare::{Carried, Stratum, code_of, column};
use crate::error::{ChoiceError, Result};
use crate::math::regression::{UnitContrast, UnitMeans, UnitValues};
use crate::trial::{Factor, Layout, to_name};

/// What either level has.
type Both<T> = [Vec<T>; 2];

/// Two levels side by side.
pub(super) struct Pair<'a> {
    pub(super) gathered: Gathered<'a>,
    pub(super) treatment: &'a Factor,
    pub(super) codes: [u32; 2],
    pub(super) layout: Layout<'a>,
    /// The trays of each unit that stays within `at`.
    groups: Vec<Vec<usize>>,
}

/// Units of both levels in strata that hold both.
pub(super) struct Strata<'a> {
    /// In each stratum the units of the first level and of the second.
    units: Vec<[Vec<Held>; 2]>,
    /// Codes of a place that is taken out side by side, for each unit.
    beside: Vec<[Vec<usize>; 2]>,
    /// Columns whose combinations are the strata.
    pub(super) by: Vec<&'a Factor>,
}

/// A difference of two means, and what each adds to its variance.
#[derive(Debug, Clone, Copy)]
pub(super) struct Difference {
    pub(super) found: UnitContrast,
    pub(super) means: [f64; 2],
    pub(super) variances: [f64; 2],
}

impl<'a> Pair<'a> {
    pub(super) fn of(
        gathered: Gathered<'a>,
        treatment: &str,
        levels: (&str, &str),
        options: &CompareResponseOptions,
    ) -> Result<Self> {
        let units = gathered.units;
        let treatment = column(units, treatment)?;
        let codes = [code_of(treatment, levels.0)?, code_of(treatment, levels.1)?];
        if codes[0] == codes[1] {
            return Err(ChoiceError::new("second level", levels.1, &treatment.levels).into());
        }
        let mut kept: Vec<usize> = (0..units.len()).collect();
        for (name, value) in &options.at {
            let other = column(units, name)?;
            let code = code_of(other, value)?;
            kept.retain(|unit| other.codes.get(*unit) == Some(&code));
        }
        let of_pair = |unit: &usize| treatment.codes.get(*unit).is_some_and(|code| codes.contains(code));
        let asked: Vec<usize> = kept.iter().copied().filter(of_pair).collect();
        let mut layout = Layout::of(units, treatment, &asked);
        layout.in_trays(units, treatment, &asked);
        let inside = |group: &[usize]| -> Vec<usize> {
            group.iter().copied().filter(|unit| asked.binary_search(unit).is_ok()).collect()
        };
        let groups = layout.groups.iter().map(inside).filter(|group: &Vec<usize>| !group.is_empty()).collect();
        Ok(Self { gathered, treatment, codes, layout, groups })
    }

    /// The trays of one of the two levels.
    pub(super) fn trays(&self, side: usize) -> Vec<usize> {
        self.groups.iter().filter(|group| self.side(group) == Some(side)).flatten().copied().collect()
    }

    /// The trays of every unit of one of the two levels.
    pub(super) fn units(&self, side: usize) -> Vec<Vec<usize>> {
        self.groups.iter().filter(|group| self.side(group) == Some(side)).cloned().collect()
    }

    /// Units of one of the two levels that enter.
    pub(super) fn n_units(&self, side: usize, of: MeanOf) -> u64 {
        let own = self.groups.iter().filter(|group| self.side(group) == Some(side));
        own.filter(|group| self.gathered.held(group, of).size > 0.0).count() as u64
    }

    fn side(&self, group: &[usize]) -> Option<usize> {
        let code = self.treatment.codes.get(*group.first()?)?;
        self.codes.iter().position(|own| own == code)
    }

    /// Strata by other treatments and places, or by places alone where no combination of others holds both levels.
    pub(super) fn strata(&self, of: MeanOf) -> Strata<'a> {
        let all: Vec<&Factor> = self.layout.others.iter().chain(&self.layout.places).copied().collect();
        for by in [&all, &self.layout.places] {
            let (units, beside) = self.split(by, of);
            if !units.is_empty() {
                return Strata { units, beside, by: by.clone() };
            }
        }
        Strata { units: Vec::new(), beside: Vec::new(), by: all }
    }

    fn split(&self, by: &[&Factor], of: MeanOf) -> (Vec<Both<Held>>, Vec<Both<usize>>) {
        let mut found: BTreeMap<Vec<u32>, (Both<Held>, Both<usize>)> = BTreeMap::new();
        let taken_out = self.layout.taken_out.first();
        for group in &self.groups {
            let held = self.gathered.held(group, of);
            let (Some(side), Some(lead)) = (self.side(group).filter(|_| held.size > 0.0), group.first()) else {
                continue;
            };
            let key = by.iter().filter_map(|one| one.codes.get(*lead).copied()).collect();
            let code = taken_out.and_then(|place| place.codes.get(*lead)).map_or(0, |code| *code as usize);
            let (units, beside) = found.entry(key).or_default();
            units.get_mut(side).into_iter().for_each(|own| own.push(held));
            beside.get_mut(side).into_iter().for_each(|own| own.push(code));
        }
        found.into_values().filter(|(units, _)| units.iter().all(|own| !own.is_empty())).unzip()
    }

    /// How many units carry the comparison.
    pub(super) fn carried(&self, strata: &Strata<'_>) -> Carried {
        let leads: Vec<usize> = self.groups.iter().filter_map(|group| group.first().copied()).collect();
        Carried::count(self.treatment, &strata.by, &leads)
    }

    /// Columns within whose levels units are compared, as they are named.
    pub(super) fn within(&self, strata: &Strata<'_>) -> Vec<String> {
        let leads = || self.groups.iter().filter_map(|group| group.first().copied());
        let several = |one: &&&Factor| one.varies_over(&leads().collect::<Vec<_>>());
        let told: Vec<&Factor> = strata.by.iter().filter(several).copied().collect();
        to_name(&told).into_iter().map(|one| one.name.clone()).collect()
    }

    /// Why there is no test, where design alone forbids it.
    pub(super) fn refusal(&self, strata: &Strata<'_>, carried: &Carried) -> Option<String> {
        let name = &self.treatment.name;
        let alone = |side: usize| self.groups.iter().filter(|group| self.side(group) == Some(side)).count() == 1;
        if let Some(place) = self.layout.place.filter(|_| alone(0) && alone(1)) {
            return Some(format!(
                "each of the two levels of {name} was in a single {}, so the difference may just as well be one between places",
                place.name
            ));
        }
        if strata.units.is_empty() || !self.layout.lasting.is_empty() {
            let places = self.layout.places.iter().chain(&self.layout.taken_out).chain(&self.layout.lasting);
            let places: Vec<&Factor> = places.copied().collect();
            let names: Vec<&str> = to_name(&places).into_iter().map(|place| place.name.as_str()).collect();
            let place = if names.is_empty() { "tray that was measured".to_owned() } else { names.join(" and ") };
            return Some(format!(
                "no {place} holds both levels of {name}, so a difference may just as well be one between places"
            ));
        }
        carried.refusal(name, &self.layout.unit)
    }
}

impl Strata<'_> {
    /// The difference of the two levels within strata, second minus first.
    pub(super) fn difference(&self, least: f64, beside: bool) -> Option<Difference> {
        let mut values = UnitValues { least, ..UnitValues::default() };
        let (mut strata, mut places) = (Vec::new(), Vec::new());
        for (at, (units, codes)) in self.units.iter().zip(&self.beside).enumerate() {
            for (side, (own, codes)) in units.iter().zip(codes).enumerate() {
                for (held, code) in own.iter().zip(codes) {
                    push(&mut values, *held, side);
                    strata.push(at);
                    places.push(*code);
                }
            }
        }
        if self.units.len() > 1 {
            values.beside.push(strata);
        }
        if beside {
            values.beside.push(places);
        }
        let fit = UnitMeans::fit(&values)?;
        let contrast = [-1.0, 1.0];
        let found = fit.contrast(&contrast).filter(|found| found.df > 0.0 && found.variance > 0.0)?;
        let variances = fit.level_variances(&contrast)?;
        let (first, second) = (fit.mean(0)?, fit.mean(1)?);
        // Means whose difference is that within strata.
        let shift = 0.5 * (found.value - (second - first));
        let means = [first - shift, second + shift];
        Some(Difference { found, means, variances: [*variances.first()?, *variances.get(1)?] })
    }

    /// Units of each stratum as the randomisation deals them: by their means.
    pub(super) fn dealt(&self) -> Vec<Stratum> {
        let one = |both: &[Vec<Held>; 2]| {
            let means = |own: &Vec<Held>| own.iter().filter_map(Held::mean).collect::<Vec<f64>>();
            let (first, second) = (means(&both[0]), means(&both[1]));
            let labels = first.iter().map(|_| false).chain(second.iter().map(|_| true)).collect();
            Stratum { rates: [first, second].concat(), second: labels }
        };
        self.units.iter().map(one).collect()
    }

    /// The fewest units of a level.
    pub(super) fn fewest(&self) -> usize {
        [0, 1]
            .into_iter()
            .map(|side| self.units.iter().filter_map(|both| both.get(side)).map(Vec::len).sum())
            .min()
            .unwrap_or(0)
    }
}
