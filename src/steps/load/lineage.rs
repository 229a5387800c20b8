//! Batches that were split or merged: parts are put together again by what they came from, so that no plant is lost or counted twice.

use std::collections::{BTreeMap, BTreeSet};

use super::options::StepsOptions;
use super::rows::Row;
use crate::error::Issue;
use crate::steps::chain::Passed;
use crate::steps::held::StepsBatch;

/// Rows and how they hang together.
struct Family<'a> {
    rows: &'a [Row],
    options: &'a StepsOptions,
    /// The rows that each row came from.
    parents: Vec<Vec<usize>>,
    issues: Vec<Issue>,
}

/// The batches of these rows: each row is one, or all rows of one descent together.
pub(super) fn batches(rows: &[Row], options: &StepsOptions, issues: &mut Vec<Issue>) -> Vec<StepsBatch> {
    let mut family = Family { rows, options, parents: Vec::new(), issues: Vec::new() };
    family.find_parents();
    if family.issues.is_empty() {
        family.circles();
    }
    let given = if family.issues.is_empty() { family.given() } else { vec![Vec::new(); rows.len()] };
    let wrong: BTreeSet<u64> = family.issues.iter().filter_map(|issue| issue.row).collect();
    let roots = family.roots();
    let mut together = BTreeMap::<usize, Vec<usize>>::new();
    for (at, root) in roots.iter().enumerate() {
        together.entry(*root).or_default().push(at);
    }
    let sound =
        |members: &Vec<usize>| members.iter().all(|at| rows.get(*at).is_some_and(|row| !wrong.contains(&row.row)));
    let found = together.into_values().filter(sound).filter_map(|members| family.batch(&members, &given)).collect();
    issues.append(&mut family.issues);
    found
}

impl Family<'_> {
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
        let named: BTreeMap<&str, usize> =
            self.rows.iter().enumerate().map(|(at, row)| (row.name.as_str(), at)).collect();
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

    /// Every row that descends from itself.
    fn circles(&mut self) {
        let mut open: BTreeSet<usize> = (0..self.rows.len()).collect();
        loop {
            let done: Vec<usize> = open
                .iter()
                .copied()
                .filter(|at| self.parents.get(*at).is_none_or(|all| all.iter().all(|parent| !open.contains(parent))))
                .collect();
            if done.is_empty() {
                break;
            }
            done.iter().for_each(|at| {
                open.remove(at);
            });
        }
        for at in open {
            let name = self.rows.get(at).map(|row| row.name.clone()).unwrap_or_default();
            let reason = format!("batch {name:?} descends from itself");
            let hint = "correct what it was split from, in one of these rows";
            self.issues.extend(self.issue(at, "parents_in_circle", reason, hint));
        }
    }

    /// Plants that each row gave to parts of it, column by column.
    fn given(&mut self) -> Vec<Vec<u64>> {
        let width = self.options.steps.len();
        let mut given = vec![vec![0; width]; self.rows.len()];
        let mut merged = Vec::new();
        for (at, (row, parents)) in self.rows.iter().zip(&self.parents).enumerate() {
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
        given
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
    fn roots(&self) -> Vec<usize> {
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

    /// One batch of all these rows.
    fn batch(&mut self, members: &[usize], given: &[Vec<u64>]) -> Option<StepsBatch> {
        let rows: Vec<&Row> = members.iter().filter_map(|at| self.rows.get(*at)).collect();
        let origins: Vec<&Row> = rows.iter().copied().filter(|row| row.parents.is_empty()).collect();
        let first = origins.first().or(rows.first()).copied()?;
        let unlike = self.options.levels().into_iter().enumerate().find_map(|(at, (_, column))| {
            let label = |row: &&&Row| row.labels.get(at).cloned().flatten();
            let other = origins.iter().find(|row| label(row) != first.labels.get(at).cloned().flatten())?;
            Some((*other, column.to_owned()))
        });
        if let Some((other, column)) = unlike {
            let reason = format!("{:?} and {:?} were merged and differ in {column:?}", first.name, other.name);
            let hint = "keep such batches apart in the record, or load without that column";
            let issue = Issue::of_input("batch_of_two_kinds", reason, hint).at_row(other.row).in_column(&column);
            self.issues.push(issue);
            return None;
        }
        let steps = (0..self.options.steps.len().saturating_sub(1)).map(|at| {
            let each = members.iter().filter_map(|place| Some((self.rows.get(*place)?, given.get(*place)?)));
            let passed = each.filter_map(|(row, given)| {
                let passed = row
                    .counts
                    .get(at + 1)
                    .copied()
                    .flatten()
                    .filter(|_| row.counts.get(at).is_some_and(Option::is_some))?;
                let gave = given.get(at).copied().unwrap_or_default();
                Some(Passed { reached: row.stayed(at).saturating_sub(gave), passed })
            });
            passed.reduce(|a, b| Passed { reached: a.reached + b.reached, passed: a.passed + b.passed })
        });
        let steps: Vec<Option<Passed>> = steps.collect();
        let states = (0..self.options.states.len())
            .map(|at| rows.iter().filter_map(|row| row.states.get(at).copied().flatten()).reduce(|a, b| a + b));
        let earliest = |at: usize| rows.iter().filter_map(|row| row.dates.get(at).copied().flatten()).min();
        let name = origins.iter().map(|row| row.name.as_str()).collect::<Vec<_>>().join(" + ");
        Some(StepsBatch {
            name: if name.is_empty() { first.name.clone() } else { name },
            row: first.row,
            started: origins.iter().map(|row| row.count(0)).sum(),
            steps,
            states: states.collect(),
            labels: first.labels.iter().map(|label| label.clone().unwrap_or_default()).collect(),
            dates: (0..self.options.steps.len()).map(earliest).collect(),
        })
    }
}
