//! Checks every line of the table and collects all issues; nothing is corrected or merged.

use rayon::prelude::*;

use crate::error::ChoiceError;
use crate::math::groups::{distinct, sorted};
use crate::trial::cell::{Cell, is_ambiguous_number, read_count};
use crate::trial::coding::Coded;
use crate::trial::columns::Factor;
use crate::trial::levels::{factor, look_alikes, reordered};
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
    /// Cuttings that died, per good line; empty where deaths are not recorded.
    pub dead: Vec<u64>,
    /// Treatments and design columns, coded over the good lines.
    pub factors: Vec<Factor>,
}

impl Checked {
    /// The treatment or design column of that name, taken out.
    pub fn take(&mut self, name: &str) -> Option<Factor> {
        let at = self.factors.iter().position(|factor| factor.name == name)?;
        Some(self.factors.swap_remove(at))
    }
}

pub(super) struct Checker<'a> {
    pub(super) table: &'a Table,
    pub(super) options: &'a LoadOptions,
    first_row: u64,
    issues: Vec<Issue>,
    usable: Vec<bool>,
    pub(super) counts: Vec<(u64, u64)>,
    pub(super) dead: Vec<u64>,
    factors: Vec<Factor>,
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
        dead: vec![0; if options.dead.is_some() { table.len() } else { 0 }],
        factors: Vec::new(),
    };
    checker.blank_rows();
    checker.outcomes();
    checker.deaths();
    checker.labels();
    checker.numbers();
    checker.trays();
    checker.levels();
    checker.finish()
}

impl<'a> Checker<'a> {
    pub(super) fn column(&self, name: &str) -> Option<&'a Coded> {
        self.table.column(name)
    }

    fn usable_lines(&self) -> Vec<usize> {
        (0..self.table.len()).filter(|line| self.is_usable(*line)).collect()
    }

    fn row(&self, line: usize) -> u64 {
        self.table.rows.get(line).copied().unwrap_or_default() as u64 + self.first_row
    }

    pub(super) fn is_usable(&self, line: usize) -> bool {
        self.usable.get(line).copied().unwrap_or(false)
    }

    pub(super) fn set_aside(&mut self, line: usize, issue: Issue) {
        let row = self.row(line);
        self.issues.push(issue.at_row(row));
        if let Some(usable) = self.usable.get_mut(line) {
            *usable = false;
        }
    }

    fn blank_rows(&mut self) {
        if self.table.columns.iter().any(|column| !column.has_missing()) {
            return;
        }
        for line in 0..self.table.len() {
            if self.is_blank(line) {
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
        let names = [self.options.rooted.as_str(), stuck];
        let counts = names.map(|name| self.column(name).map(|column| (column, read_counts(column))));
        for line in 0..self.table.len() {
            if !self.is_usable(line) {
                continue;
            }
            let mut read = [0_u64; 2];
            let mut issues = Vec::new();
            for ((name, value), counts) in names.into_iter().zip(&mut read).zip(&counts) {
                let Some((column, counts)) = counts else { continue };
                match column.code(line).and_then(|code| counts.get(code)) {
                    Some(Ok(count)) => *value = *count,
                    Some(Err(issue)) => issues.push(issue.clone().in_column(name)),
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
        let Some(column) = self.column(&name) else { return };
        if let Some(issue) = self.counts_without_stuck(&name, column) {
            self.issues.push(issue);
            self.usable.fill(false);
            return;
        }
        let judged: Vec<Option<bool>> = column.entries().iter().map(Cell::as_yes_no).collect();
        for line in 0..self.table.len() {
            if !self.is_usable(line) {
                continue;
            }
            let weight = self.weight(Some(&line));
            match (column.code(line).and_then(|code| judged.get(code)), column.get(line)) {
                (Some(Some(rooted)), _) => {
                    if let Some(counts) = self.counts.get_mut(line) {
                        *counts = (if *rooted { weight } else { 0 }, weight);
                    }
                }
                (_, Some(cell)) if !cell.is_missing() => {
                    let reason = format!("{:?} does not say whether the cutting rooted", cell.shown());
                    let issue = Issue::of_input("not_yes_no", reason, "use 1 or 0, true or false, yes or no");
                    self.set_aside(line, issue.in_column(&name).with_value(cell.shown()));
                }
                _ => {
                    let issue = Issue::of_input(
                        "missing_value",
                        "no value",
                        "enter whether the cutting rooted or remove the row",
                    );
                    self.set_aside(line, issue.in_column(&name).with_value(""));
                }
            }
        }
    }

    /// Numbers other than 0 and 1 all down the column: counts or percentages whose number stuck was not named.
    fn counts_without_stuck(&self, name: &str, column: &Coded) -> Option<Issue> {
        let number = |cell: &Cell| match cell {
            Cell::Text(text) => Cell::Text(text.trim_end().trim_end_matches('%').to_owned()).as_number(),
            other => other.as_number(),
        };
        let filled = || column.entries().iter().filter(|cell| !cell.is_missing());
        if !filled().all(|cell| number(cell).is_some()) || filled().all(|cell| cell.as_yes_no().is_some()) {
            return None;
        }
        let odd: Vec<bool> =
            column.entries().iter().map(|cell| !cell.is_missing() && cell.as_yes_no().is_none()).collect();
        let is_odd = |line: &usize| column.code(*line).and_then(|code| odd.get(code)) == Some(&true);
        let line = (0..self.table.len()).find(is_odd)?;
        let cell = column.get(line)?;
        let reason = format!("numbers such as {}, but no column with the number stuck was named", cell.shown());
        let hint =
            "name it with stuck=; a percentage alone cannot be analysed, since 3 of 4 and 75 of 100 are both 75 %";
        let issue = Issue::of_input("bare_percent_column", reason, hint);
        Some(issue.in_column(name).with_value(cell.shown()).at_row(self.row(line)))
    }

    fn labels(&mut self) {
        let outcome = [Some(self.options.rooted.as_str()), self.options.stuck.as_deref(), self.options.dead.as_deref()];
        let labels: Vec<(&str, &str)> =
            self.options.roles().into_iter().filter(|(_, name)| !outcome.contains(&Some(*name))).collect();
        for (role, name) in labels {
            let Some(column) = self.column(name).filter(|column| column.has_missing()) else { continue };
            for line in (0..self.table.len()).filter(|line| column.is_missing(*line)) {
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
        self.table.columns.iter().all(|column| column.is_missing(line))
    }

    fn numbers(&mut self) {
        if let Some(name) = self.options.strength_treatment() {
            self.each_entry(name, strength_issue);
        }
        for name in &self.options.covariates {
            self.each_entry(name, covariate_issue);
        }
    }

    /// Sets aside the lines of a column whose entry, not missing, has an issue.
    fn each_entry(&mut self, name: &str, judge: impl Fn(&Cell) -> Option<Issue>) {
        let Some(column) = self.column(name) else { return };
        let judge = |cell: &Cell| if cell.is_missing() { None } else { judge(cell) };
        let found: Vec<Option<Issue>> = column.entries().iter().map(judge).collect();
        if found.iter().all(Option::is_none) {
            return;
        }
        for line in 0..self.table.len() {
            let issue = column.code(line).and_then(|code| found.get(code));
            if let (Some(Some(issue)), Some(cell)) = (issue, column.get(line)) {
                self.set_aside(line, issue.clone().in_column(name).with_value(cell.shown()));
            }
        }
    }

    /// Codes treatments and design columns over the usable lines.
    fn code(&mut self, usable: &[usize]) {
        let names = self.options.labels();
        let coded = |name: &&str| {
            let found = factor(name, self.table.column(name)?, usable);
            Some(match self.options.level_order.get(*name) {
                Some(order) => reordered(found, order),
                None => found,
            })
        };
        self.factors = names.par_iter().filter_map(coded).collect();
    }

    fn coded(&self, name: &str) -> Option<&Factor> {
        self.factors.iter().find(|factor| factor.name == name)
    }

    /// Trays are told apart by season, block, whole plot and tray name; each has one treatment and, with counts, one row.
    fn trays(&mut self) {
        let usable = self.usable_lines();
        self.code(&usable);
        let options = self.options;
        let Some(tray) = options.tray.as_deref() else { return };
        let place = [&options.season, &options.block, &options.whole_plot, &options.tray];
        let place: Vec<&Factor> = place.into_iter().flatten().filter_map(|name| self.coded(name)).collect();
        let treatments: Vec<&Factor> = options.treatments.iter().filter_map(|name| self.coded(name)).collect();
        let kinds = distinct(&treatments.iter().map(|one| one.key()).collect::<Vec<_>>(), usable.len()).numbers;
        let members = sorted(&place.iter().map(|one| one.key()).collect::<Vec<_>>(), usable.len());
        let mut mixed: Vec<(String, Vec<Vec<String>>, Vec<usize>)> = Vec::new();
        let mut repeated: Vec<(String, Vec<usize>)> = Vec::new();
        for ats in members.groups() {
            let one_kind = ats.windows(2).all(|pair| match pair {
                [a, b] => kinds.get(*a) == kinds.get(*b),
                _ => true,
            });
            let twice = ats.len() > 1 || ats.iter().any(|at| self.weight(usable.get(*at)) > 1);
            if one_kind && !(twice && options.stuck.is_some()) {
                continue;
            }
            let lead = ats.first().copied().unwrap_or_default();
            let name = place.last().and_then(|one| one.label(lead)).unwrap_or_default().to_owned();
            let lines = ats.iter().filter_map(|at| usable.get(*at).copied()).collect();
            if one_kind {
                repeated.push((name, lines));
            } else {
                mixed.push((name, combinations(&treatments, ats), lines));
            }
        }
        let changed = !mixed.is_empty() || !repeated.is_empty();
        for (name, kinds, lines) in mixed {
            self.tray_under_two(tray, &name, &kinds, &lines);
        }
        for (name, lines) in repeated {
            self.repeated_tray(tray, &name, &lines);
        }
        if changed {
            self.code(&self.usable_lines());
        }
    }

    pub(super) fn weight(&self, line: Option<&usize>) -> u64 {
        line.and_then(|line| self.table.weights.get(*line)).copied().unwrap_or(1)
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
            [a, b] => self.table.columns.iter().all(|column| column.get(*a) == column.get(*b)),
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
        let factors = std::mem::take(&mut self.factors);
        for Factor { name, levels, numbers, .. } in &factors {
            let mut found = Vec::new();
            // Numbers that differ are no look-alikes.
            if !self.options.distinct_levels && numbers.is_none() {
                for set in look_alikes(levels) {
                    let shown: Vec<String> = set.iter().map(|level| format!("{level:?}")).collect();
                    let reason = format!("{} differ only by case or spaces", shown.join(" and "));
                    let hint =
                        "write them alike if they are the same; if they really differ, load with distinct_levels=True";
                    found.push(Issue::of_input("similar_levels", reason, hint).with_value(shown.join(", ")));
                }
            }
            if let (true, [only]) = (self.options.treatments.contains(name), levels.as_slice()) {
                let reason = format!("the treatment has the single level {only:?}");
                let hint = "there is nothing to compare; leave it out of treatments= or check that all rows are here";
                found.push(Issue::of_input("one_level", reason, hint).with_value(only.as_str()));
            }
            self.issues.extend(found.into_iter().map(|issue| issue.in_column(name).graded(Severity::Question)));
            self.issues.extend(self.declared_levels(name, levels).into_iter().map(|issue| issue.in_column(name)));
        }
        self.factors = factors;
    }

    /// A control that does not occur, and levels left out of a declared order.
    fn declared_levels(&self, name: &str, levels: &[String]) -> Vec<Issue> {
        let mut found = Vec::new();
        if let Some(control) = self.options.control.get(name).filter(|control| !levels.contains(control)) {
            let near = ChoiceError::new("level", control, levels).nearest;
            let near = near.map_or_else(String::new, |near| format!("did you mean {near:?}? "));
            let hint = format!("{near}The levels are {}", levels.join(", "));
            let reason = format!("the control {control:?} does not occur");
            found.push(Issue::of_input("unknown_control", reason, hint).with_value(control.as_str()));
        }
        let order = self.options.level_order.get(name);
        for level in levels.iter().filter(|level| order.is_some_and(|order| !order.contains(level))) {
            let reason = format!("level {level:?} has no place in level_order=");
            found.push(Issue::of_input("level_without_place", reason, "list every level").with_value(level.as_str()));
        }
        found
    }

    fn finish(mut self) -> Checked {
        if !self.issues.iter().any(|issue| issue.severity == Severity::Problem && issue.row.is_none())
            && self.table.len() == 0
        {
            let hint = "give one row per tray or per cutting below the header";
            self.issues.push(Issue::of_input("no_rows", "there are column names but no rows", hint));
        }
        self.issues.sort_by_key(|issue| issue.row);
        let good = self.usable_lines();
        let counts: Vec<(u64, u64)> = good.iter().filter_map(|line| self.counts.get(*line).copied()).collect();
        let (rooted, stuck) = counts.into_iter().unzip();
        let dead = good.iter().filter_map(|line| self.dead.get(*line).copied()).collect();
        Checked { issues: self.issues, good, rooted, stuck, dead, factors: self.factors }
    }
}

fn read_counts(column: &Coded) -> Vec<Result<u64, Issue>> {
    column.entries().iter().map(read_count).collect()
}

/// The combinations of levels at some lines, each once, in order.
fn combinations(factors: &[&Factor], lines: &[usize]) -> Vec<Vec<String>> {
    let codes = |line: &usize| -> Vec<u32> { factors.iter().filter_map(|one| one.codes.get(*line).copied()).collect() };
    let mut kinds: Vec<(Vec<u32>, usize)> = lines.iter().map(|line| (codes(line), *line)).collect();
    kinds.sort_unstable();
    kinds.dedup_by(|a, b| a.0 == b.0);
    let shown = |line: usize| factors.iter().filter_map(|one| one.label(line)).map(str::to_owned).collect();
    kinds.into_iter().map(|(_, line)| shown(line)).collect()
}

fn covariate_issue(cell: &Cell) -> Option<Issue> {
    if cell.as_number().is_some_and(f64::is_finite) {
        return None;
    }
    let reason = format!("{:?} is not a number, though the column is a covariate", cell.shown());
    Some(Issue::of_input("not_a_number", reason, "enter a number or remove the row"))
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
