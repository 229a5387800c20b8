//! What the checks of a table share: its lines, which of them can be used, and what was found.

use rayon::prelude::*;

use crate::answer::Note;
use crate::control::{Signal, checkpoint};
use crate::error::Issue;
use crate::trial::Listed;
use crate::trial::coding::Coded;
use crate::trial::columns::Factor;
use crate::trial::levels::{factor, reordered};
use crate::trial::responses::Entry;
use crate::trial::roles::{LoadOptions, Source};
use crate::trial::table::Table;
use crate::trial::unused::Unused;

/// Rows named as examples of a mistake.
const EXAMPLES: usize = 5;

pub(super) struct Checker<'a> {
    pub(super) table: &'a Table,
    pub(super) unused: &'a Unused,
    pub(super) options: &'a LoadOptions,
    source: Source,
    pub(super) issues: Vec<Issue>,
    pub(super) listed: Listed,
    pub(super) notes: Vec<Note>,
    pub(super) usable: Vec<bool>,
    /// Lines that are no trays: of these nothing else is said.
    pub(super) out: Vec<bool>,
    pub(super) counts: Vec<(u64, u64)>,
    pub(super) dead: Vec<u64>,
    /// What each line says of each response that was read.
    pub(super) responses: Vec<Vec<Entry>>,
    pub(super) factors: Vec<Factor>,
}

impl<'a> Checker<'a> {
    /// A checker that has looked at nothing yet.
    pub(super) fn new(table: &'a Table, unused: &'a Unused, options: &'a LoadOptions, source: Source) -> Self {
        Self {
            table,
            unused,
            options,
            source,
            issues: Vec::new(),
            listed: Listed::default(),
            notes: Vec::new(),
            usable: vec![true; table.len()],
            out: vec![false; table.len()],
            counts: vec![(0, 0); table.len()],
            dead: vec![0; if options.dead.is_some() { table.len() } else { 0 }],
            responses: Vec::new(),
            factors: Vec::new(),
        }
    }

    /// Every check asks for its columns first.
    pub(super) fn column(&self, name: &str) -> Option<&'a Coded> {
        checkpoint();
        self.table.column(name)
    }

    pub(super) fn usable_lines(&self) -> Vec<usize> {
        (0..self.table.len()).filter(|line| self.is_usable(*line)).collect()
    }

    pub(super) fn row(&self, line: usize) -> u64 {
        self.options.row_number(self.frame_row(line).unwrap_or_default(), self.source)
    }

    /// The rows of some lines as a message names them: the first by number, or how many where rows have no numbers.
    pub(super) fn in_rows(&self, lines: &[usize]) -> String {
        if self.source == Source::Engine {
            let all = lines.iter().fold(0_u64, |sum, line| sum.saturating_add(self.weight(Some(line))));
            return if all == 1 { "1 row".to_owned() } else { format!("{all} rows") };
        }
        let shown: Vec<String> = lines.iter().take(EXAMPLES).map(|line| self.row(*line).to_string()).collect();
        // A line that was counted from rows with numbers is named by its first row and stands for all of them.
        let of_rows = !self.options.row_numbers.is_empty();
        let rows = |line: &usize| if of_rows { self.weight(Some(line)) } else { 1 };
        let all = lines.iter().fold(0_u64, |sum, line| sum.saturating_add(rows(line)));
        let more = all.saturating_sub(shown.len() as u64);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        format!("rows {}{more}", shown.join(", "))
    }

    /// The row of the frame that a line stands for.
    pub(super) fn frame_row(&self, line: usize) -> Option<usize> {
        self.table.rows.get(line).copied()
    }

    pub(super) fn is_usable(&self, line: usize) -> bool {
        self.usable.get(line).copied().unwrap_or(false)
    }

    pub(super) fn set_aside(&mut self, line: usize, issue: Issue) {
        self.leave_entry(line, issue);
        if let Some(usable) = self.usable.get_mut(line) {
            *usable = false;
        }
    }

    /// Lists what is wrong with one entry of a line, which keeps its place in the take.
    pub(super) fn leave_entry(&mut self, line: usize, issue: Issue) {
        checkpoint();
        if self.listed.has_room_for(&issue, self.weight(Some(&line))) {
            let row = self.row(line);
            self.issues.push(issue.at_row(row));
        }
    }

    /// Sets aside a line that is no tray, of which nothing else is said.
    pub(super) fn not_a_tray(&mut self, line: usize, issue: Issue) {
        self.set_aside(line, issue);
        if let Some(out) = self.out.get_mut(line) {
            *out = true;
        }
    }

    /// Sets aside a tray that no row of the sheet holds, so that none is named.
    pub(super) fn not_in_sheet(&mut self, line: usize, issue: Issue) {
        if self.listed.has_room(&issue) {
            self.issues.push(issue);
        }
        for (marks, mark) in [(&mut self.usable, false), (&mut self.out, true)] {
            if let Some(slot) = marks.get_mut(line) {
                *slot = mark;
            }
        }
    }

    pub(super) fn is_out(&self, line: usize) -> bool {
        self.out.get(line) == Some(&true)
    }

    /// Codes treatments and design columns over the usable lines.
    pub(super) fn code(&mut self, usable: &[usize]) {
        let names = self.options.labels();
        let coded = |name: &&str| {
            let amount = self.options.treatments.iter().any(|treatment| treatment == name);
            let found = factor(name, self.table.column(name)?, usable, amount);
            Some(match self.options.level_order.get(*name) {
                Some(order) => reordered(found, order),
                None => found,
            })
        };
        let signal = Signal::here();
        self.factors = names.par_iter().filter_map(|name| signal.on(|| coded(name))).collect();
    }

    pub(super) fn coded(&self, name: &str) -> Option<&Factor> {
        self.factors.iter().find(|factor| factor.name == name)
    }

    pub(super) fn weight(&self, line: Option<&usize>) -> u64 {
        line.and_then(|line| self.table.weights.get(*line)).copied().unwrap_or(1)
    }
}
