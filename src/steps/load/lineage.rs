//! Rows by what they came from, and what of it cannot be: plants that count twice or are lost, days before those of the origin.

use std::collections::{BTreeMap, BTreeSet};

use super::days::shown;
use super::options::StepsOptions;
use super::rows::Row;
use crate::error::Issue;

/// Rows and how they hang together.
pub(super) struct Family<'a> {
    pub(super) rows: &'a [Row],
    pub(super) options: &'a StepsOptions,
    /// The rows that each row came from.
    pub(super) parents: Vec<Vec<usize>>,
    /// The rows, each behind those that it came from; those that descend from themselves are not among them.
    pub(super) order: Vec<usize>,
    /// The first row of each row's descent.
    pub(super) roots: Vec<usize>,
    /// Plants that each row gave to parts of it, column by column.
    pub(super) given: Vec<Vec<u64>>,
    pub(super) issues: Vec<Issue>,
}

impl<'a> Family<'a> {
    pub(super) fn of(rows: &'a [Row], options: &'a StepsOptions) -> Self {
        let nothing = vec![vec![0; options.steps.len()]; rows.len()];
        let mut family = Self {
            rows,
            options,
            parents: Vec::new(),
            order: Vec::new(),
            roots: Vec::new(),
            given: nothing,
            issues: Vec::new(),
        };
        family.find_parents();
        family.find_order();
        family.roots = family.find_roots();
        family
    }

    fn issue(&self, at: usize, code: &str, reason: String, hint: &str) -> Option<Issue> {
        let row = self.rows.get(at)?;
        let issue = Issue::of_input(code, reason, hint).at_row(row.row);
        let issue = match &self.options.parent {
            Some(column) => issue.in_column(column),
            None => issue,
        };
        Some(if row.parents.is_empty() { issue } else { issue.with_value(row.parents.join(" + ").as_str()) })
    }

    fn find_parents(&mut self) {
        // A row that cannot be used stands back behind one of its name that can.
        let both = [true, false].into_iter();
        let of = |bad: bool| self.rows.iter().enumerate().filter(move |(_, row)| row.bad == bad);
        let named: BTreeMap<&str, usize> = both.flat_map(of).map(|(at, row)| (row.name.as_str(), at)).collect();
        for (at, row) in self.rows.iter().enumerate() {
            let mut found = Vec::new();
            for parent in &row.parents {
                if let Some(place) = named.get(parent.as_str()) {
                    found.push(*place);
                } else {
                    let reason = format!("no batch is called {parent:?}");
                    let hint = "write the name of the batch as it stands in its own row; join several by +";
                    self.issues.extend(self.issue(at, "unknown_parent", reason, hint));
                }
            }
            self.parents.push(found);
        }
    }

    /// Puts rows behind those that they came from; what is left over descends from itself.
    fn find_order(&mut self) {
        let mut waits: Vec<usize> = self.parents.iter().map(Vec::len).collect();
        let mut children = vec![Vec::new(); self.rows.len()];
        for (at, parents) in self.parents.iter().enumerate() {
            for parent in parents {
                children.get_mut(*parent).into_iter().for_each(|of: &mut Vec<usize>| of.push(at));
            }
        }
        let mut order: Vec<usize> = (0..waits.len()).filter(|at| waits.get(*at) == Some(&0)).collect();
        let mut next = 0;
        while let Some(at) = order.get(next).copied() {
            next += 1;
            for child in children.get(at).into_iter().flatten() {
                let Some(open) = waits.get_mut(*child) else { continue };
                *open -= 1;
                if *open == 0 {
                    order.push(*child);
                }
            }
        }
        for at in (0..waits.len()).filter(|at| waits.get(*at) != Some(&0)) {
            let name = self.rows.get(at).map(|row| row.name.clone()).unwrap_or_default();
            let reason = format!("batch {name:?} descends from itself");
            let hint = "correct what it was split from, in one of these rows";
            self.issues.extend(self.issue(at, "parents_in_circle", reason, hint));
        }
        self.order = order;
    }

    /// For each row whether nothing is wrong with it and all rows of its descent.
    pub(super) fn sound(&self) -> Vec<bool> {
        let wrong: BTreeSet<u64> = self.issues.iter().filter_map(|issue| issue.row).collect();
        let bad = |row: &Row| row.bad || wrong.contains(&row.row);
        let roots = self.rows.iter().zip(&self.roots).filter(|(row, _)| bad(row)).map(|(_, root)| *root);
        let bad: BTreeSet<usize> = roots.collect();
        self.roots.iter().map(|root| !bad.contains(root)).collect()
    }

    /// Rows that cannot be used since others of their descent cannot.
    pub(super) fn left_with_others(&self, sound: &[bool]) -> Vec<Issue> {
        let wrong: BTreeSet<u64> = self.issues.iter().filter_map(|issue| issue.row).collect();
        let alone = |at: &usize| self.rows.get(*at).is_some_and(|row| !row.bad && !wrong.contains(&row.row));
        let lost = (0..self.rows.len()).filter(|at| sound.get(*at) == Some(&false)).filter(alone);
        let told = |at: usize| {
            let name = self.rows.get(at).map(|row| row.name.as_str()).unwrap_or_default();
            let reason = format!("{name:?} was split from or merged with a batch that cannot be used");
            self.issue(at, "left_with_others", reason, "put the row of that batch right")
        };
        lost.filter_map(told).collect()
    }

    /// The rows of the parts of a row: "row 3", "rows 3 and 4".
    fn parts_of(&self, at: usize) -> String {
        let children = self.parents.iter().zip(self.rows).filter(|(parents, _)| parents.contains(&at));
        let numbers: Vec<String> = children.map(|(_, row)| row.row.to_string()).collect();
        match numbers.as_slice() {
            [only] => format!("row {only}"),
            [first, .., last] if numbers.len() > 3 => format!("{} rows from {first} to {last}", numbers.len()),
            _ => format!("rows {}", crate::report::join(&numbers.iter().map(String::as_str).collect::<Vec<_>>())),
        }
    }

    /// Batches that are counted on together with the parts that they gave their plants to.
    pub(super) fn counted_on(&mut self, sound: &[bool]) {
        let mut found = Vec::new();
        for (at, (row, given)) in
            self.rows.iter().zip(&self.given).enumerate().filter(|(at, _)| sound.get(*at) == Some(&true))
        {
            for (column, gave) in given.iter().enumerate().filter(|(_, gave)| **gave > 0) {
                let (had, next) = (row.stayed(column), row.counts.get(column + 1).copied().flatten());
                let stayed = had.saturating_sub(*gave);
                let Some(next) = next.filter(|next| *next > stayed && *gave <= had) else { continue };
                let name = |at: usize| self.options.steps.get(at).cloned().unwrap_or_default();
                let (step, of) = (name(column + 1), name(column));
                let reason = format!(
                    "{:?} gave {gave} of its {had} at {of:?} to parts ({}) and is counted on with {next} at {step:?}, so plants count twice",
                    row.name,
                    self.parts_of(at)
                );
                let hint = if stayed == 0 {
                    "leave it blank from here on, since parts have their own counts".to_owned()
                } else {
                    format!("write those of the {stayed} that stayed in it, since parts have their own counts")
                };
                let issue = Issue::of_input("counted_with_its_parts", reason, hint).at_row(row.row).in_column(&step);
                found.push(issue.with_value(next.to_string()));
            }
        }
        self.issues.append(&mut found);
    }

    /// Parts whose days lie before those of what they came from.
    pub(super) fn dates(&mut self, sound: &[bool]) {
        let mut found = Vec::new();
        for ((row, parents), _) in self.rows.iter().zip(&self.parents).zip(sound).filter(|(_, sound)| **sound) {
            let origins = parents.iter().filter_map(|parent| self.rows.get(*parent));
            let until = origins.filter_map(|one| {
                let days = one.dates.iter().take(row.first() + 1).copied().flatten();
                days.max().map(|day| (day, one))
            });
            let Some((since, origin)) = until.max_by_key(|(day, _)| *day) else { continue };
            let own = row.dates.iter().enumerate().find_map(|(at, day)| Some((at, (*day).filter(|day| *day < since)?)));
            let Some((at, day)) = own else { continue };
            let reason = format!(
                "{:?} has {} here, before {:?} (row {}), from which it came, on {}",
                row.name,
                shown(day),
                origin.name,
                origin.row,
                shown(since)
            );
            let issue =
                Issue::of_input("part_before_its_origin", reason, "correct one of the two dates").at_row(row.row);
            let step = self.options.steps.get(at);
            let column = self.options.dates.iter().find(|one| Some(&one.step) == step).map(|one| one.column.as_str());
            found.push(issue.in_column(column.unwrap_or_default()).with_value(shown(day)));
        }
        self.issues.append(&mut found);
    }

    /// Plants that each row gave to parts of it, column by column.
    pub(super) fn given(&mut self, sound: &[bool]) {
        let mut given = std::mem::take(&mut self.given);
        let mut merged = Vec::new();
        for (at, (row, parents)) in self.rows.iter().zip(&self.parents).enumerate() {
            if sound.get(at) != Some(&true) {
                continue;
            }
            let first = row.first();
            let uncounted = parents
                .iter()
                .find_map(|p| self.rows.get(*p).filter(|p| p.counts.get(first).copied().flatten().is_none()));
            if let (Some(parent), Some(column)) = (uncounted, self.options.steps.get(first)) {
                let reason = format!("{:?} begins at {column:?}, which {:?} did not count", row.name, parent.name);
                let hint = "write how many plants it got at the last step before the split, in both rows";
                merged.extend(self.issue(at, "part_of_uncounted", reason, hint));
                continue;
            }
            match parents.as_slice() {
                [] => {}
                [parent] => {
                    if let Some(cell) = given.get_mut(*parent).and_then(|row| row.get_mut(first)) {
                        *cell += row.count(first);
                    }
                }
                several => merged.extend(self.merged(at, several, &mut given)),
            }
        }
        self.issues.append(&mut merged);
        for (row, given) in self.rows.iter().zip(&given) {
            let gave = given.iter().enumerate().filter(|(_, plants)| **plants > 0);
            let wrong: Vec<(usize, u64, u64)> = gave
                .map(|(column, plants)| (column, *plants, row.stayed(column)))
                .filter(|(column, plants, had)| plants > had || (*column == row.last() && plants != had))
                .collect();
            for (column, plants, had) in wrong {
                let step = self.options.steps.get(column).cloned().unwrap_or_default();
                let reason = format!("{:?} had {had} at {step:?}, and its parts have {plants}", row.name);
                let hint = "correct the counts; plants that stayed in the batch have their own counts further on";
                let issue = Issue::of_input("parts_do_not_add_up", reason, hint).at_row(row.row).in_column(&step);
                self.issues.push(issue);
            }
        }
        self.given = given;
    }

    /// A batch merged of several takes all that these have.
    fn merged(&self, at: usize, parents: &[usize], given: &mut [Vec<u64>]) -> Option<Issue> {
        let row = self.rows.get(at)?;
        let first = row.first();
        let had: u64 = parents.iter().filter_map(|parent| self.rows.get(*parent)).map(|one| one.stayed(first)).sum();
        if had != row.count(first)
            || parents.iter().any(|parent| self.rows.get(*parent).is_some_and(|one| one.last() > first))
        {
            let step = self.options.steps.get(first).cloned().unwrap_or_default();
            let reason = format!(
                "{:?} has {} at {step:?}, and what it was merged of had {had} there",
                row.name,
                row.count(first)
            );
            let hint = "merge whole batches; where only a part was merged give that part a row of its own first";
            return self.issue(at, "parts_do_not_add_up", reason, hint);
        }
        for parent in parents {
            let stayed = self.rows.get(*parent).map_or(0, |one| one.stayed(first));
            if let Some(cell) = given.get_mut(*parent).and_then(|row| row.get_mut(first)) {
                *cell += stayed;
            }
        }
        None
    }

    /// The first row of each row's descent, over merged batches too.
    fn find_roots(&self) -> Vec<usize> {
        let mut root: Vec<usize> = (0..self.rows.len()).collect();
        let find = |root: &[usize], mut at: usize| {
            while let Some(up) = root.get(at).copied().filter(|up| *up != at) {
                at = up;
            }
            at
        };
        for (at, parents) in self.parents.iter().enumerate() {
            for parent in parents {
                let (one, two) = (find(&root, at), find(&root, *parent));
                if let Some(place) = root.get_mut(one.max(two)) {
                    *place = one.min(two);
                }
            }
        }
        (0..self.rows.len()).map(|at| find(&root, at)).collect()
    }
}
