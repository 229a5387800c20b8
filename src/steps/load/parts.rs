//! Levels of parts: each counts at its own level from where it was split off, or at that of its origin where it names none.

use std::collections::{BTreeMap, BTreeSet};

use super::lineage::Family;
use super::rows::Row;
use crate::error::Issue;
use crate::steps::chain::Passed;
use crate::steps::held::{StepsBatch, StepsPart};

/// Plants that are alike in all columns of levels: their levels, and those that reached and passed each step.
pub(super) type Group = (Vec<Option<String>>, Vec<Option<Passed>>);

/// The rows with the level that each has in each column.
pub(super) struct Parts<'a> {
    family: &'a Family<'a>,
    /// The column of the chain from which on levels of each column can differ.
    begins: Vec<usize>,
    labels: Vec<Vec<Option<String>>>,
}

impl<'a> Parts<'a> {
    pub(super) fn of(family: &'a Family<'a>) -> Self {
        let begins = family.options.begins();
        let mut labels: Vec<Vec<Option<String>>> = vec![Vec::new(); family.rows.len()];
        for at in &family.order {
            let (Some(row), Some(parents)) = (family.rows.get(*at), family.parents.get(*at)) else { continue };
            let inherited = |column: usize| -> Option<String> {
                let mut of = parents.iter().map(|parent| labels.get(*parent)?.get(column)?.clone());
                let first = of.next()??;
                of.all(|other| other.as_ref() == Some(&first)).then_some(first)
            };
            let own =
                (0..begins.len()).map(|column| row.labels.get(column).cloned().flatten().or_else(|| inherited(column)));
            let own: Vec<Option<String>> = own.collect();
            if let Some(place) = labels.get_mut(*at) {
                *place = own;
            }
        }
        Self { family, begins, labels }
    }

    fn label(&self, at: usize, column: usize) -> Option<&str> {
        self.labels.get(at)?.get(column)?.as_deref()
    }

    /// Plants of a row that reached and passed each step, without those it gave away.
    fn passed(&self, at: usize) -> Vec<Option<Passed>> {
        let (Some(row), Some(given)) = (self.family.rows.get(at), self.family.given.get(at)) else { return Vec::new() };
        let step = |step: usize| {
            let passed = row.counts.get(step + 1).copied().flatten();
            let passed = passed.filter(|_| row.counts.get(step).is_some_and(Option::is_some))?;
            let gave = given.get(step).copied().unwrap_or_default();
            Some(Passed { reached: row.stayed(step).saturating_sub(gave), passed })
        };
        (0..self.family.options.steps.len().saturating_sub(1)).map(step).collect()
    }

    /// Levels that are not written though plants came to them, and those that a part cannot have.
    pub(super) fn wrong(&self, sound: &[bool]) -> Vec<Issue> {
        let mut found = Vec::new();
        for (at, row) in self.family.rows.iter().enumerate().filter(|(at, _)| sound.get(*at) == Some(&true)) {
            let steps = self.passed(at);
            for (column, ((role, name), from)) in self.family.options.levels().into_iter().zip(&self.begins).enumerate()
            {
                let comes = steps.iter().skip(*from).flatten().any(|one| one.reached > 0);
                let issue = match self.label(at, column) {
                    None if comes => Some(self.unknown(at, row, column)),
                    Some(level) if role == "treatments" && row.first() > *from => self.too_late(at, column, level),
                    _ => None,
                };
                found.extend(issue.map(|issue| issue.at_row(row.row).in_column(name)));
            }
        }
        found
    }

    /// A row of which nothing tells the level.
    fn unknown(&self, at: usize, row: &Row, column: usize) -> Issue {
        let parents = self.family.parents.get(at).map(Vec::as_slice).unwrap_or_default();
        let named = |parent: &usize| Some((self.family.rows.get(*parent)?.name.as_str(), self.label(*parent, column)?));
        let mut origins = parents.iter().filter_map(named);
        if let (Some((one, level)), Some((two, other))) = (origins.next(), origins.next()) {
            let reason = format!(
                "{:?} was merged of {one:?} ({level}) and {two:?} ({other}), and nothing is written here",
                row.name
            );
            let hint = "write its level, keep such batches apart in the record, or load without that column";
            return Issue::of_input("batch_of_two_kinds", reason, hint);
        }
        let gives = self.family.given.get(at).is_some_and(|given| given.iter().any(|plants| *plants > 0));
        let hint = if gives {
            "write its level; where only its parts have one, name the column in treatments= with the step before which they get it"
        } else {
            "write it in, or leave the row out"
        };
        Issue::of_input("missing_level", "nothing is written here", hint)
    }

    /// A part that has another level of a treatment than its origin, though it was split off after that was given.
    fn too_late(&self, at: usize, column: usize, level: &str) -> Option<Issue> {
        let row = self.family.rows.get(at)?;
        let mut parents = self.family.parents.get(at)?.iter();
        let other = parents.find(|parent| self.label(**parent, column).is_some_and(|other| other != level))?;
        let origin = self.family.rows.get(*other)?;
        let step = self.family.options.steps.get(row.first()).cloned().unwrap_or_default();
        let reason = format!(
            "{:?} has {level} and {:?} (row {}), from which it was split at {step:?}, {}; by then the treatment had been given",
            row.name,
            origin.name,
            origin.row,
            self.label(*other, column).unwrap_or_default()
        );
        let hint = "correct the level, or write in treatments= the step before which it was given";
        Some(Issue::of_input("level_after_its_step", reason, hint).with_value(level))
    }

    /// One batch of all these rows.
    pub(super) fn batch(&self, members: &[usize]) -> Option<StepsBatch> {
        let row = |at: &usize| self.family.rows.get(*at);
        let rows: Vec<&Row> = members.iter().filter_map(row).collect();
        let origins: Vec<&Row> = rows.iter().copied().filter(|row| row.parents.is_empty()).collect();
        let first = origins.first().or(rows.first()).copied()?;
        // Origins first, so that what is said of the batch as a whole is said of them.
        let (before, after): (Vec<usize>, Vec<usize>) =
            members.iter().partition(|at| row(at).is_some_and(|row| row.parents.is_empty()));
        let all = before.iter().chain(&after);
        let groups: Vec<Group> =
            all.map(|at| (self.labels.get(*at).cloned().unwrap_or_default(), self.passed(*at))).collect();
        let options = self.family.options;
        let states = (0..options.states.len())
            .map(|at| rows.iter().filter_map(|row| row.states.get(at).copied().flatten()).reduce(|a, b| a + b));
        let earliest = |at: usize| rows.iter().filter_map(|row| row.dates.get(at).copied().flatten()).min();
        let name = origins.iter().map(|row| row.name.as_str()).collect::<Vec<_>>().join(" + ");
        let steps: Vec<Option<Passed>> = (0..options.steps.len().saturating_sub(1))
            .map(|step| groups.iter().filter_map(|(_, steps)| steps.get(step).copied().flatten()).reduce(Passed::and))
            .collect();
        let (labels, parts) = levels(groups, &self.begins);
        Some(StepsBatch {
            name: if name.is_empty() { first.name.clone() } else { name },
            row: first.row,
            started: origins.iter().map(|row| row.count(0)).sum(),
            steps,
            states: states.collect(),
            labels,
            dates: (0..options.steps.len()).map(earliest).collect(),
            parts,
        })
    }
}

/// The levels of a batch, and its parts where plants that came to a column's step differ in it. What is said of the batch is the level of the first
/// group that has one, or the only one.
pub(super) fn levels(groups: Vec<Group>, begins: &[usize]) -> (Vec<String>, Vec<StepsPart>) {
    let comes = |steps: &[Option<Passed>], from: usize| steps.iter().skip(from).flatten().any(|one| one.reached > 0);
    let of = |(labels, _): &Group, column: usize| labels.get(column).cloned().flatten();
    let mut whole = Vec::with_capacity(begins.len());
    let mut differ = false;
    for (column, from) in begins.iter().enumerate() {
        let onward: BTreeSet<String> =
            groups.iter().filter(|group| comes(&group.1, *from)).filter_map(|group| of(group, column)).collect();
        differ |= onward.len() > 1;
        let first = || groups.iter().find_map(|group| of(group, column)).unwrap_or_default();
        whole.push(if onward.len() == 1 { onward.into_iter().next().unwrap_or_default() } else { first() });
    }
    if !differ {
        return (whole, Vec::new());
    }
    let mut alike = BTreeMap::<Vec<String>, Vec<Option<Passed>>>::new();
    for group in groups {
        // Plants that never came to a treatment have no level of it.
        let known = begins.iter().enumerate().map(|(column, from)| {
            if comes(&group.1, *from) { of(&group, column).unwrap_or_default() } else { String::new() }
        });
        match alike.entry(known.collect()) {
            std::collections::btree_map::Entry::Vacant(place) => {
                place.insert(group.1);
            }
            std::collections::btree_map::Entry::Occupied(mut place) => {
                for (sum, one) in place.get_mut().iter_mut().zip(group.1) {
                    *sum = [*sum, one].into_iter().flatten().reduce(Passed::and);
                }
            }
        }
    }
    (whole, alike.into_iter().map(|(labels, steps)| StepsPart { labels, steps }).collect())
}
