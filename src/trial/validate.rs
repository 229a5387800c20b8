//! Checks every line of the table and collects all issues; nothing is corrected or merged.

use crate::answer::Note;
use crate::error::ChoiceError;
use crate::error::{Issue, Severity};
use crate::trial::alike::similar_levels;
use crate::trial::cell::{Cell, is_ambiguous_number, read_count};
use crate::trial::checker::Checker;
use crate::trial::coding::Coded;
use crate::trial::columns::Factor;
use crate::trial::named::{odd_order, too_long};
use crate::trial::responses::Entry;
use crate::trial::roles::{LoadOptions, Source};
use crate::trial::suspects::Derived;
use crate::trial::table::Table;
use crate::trial::unused::Unused;

/// The outcome of all checks.
#[derive(Debug, Clone, Default)]
pub(super) struct Checked {
    /// Every issue, in row order, whole columns first.
    pub issues: Vec<Issue>,
    /// What was found by itself and is only told.
    pub notes: Vec<Note>,
    /// Lines of the table that can be used.
    pub good: Vec<usize>,
    /// Cuttings rooted, per good line.
    pub rooted: Vec<u64>,
    /// Cuttings stuck, per good line.
    pub stuck: Vec<u64>,
    /// Cuttings that died, per good line; empty where deaths are not recorded.
    pub dead: Vec<u64>,
    /// What each good line says of each response.
    pub responses: Vec<Vec<Entry>>,
    /// Treatments and design columns, coded over the good lines.
    pub factors: Vec<Factor>,
}

impl Checked {
    /// The treatment or design column of that name, taken out.
    pub(super) fn take(&mut self, name: &str) -> Option<Factor> {
        let at = self.factors.iter().position(|factor| factor.name == name)?;
        Some(self.factors.swap_remove(at))
    }
}

/// Runs all checks.
#[must_use]
pub(crate) fn check(table: &Table, unused: &Unused, options: &LoadOptions, source: Source) -> Checked {
    check_rows(table, unused, options, source, &Vec::new())
}

/// Runs all checks on a table with one line per row, some of which are worked out from those above.
#[must_use]
pub(crate) fn check_rows(
    table: &Table,
    unused: &Unused,
    options: &LoadOptions,
    source: Source,
    derived: &Derived,
) -> Checked {
    let mut checker = Checker::new(table, unused, options, source);
    checker.blank_rows();
    checker.uncounted();
    checker.left_out();
    checker.totals(derived);
    checker.dittos();
    checker.number_marks();
    if checker.outcomes() {
        checker.deaths();
        checker.responses();
    }
    checker.labels();
    checker.numbers();
    checker.dates();
    checker.trays();
    checker.levels();
    checker.finish()
}

impl<'a> Checker<'a> {
    fn blank_rows(&mut self) {
        if self.table.columns.iter().any(|column| !column.has_missing()) {
            return;
        }
        let end = (0..self.table.len()).rev().find(|line| !self.is_blank(*line)).map_or(0, |line| line + 1);
        let hint = "nothing to do if the row is meant to be blank";
        for line in (0..end).filter(|line| self.is_blank(*line)).collect::<Vec<_>>() {
            let issue = Issue::of_input("blank_row", "every named column is empty", hint);
            self.not_a_tray(line, issue.graded(Severity::Information));
        }
        if end < self.table.len() {
            let more = self.table.len() - end - 1;
            let last = self.row(self.table.len() - 1);
            let reason = match more {
                0 => "every named column is empty".to_owned(),
                _ => format!("every named column is empty from here to row {last}"),
            };
            let first = self.row(end);
            let issue = Issue::of_input("blank_row", reason, hint).at_row(first).graded(Severity::Information);
            self.issues.push(issue);
            for flags in [&mut self.usable, &mut self.out] {
                let usable = flags.get(end) == Some(&true);
                flags.iter_mut().skip(end).for_each(|flag| *flag = !usable);
            }
        }
    }

    /// Lines that do not say how many rows they stand for.
    fn uncounted(&mut self) {
        for (line, issue) in &self.table.uncounted {
            if !self.is_out(*line) {
                self.set_aside(*line, issue.clone());
            }
        }
    }

    /// Reads rooted and stuck; false when the columns hold something else altogether.
    fn outcomes(&mut self) -> bool {
        match self.options.stuck.as_deref() {
            Some(stuck) if self.yes_no_with_stuck() || self.percentages(stuck) || self.swapped(stuck) => false,
            Some(stuck) => {
                self.tray_counts(stuck);
                true
            }
            None => self.yes_no(),
        }
    }

    fn tray_counts(&mut self, stuck: &str) {
        let names = [self.options.rooted.as_str(), stuck];
        let counts = names.map(|name| self.column(name).map(|column| (column, read_counts(column))));
        let reasons = self.reasons(&counts);
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
                    Some(Err(issue)) => {
                        let issue = issue.clone().in_column(name);
                        issues.push(if issue.code == "missing_value" { said(issue, reasons) } else { issue });
                    }
                    None => {}
                }
            }
            let [rooted, set] = read;
            if issues.is_empty() {
                issues.extend(
                    self.impossible(rooted, set, stuck).map(|one| if set == 0 { said(one, reasons) } else { one }),
                );
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

    /// The column that says why nothing was counted where nothing was, if nobody named it.
    fn reasons(&self, counts: &[Option<ReadColumn<'_>>; 2]) -> Option<&'a str> {
        if self.options.lost.is_some() {
            return None;
        }
        let nothing = |line: &usize| {
            counts.iter().flatten().zip([false, true]).any(|((column, counts), of_stuck)| {
                match column.code(*line).and_then(|code| counts.get(code)) {
                    Some(Ok(count)) => of_stuck && *count == 0,
                    Some(Err(issue)) => issue.code == "missing_value",
                    None => false,
                }
            })
        };
        let lines = self.usable_lines();
        let rows: Vec<usize> = lines.into_iter().filter(nothing).filter_map(|line| self.frame_row(line)).collect();
        self.unused.reasons_for(&rows, self.table.len())
    }

    fn impossible(&self, rooted: u64, set: u64, stuck: &str) -> Option<Issue> {
        if set == 0 {
            let issue = Issue::of_input(
                "none_stuck",
                "0 cuttings stuck, so there is no rate",
                "correct the count or remove the row; where a column says why a tray was lost, name it with lost=",
            );
            return Some(issue.in_column(stuck).with_value("0"));
        }
        (rooted > set).then(|| {
            let reason = format!("{rooted} rooted of {set} stuck");
            let each = self.options.shaped.as_ref().and_then(|shaped| shaped.stuck_each);
            let hint = match each {
                Some(each) => format!("counts cannot exceed the number stuck; is stuck={each} right for every tray?"),
                None => "counts cannot exceed the number stuck; correct one of the two".to_owned(),
            };
            let issue = Issue::of_input("rooted_above_stuck", reason, hint);
            issue.in_column(&self.options.rooted).with_value(rooted.to_string())
        })
    }

    fn labels(&mut self) {
        let options = self.options;
        let outcome = [
            Some(&options.rooted),
            options.stuck.as_ref(),
            options.dead.as_ref(),
            options.lost.as_ref(),
            options.times.as_ref(),
        ];
        let labels: Vec<(&str, &str)> = self
            .options
            .roles()
            .into_iter()
            .filter(|(role, name)| {
                !matches!(*role, "responses" | "means_of") && !outcome.iter().flatten().any(|one| one == name)
            })
            .collect();
        for (role, name) in labels {
            let Some(column) = self.column(name).filter(|column| column.has_missing()) else { continue };
            let missing = |line: &usize| column.is_missing(*line) && !self.is_out(*line);
            let lines: Vec<usize> = (0..self.table.len()).filter(missing).collect();
            // A value that holds for the rows below it, as merged cells have it.
            let merged = role != "tray" && role != "covariates" && lines.len() >= 2 && !column.is_missing(0);
            for line in lines {
                let reason = format!("no value, though the column is named as {role}");
                let issue = if merged {
                    let paste = format!("fill_down=[{name:?}]");
                    let hint = format!(
                        "enter it; where the entry above holds for the rows below, as in merged cells, {paste} fills them"
                    );
                    Issue::of_input("missing_value", reason, hint).pasted(&paste)
                } else {
                    let paste = format!("leave_out=[{}]", self.row(line));
                    Issue::of_input("missing_value", reason, "enter it or remove the row").pasted(&paste)
                };
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
            let issue = column.code(line).filter(|_| !self.is_out(line)).and_then(|code| found.get(code));
            if let (Some(Some(issue)), Some(cell)) = (issue, column.get(line)) {
                self.set_aside(line, issue.clone().in_column(name).with_value(cell.shown()));
            }
        }
    }

    fn levels(&mut self) {
        // Where no row can be used there are no levels to judge.
        if self.factors.iter().all(|factor| factor.codes.is_empty()) {
            return;
        }
        let factors = std::mem::take(&mut self.factors);
        for Factor { name, levels, numbers, .. } in &factors {
            let mut found = Vec::new();
            if !self.options.distinct_levels {
                found.extend(similar_levels(levels, numbers.as_deref()));
            }
            if let Some(issue) = too_long(name, levels) {
                self.issues.push(issue);
            }
            let judged = self.options.treatments.contains(name) && !self.options.has_checked("one_level");
            if let (true, [only], false) = (judged, levels.as_slice(), self.loses_levels(name)) {
                let reason = format!("the treatment has the single level {only:?}");
                let hint = "there is nothing to compare; leave it out of treatments= or check that all rows are here";
                found.push(
                    Issue::of_input("one_level", reason, hint)
                        .with_value(only.as_str())
                        .pasted("checked=[\"one_level\"]"),
                );
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
            let paste =
                format!("control={{{name:?}: {:?}}}", near.as_ref().or(levels.first()).map_or("", String::as_str));
            let near = near.map_or_else(String::new, |near| format!("did you mean {near:?}? "));
            let hint = format!("{near}The levels are {}", some_of(levels));
            let reason = format!("the control {control:?} does not occur");
            found.push(Issue::of_input("unknown_control", reason, hint).with_value(control.as_str()).pasted(&paste));
        }
        let order = self.options.level_order.get(name);
        found.extend(order.and_then(|order| odd_order(self.options, (name, levels), order)));
        for level in levels.iter().filter(|level| order.is_some_and(|order| !order.contains(level))) {
            let reason = format!("level {level:?} has no place in level_order=");
            let quoted: Vec<String> = levels.iter().map(|level| format!("{level:?}")).collect();
            let paste = format!("level_order={{{name:?}: [{}]}}", quoted.join(", "));
            let issue = Issue::of_input("level_without_place", reason, "list every level").with_value(level.as_str());
            found.push(issue.pasted(&paste));
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
        self.issues.extend(self.listed.beyond());
        self.issues.sort_by_key(|issue| issue.row);
        let good = self.usable_lines();
        let counts: Vec<(u64, u64)> = good.iter().filter_map(|line| self.counts.get(*line).copied()).collect();
        let (rooted, stuck) = counts.into_iter().unzip();
        let dead = good.iter().filter_map(|line| self.dead.get(*line).copied()).collect();
        let kept = |entries: &Vec<Entry>| good.iter().filter_map(|line| entries.get(*line).copied()).collect();
        let responses = self.responses.iter().map(kept).collect();
        Checked { issues: self.issues, notes: self.notes, good, rooted, stuck, dead, responses, factors: self.factors }
    }
}

/// Levels for a message, which a column of very many must not fill.
fn some_of(levels: &[String]) -> String {
    let shown = levels.iter().take(20).map(String::as_str).collect::<Vec<_>>().join(", ");
    let more = levels.len().saturating_sub(20);
    if more > 0 { format!("{shown} and {more} more") } else { shown }
}

/// A column of counts and what each of its entries is read as.
type ReadColumn<'a> = (&'a Coded, Vec<Result<u64, Issue>>);

/// The same issue, answered by the column that holds reasons.
fn said(issue: Issue, reasons: Option<&str>) -> Issue {
    let Some(name) = reasons else { return issue };
    let paste = format!("lost={name:?}");
    Issue { hint: format!("the column {name:?} seems to say why; {paste} lists such trays as lost"), ..issue }
        .pasted(&paste)
}

fn read_counts(column: &Coded) -> Vec<Result<u64, Issue>> {
    column.entries().iter().map(read_count).collect()
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
        Some(value) if value.is_finite() => None,
        None if is_ambiguous_number(&cell.shown()) => {
            let reason = format!("{:?} can be read as a thousand or as a decimal", cell.shown());
            let hint = "write it without the comma, or say which it is with thousands=\",\" or decimal=\",\"";
            Some(Issue::of_input("ambiguous_number", reason, hint).pasted("thousands=\",\""))
        }
        _ => {
            let reason = format!("{:?} is not a strength", cell.shown());
            Some(Issue::of_input(
                "text_in_strength",
                reason,
                "enter the number alone; the unit goes into Strength(unit=...)",
            ))
        }
    }
}
