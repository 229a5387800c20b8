//! Which units carry a comparison: those in strata that hold several levels.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::answer::Note;
use crate::report::{agree, capital, join, numbers, plural, whole};
use crate::trial::{Factor, cells, to_name};

/// Below this share of a level's units a note says so.
const MOST: f64 = 0.8;

/// Strata left out that are named one by one.
const NAMED: usize = 12;

/// The units of one level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CarriedLevel {
    /// The level.
    pub level: String,
    /// Its units.
    pub n_units: u64,
    /// Those in strata that hold another level too: they carry the comparison.
    pub n_units_used: u64,
    /// The share of its units that carry it, 0 to 1.
    pub share: f64,
}

/// How much of every level a comparison within strata rests on.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Carried {
    /// Columns whose combinations are the strata; none where all units are one stratum.
    pub within: Vec<String>,
    /// Strata with units.
    pub n_strata: u64,
    /// Those that hold at least two levels.
    pub n_strata_used: u64,
    /// The levels compared.
    pub levels: Vec<CarriedLevel>,
    /// Strata of a single level, which tell nothing.
    pub left_out: Vec<String>,
    /// The only stratum that tells anything, column and level, where there is one.
    #[serde(default)]
    pub only: Vec<(String, String)>,
    /// True for one fit of all units with the columns `within` side by side, where strata are not what is left out.
    #[serde(default)]
    pub by_fit: bool,
}

impl Carried {
    /// Counts units, given as the first tray of each, by the strata of `by`.
    pub(crate) fn count(treatment: &Factor, by: &[&Factor], leads: &[usize]) -> Self {
        Self::told(treatment, by, leads, None)
    }

    /// The same; a fit says of each unit whether it carries, where strata do not.
    fn told(treatment: &Factor, by: &[&Factor], leads: &[usize], carries: Option<&dyn Fn(usize) -> bool>) -> Self {
        let strata = strata(treatment, by, leads, carries);
        let mut all: BTreeMap<u32, (u64, u64)> = BTreeMap::new();
        let tells = |held: &Held| if carries.is_some() { held.by_fit } else { held.levels.len() > 1 };
        for held in strata.values() {
            for (level, (count, by_fit)) in &held.levels {
                let own = all.entry(*level).or_default();
                own.0 += count;
                own.1 += match carries {
                    Some(_) => *by_fit,
                    None if tells(held) => *count,
                    None => 0,
                };
            }
        }
        let apart = || (0..by.len()).filter(|at| several(strata.keys(), *at));
        let named = to_name(&apart().filter_map(|at| by.get(at).copied()).collect::<Vec<&Factor>>());
        let is_named = |at: &usize| by.get(*at).is_some_and(|one| named.iter().any(|known| known.name == one.name));
        let told_apart: Vec<usize> = apart().filter(is_named).collect();
        let named = |key: &Vec<u32>| -> Vec<(String, String)> {
            let one = |at: &usize| {
                let factor = by.get(*at)?;
                Some((factor.name.clone(), factor.levels.get(*key.get(*at)? as usize)?.clone()))
            };
            told_apart.iter().filter_map(one).collect()
        };
        let used: Vec<&Vec<u32>> = strata.iter().filter(|(_, held)| tells(held)).map(|(key, _)| key).collect();
        let name = |key: &Vec<u32>| {
            named(key).into_iter().map(|(column, level)| format!("{column} {level}")).collect::<Vec<_>>().join(", ")
        };
        let level = |(code, (n_units, used)): (&u32, &(u64, u64))| CarriedLevel {
            level: treatment.levels.get(*code as usize).cloned().unwrap_or_default(),
            n_units: *n_units,
            n_units_used: *used,
            share: *used as f64 / *n_units as f64,
        };
        Self {
            within: told_apart.iter().filter_map(|at| by.get(*at)).map(|one| one.name.clone()).collect(),
            n_strata: strata.len() as u64,
            n_strata_used: used.len() as u64,
            levels: all.iter().map(level).collect(),
            left_out: strata.iter().filter(|(_, held)| !tells(held)).map(|(key, _)| name(key)).collect(),
            only: if let [only] = used.as_slice() { named(only) } else { Vec::new() },
            by_fit: false,
        }
    }

    /// What carries a fit of all `units`, each by its trays, with the columns `beside` in it: units with a tray among those `drawn_on`. A column
    /// of which a single level holds all of these leaves no more than that level to go by.
    pub(super) fn of_fit(
        treatment: &Factor,
        beside: &[&Factor],
        units: &[&[usize]],
        drawn_on: &BTreeSet<usize>,
    ) -> Self {
        let lead = |trays: &&[usize]| trays.first().copied();
        let leads: Vec<usize> = units.iter().filter_map(lead).collect();
        let carries = |trays: &&&[usize]| trays.iter().any(|tray| drawn_on.contains(tray));
        let carrying: BTreeSet<usize> = units.iter().filter(carries).filter_map(lead).collect();
        let (leads, carries) = (leads.as_slice(), &|lead: usize| carrying.contains(&lead));
        let by_each = beside.iter().map(|one| Self::told(treatment, &[*one], leads, Some(carries)));
        let alone = by_each.into_iter().find(|one| one.at_alone().is_some());
        alone.unwrap_or_else(|| Self {
            within: beside.iter().map(|one| one.name.clone()).collect(),
            by_fit: true,
            ..Self::told(treatment, &[], leads, Some(carries))
        })
    }

    /// Of two levels alone, by name.
    pub(super) fn of_levels(mut self, levels: [&str; 2]) -> Self {
        self.levels.retain(|one| levels.contains(&one.level.as_str()));
        self
    }

    /// Levels of which no unit carries the test, while others are told apart.
    pub(crate) fn unjudged(&self) -> impl Iterator<Item = &str> {
        let some = self.levels.iter().any(|level| level.n_units_used > 0);
        self.levels.iter().filter(move |level| some && level.n_units_used == 0).map(|level| level.level.as_str())
    }

    /// True when some unit carries nothing.
    #[must_use]
    pub fn loses(&self) -> bool {
        self.levels.iter().any(|level| level.n_units_used < level.n_units)
    }

    /// The smallest share of a level's units that carries the comparison.
    #[must_use]
    pub fn least_share(&self) -> f64 {
        self.levels.iter().map(|level| level.share).fold(1.0, f64::min)
    }

    fn counts(&self, unit: &str) -> String {
        let one = |level: &CarriedLevel| format!("{} of {} at {}", level.n_units_used, level.n_units, level.level);
        format!("{} ({})", join(&self.levels.iter().map(one).collect::<Vec<_>>()), plural(unit))
    }

    /// "only 56 of 228 trays carry it", for the decision line; none where nearly all of them do.
    pub(crate) fn tail(&self, unit: &str) -> Option<String> {
        let sum = |of: fn(&CarriedLevel) -> u64| self.levels.iter().map(of).sum::<u64>();
        let (used, all) = (sum(|one| one.n_units_used), sum(|one| one.n_units));
        (self.least_share() < MOST).then(|| format!("only {used} of {all} {} carry it", plural(unit)))
    }

    /// The first of the details where some unit carries nothing.
    pub(crate) fn line(&self, unit: &str) -> Option<String> {
        if self.by_fit && self.loses() {
            let within = join(&self.within);
            return Some(format!("This rests on {}; the others tell of {within} alone.", self.counts(unit)));
        }
        self.loses().then(|| {
            format!(
                "This rests on {}; the others stand in levels of {} that hold only one of those compared.",
                self.counts(unit),
                join(&self.within)
            )
        })
    }

    /// The option that asks about the only stratum that tells anything: `at={"season": "2025"}`; none where several do, or nothing is lost.
    pub(crate) fn at_alone(&self) -> Option<String> {
        if self.n_strata_used != 1 || self.n_strata < 2 || !self.loses() {
            return None;
        }
        let one = |(column, level): &(String, String)| format!("{column:?}: {level:?}");
        Some(format!("at={{{}}}", self.only.iter().map(one).collect::<Vec<_>>().join(", ")))
    }

    /// Why there is no test: a single stratum carries all, though there are others, so that nothing shows whether it holds elsewhere.
    pub(crate) fn refusal(&self, factor: &str, unit: &str) -> Option<String> {
        let at = self.at_alone()?;
        Some(format!(
            "levels of {factor} meet in one of {} only, with {}; to compare them there alone say {at}",
            whole(
                self.n_strata,
                &format!("combination of {}", join(&self.within)),
                &format!("combinations of {}", join(&self.within))
            ),
            self.counts(unit)
        ))
    }

    /// The note that a good part of a level's units tells nothing.
    pub(crate) fn note(&self, factor: &str, unit: &str) -> Option<Note> {
        if self.least_share() >= MOST || self.n_strata_used == 0 {
            return None;
        }
        let shares: Vec<String> = self
            .levels
            .iter()
            .map(|one| format!("{} % at {}", numbers::number((100.0 * one.share).round()), one.level))
            .collect();
        if self.by_fit {
            let text = format!(
                "Levels of {factor} are compared in one fit with {} side by side. It rests on {}: {}. What the other {} say goes into {}.",
                join(&self.within),
                self.counts(unit),
                join(&shares),
                plural(unit),
                join(&self.within)
            );
            return Some(Note::new("units_left_out", text));
        }
        let more = self.left_out.len().saturating_sub(NAMED);
        let mut left: Vec<String> = self.left_out.iter().take(NAMED).cloned().collect();
        if more > 0 {
            left.push(format!("{more} more"));
        }
        Some(Note::new(
            "units_left_out",
            format!(
                "Levels of {factor} are compared within {}, and only {} of {} hold more than one. The comparison rests on {}: {}. Left out: {}.",
                join(&self.within),
                self.n_strata_used,
                whole(self.n_strata, "stratum", "strata"),
                self.counts(unit),
                join(&shares),
                left.join("; ")
            ),
        ))
    }
}

/// The units of one stratum: by level, how many there are and how many carry a fit.
#[derive(Default)]
struct Held {
    levels: BTreeMap<u32, (u64, u64)>,
    by_fit: bool,
}

/// The strata of `by` with their units by level.
fn strata(
    treatment: &Factor,
    by: &[&Factor],
    leads: &[usize],
    carries: Option<&dyn Fn(usize) -> bool>,
) -> BTreeMap<Vec<u32>, Held> {
    let code = |factor: &Factor, lead: usize| factor.codes.get(lead).copied().unwrap_or_default();
    let mut strata: BTreeMap<Vec<u32>, Held> = BTreeMap::new();
    let found = cells(&[by, &[treatment]].concat(), leads);
    let mut counts = vec![(0_u64, 0_u64); found.len()];
    for (lead, number) in leads.iter().zip(&found.numbers) {
        let carries = carries.is_some_and(|carries| carries(*lead));
        counts.get_mut(*number as usize).into_iter().for_each(|(all, by_fit)| {
            *all += 1;
            *by_fit += u64::from(carries);
        });
    }
    for (lead, (all_units, by_fit)) in found.firsts.iter().filter_map(|at| leads.get(*at)).zip(counts) {
        let own = strata.entry(by.iter().map(|one| code(one, *lead)).collect()).or_default();
        let count = own.levels.entry(code(treatment, *lead)).or_default();
        (count.0, count.1) = (count.0 + all_units, count.1 + by_fit);
        own.by_fit |= by_fit > 0;
    }
    strata
}

fn several<'a>(mut keys: impl Iterator<Item = &'a Vec<u32>>, at: usize) -> bool {
    let first = keys.next().and_then(|key| key.get(at));
    keys.any(|key| key.get(at) != first)
}
/// That places or plants cross the units (the first of `judged_by`) and add to the error; none where nothing does.
pub(crate) fn crossed_note(factor: &str, judged_by: &[String]) -> Option<Note> {
    let [unit, crossed @ ..] = judged_by else { return None };
    let crossed = if crossed.is_empty() { None } else { Some(join(crossed)) }?;
    let text = format!(
        "{} was given to whole levels of {unit}, and {crossed} {} these: the error adds what either gives, with degrees of freedom after Satterthwaite.",
        capital(factor),
        agree(&crossed, "crosses", "cross")
    );
    Some(Note::new("crossed_units", text))
}

/// That what crosses the units could not be taken up.
pub(crate) fn crossed_left_out(factor: &str, judged_by: &[String]) -> Option<Note> {
    let [unit, crossed @ ..] = judged_by else { return None };
    let crossed = if crossed.is_empty() { None } else { Some(join(crossed)) }?;
    let text = format!(
        "{crossed} {} the levels of {unit}, and this trial cannot show what that adds: {factor} is judged by {unit} alone, so the P value may be too small.",
        agree(&crossed, "crosses", "cross")
    );
    Some(Note::new("crossed_units_left_out", text))
}
