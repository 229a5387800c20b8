//! Labels of bays, blocks and mother plants that start afresh within a treatment, a season or a bay. Read as they stand, one label would
//! be one place that held several levels, and what was given to places would be judged against trays, without a word.
//!
//! Trays under one label of a crossed design and of restarting labels look alike, so the data alone cannot say which it is. What is asked about:
//! a whole plot of which no treatment is a property, since a column is named so because one is; places within which a treatment never
//! changes once the season or place around them is known, where dealing out would hardly ever do that; mother plants under
//! several levels of what can be a kind of plant, since a plant is of one kind; rooms and bays under several lengths of darkness, which
//! is given to whole rooms; batches under several weeks or seasons, since a batch is stuck once. Other blocks that hold several levels
//! are ordinary.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::error::Issue;
use crate::math::design::{Key, tally};
use crate::report::join;
use crate::trial::anew::{counts_anew, within_seasons};
use crate::trial::calendar::is_calendar;
use crate::trial::checker::Checker;
use crate::trial::columns::{Factor, cells};
use crate::trial::kinds::{is_given_to_rooms, may_be_a_kind_of_plant};
use crate::trial::unused::{is_a_batch, is_a_room};

/// How often chance may leave every place with one level before nobody asks.
const BY_CHANCE: f64 = 0.01;

/// One role and its column.
#[derive(Clone, Copy)]
struct Place<'a> {
    role: &'static str,
    column: &'a str,
    code: &'static str,
}

/// How the levels of a treatment lie over cells: how many cells there are, the cells that hold several levels, and how probable it is that
/// dealing the levels out to units leaves one level in each cell.
struct Spread {
    cells: usize,
    mixed: Vec<Vec<usize>>,
    chance: f64,
}

impl Spread {
    fn of(treatment: &Factor, by: &[&Factor], units: &[usize]) -> Self {
        let found = cells(by, units);
        let codes: Vec<Option<u32>> = units.iter().map(|unit| treatment.codes.get(*unit).copied()).collect();
        let first = |at: &usize| codes.get(*at).copied().flatten();
        let firsts: Vec<Option<u32>> = found.firsts.iter().map(first).collect();
        let (mut sizes, mut several) = (vec![0_usize; found.len()], vec![false; found.len()]);
        for (code, cell) in codes.iter().zip(&found.numbers) {
            let cell = *cell as usize;
            sizes.get_mut(cell).into_iter().for_each(|size| *size += 1);
            if let (Some(several), Some(first)) = (several.get_mut(cell), firsts.get(cell)) {
                *several |= code != first;
            }
        }
        let mut mixed: Vec<Vec<usize>> = vec![Vec::new(); found.len()];
        for (unit, cell) in units.iter().zip(&found.numbers) {
            let cell = *cell as usize;
            let members = mixed.get_mut(cell).filter(|_| several.get(cell) == Some(&true));
            members.into_iter().for_each(|members| members.push(*unit));
        }
        let mut counts = vec![0.0_f64; treatment.levels.len()];
        for unit in units {
            if let Some(count) = treatment.codes.get(*unit).and_then(|code| counts.get_mut(*code as usize)) {
                *count += 1.0;
            }
        }
        let all = units.len().max(1) as f64;
        let alike = |size: usize| -> f64 { counts.iter().map(|count| (count / all).powf(size as f64)).sum() };
        let chance = sizes.iter().map(|size| alike(*size).ln()).sum::<f64>().exp();
        mixed.retain(|members| !members.is_empty());
        Self { cells: found.len(), mixed, chance }
    }

    /// A few cells of many: an entry is wrong rather than all labels.
    fn is_a_slip(&self) -> bool {
        self.cells >= 4 && 4 * self.mixed.len() <= self.cells
    }
}

impl Checker<'_> {
    /// Asks where the labels of whole plots, blocks or stock plants seem to start afresh.
    pub(super) fn places(&mut self) {
        let options = self.options;
        let place = |role, column: &'_ Option<String>, code| column.clone().map(|column| (role, column, code));
        let given = [
            place("whole_plot", &options.whole_plot, "restarted_whole_plots"),
            place("block", &options.block, "restarted_blocks"),
            place("stock_plant", &options.stock_plant, "restarted_stock_plants"),
        ];
        let mut found = Vec::new();
        for (role, column, code) in given.into_iter().flatten().filter(|(_, _, code)| !options.has_checked(code)) {
            // Plots of blocks and blocks of plots are one question.
            if role == "block" && !found.is_empty() {
                continue;
            }
            let place = Place { role, column: &column, code };
            found.extend(self.restart(place).map(|issue| issue.in_column(&column)));
        }
        self.issues.extend(found);
    }

    fn restart(&self, place: Place<'_>) -> Option<Issue> {
        let mut labels = Cow::Borrowed(self.coded(place.column)?);
        let treatments: Vec<&Factor> = self
            .options
            .treatments
            .iter()
            .filter_map(|name| self.coded(name))
            .filter(|one| one.levels.len() > 1)
            .collect();
        if labels.levels.len() < 2 || treatments.is_empty() {
            return None;
        }
        // The blocks and whole plots of each season are told apart anyway.
        let season = self.options.season.as_ref().filter(|_| place.role != "stock_plant");
        let season = season.and_then(|name| self.coded(name));
        let told = |one: &&Factor| counts_anew(one, &labels, &treatments);
        if let Some(season) = season.filter(told) {
            labels = Cow::Owned(within_seasons(season, &labels));
        }
        let units = self.distinct_units(&treatments);
        if let Some(issue) = self.within_another(place, &labels, &treatments, &units) {
            return Some(issue);
        }
        if let Some(issue) = self.batches(place, &labels, &treatments, &units) {
            return Some(issue);
        }
        match place.role {
            "block" => self.rooms(place, &labels, &treatments, &units),
            "whole_plot" => self.within_a_treatment(place, &labels, &treatments, &units),
            "stock_plant" => {
                let kinds: Vec<&Factor> = treatments
                    .into_iter()
                    .filter(|one| may_be_a_kind_of_plant(&one.name, &one.levels, one.numbers.is_some()))
                    .collect();
                self.within_a_treatment(place, &labels, &kinds, &units)
            }
            _ => None,
        }
    }

    /// The first line of each unit: a tray, or the cuttings that nothing tells apart.
    fn distinct_units(&self, treatments: &[&Factor]) -> Vec<usize> {
        let options = self.options;
        let recorded = [&options.season, &options.block, &options.whole_plot, &options.stock_plant, &options.tray];
        let places = recorded.into_iter().flatten().filter_map(|name| self.coded(name));
        let keys: Vec<Key<'_>> = treatments.iter().copied().chain(places).map(Factor::key).collect();
        let lines = treatments.first().map_or(0, |one| one.codes.len());
        tally(&keys, lines).0
    }

    /// Places that hold one level each once the season, block or whole plot around them is known, and several under one label.
    fn within_another(
        &self,
        place: Place<'_>,
        labels: &Factor,
        treatments: &[&Factor],
        units: &[usize],
    ) -> Option<Issue> {
        let options = self.options;
        let around = [("season", &options.season), ("block", &options.block), ("whole_plot", &options.whole_plot)];
        for (role, name) in around.into_iter().filter(|(role, _)| *role != place.role) {
            let Some((name, outer)) = name.as_deref().and_then(|name| Some((name, self.coded(name)?))) else {
                continue;
            };
            for treatment in treatments {
                let own = Spread::of(treatment, &[labels], units);
                if own.mixed.is_empty() || Spread::of(treatment, &[outer], units).mixed.is_empty() {
                    continue;
                }
                let both = Spread::of(treatment, &[outer, labels], units);
                if both.mixed.is_empty() && both.chance < BY_CHANCE {
                    return Some(self.asked_within(place, labels, treatment, &own, (role, name)));
                }
            }
        }
        None
    }

    fn asked_within(
        &self,
        place: Place<'_>,
        labels: &Factor,
        treatment: &Factor,
        own: &Spread,
        (role, outer): (&str, &str),
    ) -> Issue {
        let Place { column, code, .. } = place;
        let reason = format!(
            "{column} labels seem to start afresh in each {outer}: there every {column} holds a single level of {}, while {}",
            treatment.name,
            self.example(labels, treatment, own)
        );
        let mut parts = self.options.parts(role, outer);
        parts.extend(self.options.parts(place.role, column));
        let paste = pasted(place.role, &parts);
        let hint = format!(
            "if they do, or if {} was given to each {column} anew in each {outer}, say so with {paste}; if not, with checked=[{code:?}], and trays are compared",
            treatment.name
        );
        Issue::of_input(code, reason, hint).pasted(&paste)
    }

    /// Batches whose labels stand under several seasons or weeks.
    fn batches(&self, place: Place<'_>, labels: &Factor, treatments: &[&Factor], units: &[usize]) -> Option<Issue> {
        let Place { role, column, code } = place;
        if role == "stock_plant" || !is_a_batch(column) {
            return None;
        }
        let season = self.options.season.as_deref().and_then(|name| self.coded(name)).map(|one| ("season", one));
        let weeks = treatments.iter().filter(|one| is_calendar(one)).map(|one| ("treatment", *one));
        let (times, time, own) = season.into_iter().chain(weeks).find_map(|(times, one)| {
            let own = Spread::of(one, &[labels], units);
            (!own.mixed.is_empty()).then_some((times, one, own))
        })?;
        let reason = format!("a {column} is stuck once, but {}", self.example(labels, time, &own));
        let mut parts = self.options.parts(times, &time.name);
        parts.extend(self.options.parts(role, column));
        let paste = pasted(role, &parts);
        let hint = format!(
            "if {column} labels start afresh in each {}, say so with {paste}; if each of these is one {column} that lasted, with checked=[{code:?}]",
            time.name
        );
        Some(Issue::of_input(code, reason, hint).pasted(&paste))
    }

    /// Rooms and bays named as blocks whose labels stand under several lengths of darkness.
    fn rooms(&self, place: Place<'_>, labels: &Factor, treatments: &[&Factor], units: &[usize]) -> Option<Issue> {
        let Place { role, column, code } = place;
        let dark = treatments.iter().filter(|one| is_a_room(column) && is_given_to_rooms(&one.name));
        let (dark, own) =
            dark.map(|one| (*one, Spread::of(one, &[labels], units))).find(|(_, own)| !own.mixed.is_empty())?;
        if own.is_a_slip() {
            return Some(self.slip(place, labels, dark, &own));
        }
        let mut parts = vec![dark.name.clone()];
        parts.extend(self.options.parts(role, column));
        let paste = pasted(role, &parts);
        let reason = format!("darkness is given to whole rooms and bays, but {}", self.example(labels, dark, &own));
        let hint = format!(
            "if {column} labels start afresh in each {}, say so with {paste}; if every {column} really held several levels side by side, with checked=[{code:?}], and trays are compared",
            dark.name
        );
        Some(Issue::of_input(code, reason, hint).pasted(&paste))
    }

    /// Places under several levels of every one of these treatments, of which one should be theirs.
    fn within_a_treatment(
        &self,
        place: Place<'_>,
        labels: &Factor,
        treatments: &[&Factor],
        units: &[usize],
    ) -> Option<Issue> {
        let mut found: Vec<(&Factor, Spread)> = Vec::new();
        for treatment in treatments {
            let own = Spread::of(treatment, &[labels], units);
            if own.mixed.is_empty() {
                return None;
            }
            if own.is_a_slip() {
                return Some(self.slip(place, labels, treatment, &own));
            }
            // A line of a wide sheet shows that a place held several levels: its labels do not start afresh in each.
            if place.role == "whole_plot" && self.in_one_row(treatment, &own) {
                continue;
            }
            // Where each level in a place is a single tray, joined labels would be trays by another name.
            if place.role != "whole_plot" || Spread::of(treatment, &[treatment, labels], units).cells < units.len() {
                found.push((*treatment, own));
            }
        }
        let strength = self.options.strength_treatment();
        found.sort_by_key(|(one, _)| (strength == Some(one.name.as_str()), one.levels.len()));
        let (first, own) = found.first()?;
        let names: Vec<String> = match place.role {
            "whole_plot" => vec![first.name.clone()],
            _ => treatments.iter().map(|one| one.name.clone()).collect(),
        };
        Some(self.asked(place, first, &names, &self.example(labels, first, own)))
    }

    /// Does a row of the sheet stand under several levels, as the cells of a wide one do?
    fn in_one_row(&self, treatment: &Factor, own: &Spread) -> bool {
        let usable = self.usable_lines();
        let row = |unit: &usize| usable.get(*unit).map(|line| self.row(*line));
        own.mixed.iter().any(|cell| {
            let mut of_row: BTreeMap<u64, u32> = BTreeMap::new();
            cell.iter().any(|unit| {
                let (Some(row), Some(code)) = (row(unit), treatment.codes.get(*unit)) else { return false };
                *of_row.entry(row).or_insert(*code) != *code
            })
        })
    }

    fn asked(&self, place: Place<'_>, treatment: &Factor, names: &[String], example: &str) -> Issue {
        let Place { role, column, code } = place;
        let mut parts = names.to_vec();
        parts.extend(self.options.parts(role, column));
        let paste = pasted(role, &parts);
        let (reason, hint) = if role == "whole_plot" {
            (
                format!("no treatment is the same all over a {column}: {example}"),
                format!(
                    "if {column} labels start afresh in each {0} (or another treatment that whole {column} labels were given), say so with {paste}; if every {column} really held several levels, with checked=[{code:?}], and trays are compared",
                    treatment.name
                ),
            )
        } else {
            (
                format!("a plant is of one {}, but {example}", treatment.name),
                format!(
                    "if {column} labels start afresh in each {}, say so with {paste}; if each of these plants really gave cuttings to several levels, with checked=[{code:?}]",
                    join(names)
                ),
            )
        };
        Issue::of_input(code, reason, hint).pasted(&paste)
    }

    /// A label that stands under two levels where nearly all others have one.
    fn slip(&self, place: Place<'_>, labels: &Factor, treatment: &Factor, own: &Spread) -> Issue {
        let Place { column, code, .. } = place;
        let reason = format!(
            "{}, while {} of {} {column} labels have one level of {}",
            self.example(labels, treatment, own),
            own.cells - own.mixed.len(),
            own.cells,
            treatment.name
        );
        let hint = format!("correct the entry; if it is right, say so with checked=[{code:?}]");
        Issue::of_input(code, reason, hint)
    }

    /// `"B1" stands under dark_days 0 and 21, in rows 2, 14`, and how many more do.
    fn example(&self, labels: &Factor, treatment: &Factor, own: &Spread) -> String {
        let Some(first) = own.mixed.first() else { return String::new() };
        let label = first.first().and_then(|unit| labels.label(*unit)).unwrap_or_default();
        let mut levels: Vec<(u32, usize)> = Vec::new();
        let mut seen = BTreeSet::new();
        for unit in first {
            if let Some(code) = treatment.codes.get(*unit).filter(|code| seen.insert(**code)) {
                levels.push((*code, *unit));
            }
        }
        levels.sort_unstable();
        levels.truncate(3);
        let usable = self.usable_lines();
        let lines: Vec<usize> = levels.iter().filter_map(|(_, unit)| usable.get(*unit).copied()).collect();
        let names: Vec<&str> = levels.iter().filter_map(|(_, unit)| treatment.label(*unit)).collect();
        let all = if own.mixed.len() > 1 {
            format!(", and {} of {} labels stand under several levels", own.mixed.len(), own.cells)
        } else {
            String::new()
        };
        format!("{label:?} stands under {} {}, in {}{all}", treatment.name, join(&names), self.in_rows(&lines))
    }
}

fn pasted(role: &str, parts: &[String]) -> String {
    let quoted: Vec<String> = parts.iter().map(|name| format!("{name:?}")).collect();
    format!("{role}=[{}]", quoted.join(", "))
}
