//! Outcomes with one row per cutting: yes or no, and what shows that a column holds something else.

use crate::answer::Note;
use crate::error::Issue;
use crate::trial::cell::{Cell, read_count};
use crate::trial::checker::Checker;
use crate::trial::coding::Coded;
use crate::trial::sheet::marks_yes;

/// The code of words for yes and no beside a number stuck.
const YES_NO_WITH_STUCK: &str = "yes_no_with_stuck";

impl Checker<'_> {
    /// Reads yes and no; false when the column holds something else altogether.
    pub(super) fn yes_no(&mut self) -> bool {
        let name = self.options.rooted.clone();
        let Some(column) = self.column(&name) else { return true };
        if let Some(issue) = self.counts_without_stuck(&name, column) {
            self.issues.push(issue);
            return false;
        }
        let judged = self.judged(&name, column);
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
        true
    }

    /// Reads how many of the cuttings behind a line rooted.
    pub(super) fn tallied(&mut self) {
        let name = self.options.rooted.clone();
        let Some(column) = self.column(&name) else { return };
        let read: Vec<Result<u64, Issue>> = column.entries().iter().map(read_count).collect();
        for line in self.usable_lines() {
            let stuck = self.weight(Some(&line));
            match column.code(line).and_then(|code| read.get(code)) {
                Some(Ok(rooted)) if *rooted <= stuck => {
                    self.counts.get_mut(line).into_iter().for_each(|counts| *counts = (*rooted, stuck));
                }
                Some(Ok(rooted)) => {
                    let reason = format!("{rooted} rooted of {stuck} that the row stands for");
                    let issue = Issue::of_input("rooted_above_stuck", reason, "correct one of the two");
                    self.set_aside(line, issue.in_column(&name).with_value(rooted.to_string()));
                }
                Some(Err(issue)) => self.set_aside(line, issue.clone().in_column(&name)),
                None => {}
            }
        }
    }

    /// Yes or no for each entry. Where crosses stand beside blanks and nothing else, a blank says no, which is told.
    fn judged(&mut self, name: &str, column: &Coded) -> Vec<Option<bool>> {
        let cross = |cell: &Cell| matches!(cell, Cell::Text(text) if marks_yes(text));
        let mut filled = column.entries().iter().filter(|cell| !cell.is_missing()).peekable();
        if filled.peek().is_none() || !filled.all(cross) {
            return column.entries().iter().map(Cell::as_yes_no).collect();
        }
        let text = format!("{name}: a cross was read as rooted and a blank as not rooted.");
        self.notes.push(Note::new("crosses", text));
        column.entries().iter().map(|cell| Some(cross(cell))).collect()
    }

    /// Numbers other than 0 and 1 all down the column: counts or percentages whose number stuck was not named.
    fn counts_without_stuck(&self, name: &str, column: &Coded) -> Option<Issue> {
        let filled = || column.entries().iter().filter(|cell| !cell.is_missing());
        if !filled().all(|cell| cell.as_share().is_some()) || filled().all(|cell| cell.as_yes_no().is_some()) {
            return None;
        }
        let odd: Vec<bool> =
            column.entries().iter().map(|cell| !cell.is_missing() && cell.as_yes_no().is_none()).collect();
        let is_odd = |line: &usize| column.code(*line).and_then(|code| odd.get(code)) == Some(&true);
        let line = (0..self.table.len()).find(is_odd)?;
        let cell = column.get(line)?;
        let reason = format!("numbers such as {}, but no column with the number stuck was named", cell.shown());
        let percent = "a percentage alone cannot be analysed, since 3 of 4 and 75 of 100 are both 75 %";
        let issue = |hint: String| {
            let issue = Issue::of_input("bare_percent_column", reason.clone(), hint);
            issue.in_column(name).with_value(cell.shown()).at_row(self.row(line))
        };
        let counts =
            self.usable_lines().into_iter().filter_map(|line| Some((column.get(line)?, self.frame_row(line)?)));
        Some(match self.unused.stuck_for(name, counts) {
            Some(stuck) => {
                let paste = format!("stuck={stuck:?}");
                issue(format!("the column {stuck:?} may hold it, {paste}; {percent}")).pasted(&paste)
            }
            None => issue(format!("name it with stuck=; {percent}")),
        })
    }

    /// True where each row holds the counts of a tray.
    pub(super) fn counts_trays(&self) -> bool {
        self.options.stuck.is_some() && self.issues.iter().all(|issue| issue.code != YES_NO_WITH_STUCK)
    }

    /// Words for yes and no beside a number stuck: one row per cutting. True where that is asked about.
    pub(super) fn yes_no_with_stuck(&mut self) -> bool {
        let name = self.options.rooted.clone();
        let Some(column) = self.column(&name) else { return false };
        let mut filled = column.entries().iter().filter(|cell| !cell.is_missing()).peekable();
        let Some(first) = filled.peek().map(|cell| cell.shown()) else { return false };
        if !filled.all(|cell| cell.as_number().is_none() && cell.as_yes_no().is_some()) {
            return false;
        }
        let reason =
            format!("entries such as {first:?} say yes or no, which is one row per cutting, and stuck= is given");
        let hint = "leave stuck= out, as stuck=None does";
        self.issues.push(Issue::of_input("yes_no_with_stuck", reason, hint).in_column(&name).pasted("stuck=None"));
        true
    }
}
