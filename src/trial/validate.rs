//! Checks every line of the table and collects all issues; nothing is corrected or merged.

use std::collections::HashMap;

use crate::trial::cell::{Cell, is_ambiguous_number, read_count};
use crate::trial::columns::Factor;
use crate::trial::levels::{factor, look_alikes};
use crate::trial::roles::{LoadOptions, Source};
use crate::trial::table::Table;
use crate::trial::{Issue, Severity};

/// The outcome of all checks.
#[derive(Debug, Clone, Default)]
pub struct Checked {
    /// Every issue, in row order, whole columns first.
    pub issues: Vec<Issue>,
    /// Lines of the table that can be used.
    pub good: Vec<usize>,
    /// Cuttings rooted, per good line.
    pub rooted: Vec<u64>,
    /// Cuttings stuck, per good line.
    pub stuck: Vec<u64>,
}

struct Checker<'a> {
    table: &'a Table,
    options: &'a LoadOptions,
    first_row: u64,
    issues: Vec<Issue>,
    usable: Vec<bool>,
    counts: Vec<(u64, u64)>,
}

/// Runs all checks.
#[must_use]
pub fn check(table: &Table, options: &LoadOptions, source: Source) -> Checked {
    let mut checker = Checker {
        table,
        options,
        first_row: source.first_row(),
        issues: Vec::new(),
        usable: vec![true; table.len()],
        counts: vec![(0, 0); table.len()],
    };
    checker.blank_rows();
    checker.outcomes();
    checker.labels();
    checker.numbers();
    checker.trays();
    checker.levels();
    checker.finish()
}

impl Checker<'_> {
    fn column(&self, name: &str) -> &[Cell] {
        self.table.column(name).unwrap_or_default()
    }

    fn row(&self, line: usize) -> u64 {
        self.table.rows.get(line).copied().unwrap_or_default() + self.first_row
    }

    fn is_usable(&self, line: usize) -> bool {
        self.usable.get(line).copied().unwrap_or(false)
    }

    fn set_aside(&mut self, line: usize, issue: Issue) {
        let row = self.row(line);
        self.issues.push(issue.at_row(row));
        if let Some(usable) = self.usable.get_mut(line) {
            *usable = false;
        }
    }

    fn blank_rows(&mut self) {
        for line in 0..self.table.len() {
            let blank = self.table.columns.iter().all(|cells| cells.get(line).is_none_or(Cell::is_missing));
            if blank {
                let issue = Issue::of_input(
                    "blank_row",
                    "every named column is empty",
                    "nothing to do if the row is meant to be blank",
                );
                self.set_aside(line, issue.graded(Severity::Information));
            }
        }
    }

    fn outcomes(&mut self) {
        match self.options.stuck.as_deref() {
            Some(stuck) => self.tray_counts(stuck),
            None => self.yes_no(),
        }
    }

    fn tray_counts(&mut self, stuck: &str) {
        for line in 0..self.table.len() {
            if !self.is_usable(line) {
                continue;
            }
            let mut read = [0_u64; 2];
            let mut issues = Vec::new();
            for (name, value) in [self.options.rooted.as_str(), stuck].into_iter().zip(&mut read) {
                match self.column(name).get(line).map(read_count) {
                    Some(Ok(count)) => *value = count,
                    Some(Err(issue)) => issues.push(issue.in_column(name)),
                    None => {}
                }
            }
            let [rooted, set] = read;
            if issues.is_empty() {
                issues.extend(self.impossible(rooted, set, stuck));
            }
            for issue in issues {
                self.set_aside(line, issue);
            }
            let weight = self.table.weights.get(line).copied().unwrap_or(1);
            if let Some(counts) = self.counts.get_mut(line) {
                *counts = (rooted.saturating_mul(weight), set.saturating_mul(weight));
            }
        }
    }

    fn impossible(&self, rooted: u64, set: u64, stuck: &str) -> Option<Issue> {
        if set == 0 {
            let issue = Issue::of_input(
                "none_stuck",
                "0 cuttings stuck, so there is no rate",
                "correct the count or remove the row",
            );
            return Some(issue.in_column(stuck).with_value("0"));
        }
        (rooted > set).then(|| {
            let reason = format!("{rooted} rooted of {set} stuck");
            let issue = Issue::of_input(
                "rooted_above_stuck",
                reason,
                "counts cannot exceed the number stuck; correct one of the two",
            );
            issue.in_column(&self.options.rooted).with_value(rooted.to_string())
        })
    }

    fn yes_no(&mut self) {
        let name = self.options.rooted.clone();
        if let Some(issue) = self.counts_without_stuck(&name) {
            self.issues.push(issue);
            self.usable.fill(false);
            return;
        }
        for line in 0..self.table.len() {
            if !self.is_usable(line) {
                continue;
            }
            let Some(cell) = self.column(&name).get(line).cloned() else { continue };
            let weight = self.table.weights.get(line).copied().unwrap_or(1);
            match cell.as_yes_no() {
                Some(rooted) => {
                    if let Some(counts) = self.counts.get_mut(line) {
                        *counts = (if rooted { weight } else { 0 }, weight);
                    }
                }
                None if cell.is_missing() => {
                    let issue = Issue::of_input(
                        "missing_value",
                        "no value",
                        "enter whether the cutting rooted or remove the row",
                    );
                    self.set_aside(line, issue.in_column(&name).with_value(""));
                }
                None => {
                    let reason = format!("{:?} does not say whether the cutting rooted", cell.shown());
                    let issue = Issue::of_input("not_yes_no", reason, "use 1 or 0, true or false, yes or no");
                    self.set_aside(line, issue.in_column(&name).with_value(cell.shown()));
                }
            }
        }
    }

    /// Numbers other than 0 and 1 all down the column: counts or percentages whose number stuck was not named.
    fn counts_without_stuck(&self, name: &str) -> Option<Issue> {
        let filled: Vec<(usize, &Cell)> =
            self.column(name).iter().enumerate().filter(|(_, cell)| !cell.is_missing()).collect();
        let number = |cell: &Cell| match cell {
            Cell::Text(text) => Cell::Text(text.trim_end().trim_end_matches('%').to_owned()).as_number(),
            other => other.as_number(),
        };
        let all_numbers = filled.iter().all(|(_, cell)| number(cell).is_some());
        let (line, cell) = filled.iter().find(|(_, cell)| cell.as_yes_no().is_none())?;
        all_numbers.then(|| {
            let reason = format!("numbers such as {}, but no column with the number stuck was named", cell.shown());
            let hint =
                "name it with stuck=; a percentage alone cannot be analysed, since 3 of 4 and 75 of 100 are both 75 %";
            let row = self.row(*line);
            Issue::of_input("bare_percent_column", reason, hint).in_column(name).with_value(cell.shown()).at_row(row)
        })
    }

    fn labels(&mut self) {
        let outcome = [Some(self.options.rooted.as_str()), self.options.stuck.as_deref()];
        let labels: Vec<(&str, &str)> =
            self.options.roles().into_iter().filter(|(_, name)| !outcome.contains(&Some(*name))).collect();
        for (role, name) in labels {
            let missing: Vec<usize> = self
                .column(name)
                .iter()
                .enumerate()
                .filter(|(_, cell)| cell.is_missing())
                .map(|(line, _)| line)
                .collect();
            for line in missing {
                if self.is_blank(line) {
                    continue;
                }
                let reason = format!("no value, though the column is named as {role}");
                let issue = Issue::of_input("missing_value", reason, "enter it or remove the row");
                self.set_aside(line, issue.in_column(name).with_value(""));
            }
        }
    }

    fn is_blank(&self, line: usize) -> bool {
        self.table.columns.iter().all(|cells| cells.get(line).is_none_or(Cell::is_missing))
    }

    fn numbers(&mut self) {
        let strength = self.options.strength_treatment().map(str::to_owned);
        if let Some(name) = &strength {
            for line in 0..self.table.len() {
                let Some(cell) = self.column(name).get(line).cloned().filter(|cell| !cell.is_missing()) else {
                    continue;
                };
                if let Some(issue) = strength_issue(&cell) {
                    self.set_aside(line, issue.in_column(name).with_value(cell.shown()));
                }
            }
        }
        for name in &self.options.covariates {
            for line in 0..self.table.len() {
                let Some(cell) = self.column(name).get(line).cloned().filter(|cell| !cell.is_missing()) else {
                    continue;
                };
                if !cell.as_number().is_some_and(f64::is_finite) {
                    let reason = format!("{:?} is not a number, though the column is a covariate", cell.shown());
                    let issue = Issue::of_input("not_a_number", reason, "enter a number or remove the row");
                    self.set_aside(line, issue.in_column(name).with_value(cell.shown()));
                }
            }
        }
    }

    /// Codes of a column over the given lines, with its level names.
    fn coded(&self, name: &str, lines: &[usize]) -> Factor {
        let column = self.column(name);
        let cells: Vec<&Cell> = lines.iter().filter_map(|line| column.get(*line)).collect();
        factor(name, &cells)
    }

    /// Trays are told apart by season, block, whole plot and tray name; each has one treatment and, with counts, one row.
    fn trays(&mut self) {
        let Some(tray) = self.options.tray.clone() else { return };
        let options = self.options;
        let usable: Vec<usize> = (0..self.table.len()).filter(|line| self.is_usable(*line)).collect();
        let place = [&options.season, &options.block, &options.whole_plot, &options.tray];
        let place: Vec<Factor> = place.into_iter().flatten().map(|name| self.coded(name, &usable)).collect();
        let treatments: Vec<Factor> = options.treatments.iter().map(|name| self.coded(name, &usable)).collect();
        let codes = |factors: &[Factor], at: usize| -> Vec<u32> {
            factors.iter().filter_map(|one| one.codes.get(at).copied()).collect()
        };
        let mut members: HashMap<Vec<u32>, Vec<usize>> = HashMap::with_capacity(usable.len());
        for at in 0..usable.len() {
            members.entry(codes(&place, at)).or_default().push(at);
        }
        let mut members: Vec<(Vec<u32>, Vec<usize>)> = members.into_iter().collect();
        members.sort_unstable();
        for (key, ats) in members {
            let mut kinds: Vec<Vec<u32>> = ats.iter().map(|at| codes(&treatments, *at)).collect();
            kinds.sort_unstable();
            kinds.dedup();
            let lines: Vec<usize> = ats.iter().filter_map(|at| usable.get(*at).copied()).collect();
            let repeated = options.stuck.is_some()
                && (lines.len() > 1 || lines.iter().any(|line| self.table.weights.get(*line) > Some(&1)));
            let name = || {
                let levels = place.last().map(|one| one.levels.as_slice()).unwrap_or_default();
                key.last().and_then(|code| levels.get(*code as usize)).cloned().unwrap_or_default()
            };
            if kinds.len() > 1 {
                let shown = |codes: &Vec<u32>| -> Vec<String> {
                    treatments
                        .iter()
                        .zip(codes)
                        .filter_map(|(one, code)| one.levels.get(*code as usize).cloned())
                        .collect()
                };
                let kinds: Vec<Vec<String>> = kinds.iter().map(shown).collect();
                self.tray_under_two(&tray, &name(), &kinds, &lines);
            } else if repeated {
                self.repeated_tray(&tray, &name(), &lines);
            }
        }
    }

    fn tray_under_two(&mut self, column: &str, name: &str, kinds: &[Vec<String>], lines: &[usize]) {
        let shown: Vec<String> = kinds.iter().take(3).map(|kind| kind.join(" / ")).collect();
        let reason = format!("tray {name:?} appears under {} treatments ({})", kinds.len(), shown.join("; "));
        let hint = "a tray has one treatment; if trays are numbered afresh in each treatment or bench, give each its own name or name block= and whole_plot=";
        for line in lines {
            self.set_aside(
                *line,
                Issue::of_input("tray_in_two_treatments", reason.clone(), hint).in_column(column).with_value(name),
            );
        }
    }

    fn repeated_tray(&mut self, column: &str, name: &str, lines: &[usize]) {
        let rows: Vec<String> = lines.iter().map(|line| self.row(*line).to_string()).collect();
        let same = lines.windows(2).all(|pair| match pair {
            [a, b] => self.table.columns.iter().all(|cells| cells.get(*a) == cells.get(*b)),
            _ => true,
        });
        let reason = format!("tray {name:?} stands in rows {}", rows.join(", "));
        let hint = "keep one row per tray; a tray counted twice makes the trial look larger than it is";
        for line in lines.iter().skip(usize::from(same)) {
            self.set_aside(
                *line,
                Issue::of_input("duplicate_tray", reason.clone(), hint).in_column(column).with_value(name),
            );
        }
        // A set of identical rows in a grouped table: no row of its own to set aside, but the issue asks for the look by row.
        if lines.len() == 1 {
            self.issues.push(Issue::of_input("duplicate_tray", reason, hint).in_column(column).with_value(name));
        }
    }

    fn levels(&mut self) {
        let lines: Vec<usize> = (0..self.table.len()).filter(|line| self.is_usable(*line)).collect();
        let roles = self.options.roles();
        for (role, name) in roles.into_iter().filter(|(role, _)| !matches!(*role, "rooted" | "stuck" | "covariates")) {
            let cells: Vec<&Cell> = lines.iter().filter_map(|line| self.column(name).get(*line)).collect();
            let levels = factor(name, &cells).levels;
            let mut found = Vec::new();
            if !self.options.distinct_levels {
                for set in look_alikes(&levels) {
                    let shown: Vec<String> = set.iter().map(|level| format!("{level:?}")).collect();
                    let reason = format!("{} differ only by case or spaces", shown.join(" and "));
                    let hint =
                        "write them alike if they are the same; if they really differ, load with distinct_levels=True";
                    found.push(Issue::of_input("similar_levels", reason, hint).with_value(shown.join(", ")));
                }
            }
            if let ("treatments", [only]) = (role, levels.as_slice()) {
                let reason = format!("the treatment has the single level {only:?}");
                let hint = "there is nothing to compare; leave it out of treatments= or check that all rows are here";
                found.push(Issue::of_input("one_level", reason, hint).with_value(only.as_str()));
            }
            self.issues.extend(found.into_iter().map(|issue| issue.in_column(name).graded(Severity::Question)));
        }
    }

    fn finish(mut self) -> Checked {
        if !self.issues.iter().any(|issue| issue.severity == Severity::Problem && issue.row.is_none())
            && self.table.len() == 0
        {
            let hint = "give one row per tray or per cutting below the header";
            self.issues.push(Issue::of_input("no_rows", "there are column names but no rows", hint));
        }
        self.issues.sort_by_key(|issue| issue.row);
        let good: Vec<usize> = (0..self.table.len()).filter(|line| self.is_usable(*line)).collect();
        let counts: Vec<(u64, u64)> = good.iter().filter_map(|line| self.counts.get(*line).copied()).collect();
        let (rooted, stuck) = counts.into_iter().unzip();
        Checked { issues: self.issues, good, rooted, stuck }
    }
}

fn strength_issue(cell: &Cell) -> Option<Issue> {
    match cell.as_number() {
        Some(value) if value < 0.0 => {
            let reason = format!("strength {} is negative", cell.shown());
            Some(Issue::of_input("negative_strength", reason, "a strength is 0 or more; correct the entry"))
        }
        Some(_) => None,
        None if is_ambiguous_number(&cell.shown()) => {
            let reason = format!("{:?} can be read as a thousand or as a decimal", cell.shown());
            Some(Issue::of_input("ambiguous_number", reason, "write it without the comma"))
        }
        None => {
            let reason = format!("{:?} is not a strength", cell.shown());
            Some(Issue::of_input(
                "text_in_strength",
                reason,
                "enter the number alone; the unit goes into Strength(unit=...)",
            ))
        }
    }
}
