//! The cells of responses beside what rooted: nothing is 0 where a cutting rooted, and nothing is measured where none did.

use crate::answer::Note;
use crate::error::{Issue, Severity};
use crate::report::whole;
use crate::trial::cell::read_count;
use crate::trial::checker::Checker;
use crate::trial::coding::Coded;
use crate::trial::responses::entry::read;
use crate::trial::responses::{Entry, Response, ResponseKind};

/// A column that says how many cuttings each mean is of, its name, and what its entries are read as.
type Numbers<'a> = (&'a str, &'a Coded, Vec<Result<u64, Issue>>);

/// A column of a response, and what each of its entries is read as.
struct Column<'a> {
    response: &'a Response,
    cells: &'a Coded,
    read: Vec<Result<Option<f64>, Issue>>,
    /// How many cuttings each mean is of.
    numbers: Option<Numbers<'a>>,
}

impl Checker<'_> {
    /// Reads the responses that were declared.
    pub(in crate::trial) fn responses(&mut self) {
        let options = self.options;
        for response in &options.responses {
            let Some(cells) = self.column(&response.column) else { continue };
            let numbers = response.means_of.as_deref().and_then(|name| {
                let cells = self.column(name)?;
                Some((name, cells, cells.entries().iter().map(read_count).collect()))
            });
            let read = cells.entries().iter().map(|cell| read(cell, response)).collect();
            let column = Column { response, cells, read, numbers };
            let mut entries = vec![Entry::default(); self.table.len()];
            let mut blanks = 0_u64;
            for (line, entry) in entries.iter_mut().enumerate() {
                if self.is_usable(line) {
                    *entry = self.entry(&column, line, &mut blanks);
                }
            }
            if blanks > 0 {
                let text = format!(
                    "{}: {} of cuttings that did not root {} as 0.",
                    response.column,
                    whole(blanks, "blank", "blanks"),
                    if blanks == 1 { "counts" } else { "count" }
                );
                self.notes.push(Note::new("blank_is_zero", text));
            }
            self.responses.push(entries);
        }
    }

    /// What a line says of a response; what is wrong with it is listed.
    fn entry(&mut self, column: &Column<'_>, line: usize, blanks: &mut u64) -> Entry {
        let name = &column.response.column;
        let value = match column.cells.code(line).and_then(|code| column.read.get(code)) {
            Some(Ok(value)) => *value,
            Some(Err(issue)) => {
                // The cutting keeps its place in the take.
                self.leave_entry(line, issue.clone().in_column(name));
                return Entry::default();
            }
            None => return Entry::default(),
        };
        let (rooted, stuck) = self.counts.get(line).copied().unwrap_or_default();
        if column.numbers.is_some() {
            return self.mean(column, line, value, rooted).unwrap_or_default();
        }
        if column.response.is_of_all() {
            let unrooted_blank = value.is_none() && rooted == 0 && column.response.lowest == Some(0);
            *blanks += if unrooted_blank { stuck } else { 0 };
            let value = if unrooted_blank { Some(0.0) } else { value };
            return match value {
                Some(value) => Entry { value, times: stuck },
                None => self.unmeasured(line, name),
            };
        }
        match value {
            Some(value) if rooted == 0 && value > 0.0 => {
                let reason = format!("{value} where the cutting did not root");
                let hint = "only rooted cuttings are measured; correct this entry or the one that says it did not root";
                let issue = Issue::of_input("measured_unrooted", reason, hint).with_value(value.to_string());
                self.set_aside(line, issue.in_column(name));
                Entry::default()
            }
            Some(value) if rooted > 0 && value == 0.0 && column.response.kind != ResponseKind::Mass => {
                let reason = "0 where the cutting rooted";
                let hint = "a rooted cutting has at least one root; correct this entry or the one that says it rooted, and leave what was not measured blank";
                let issue = Issue::of_input("zero_of_rooted", reason, hint).with_value("0");
                self.set_aside(line, issue.in_column(name));
                Entry::default()
            }
            Some(value) => Entry { value, times: rooted },
            None if rooted > 0 => self.unmeasured(line, name),
            None => Entry::default(),
        }
    }

    /// The mean of a tray, with how many cuttings it is of.
    fn mean(&mut self, column: &Column<'_>, line: usize, value: Option<f64>, rooted: u64) -> Option<Entry> {
        let (numbered, cells, read) = column.numbers.as_ref()?;
        let name = &column.response.column;
        let number = match cells.code(line).and_then(|code| read.get(code))? {
            Ok(number) => *number,
            Err(issue) if issue.code == "missing_value" && value.is_none() => 0,
            Err(issue) => {
                self.leave_entry(line, issue.clone().in_column(numbered));
                return None;
            }
        };
        let issue = |code: &str, reason: String, hint: &str| Issue::of_input(code, reason, hint).in_column(name);
        let count = column.response.kind == ResponseKind::Count;
        let wrong = match value {
            _ if number > rooted => {
                let reason = format!("a mean of {number} cuttings, where {rooted} rooted");
                issue("more_measured_than_rooted", reason, "only rooted cuttings are measured; correct one of the two")
                    .with_value(number.to_string())
            }
            None if number > 0 => {
                let reason = format!("no mean, where {numbered:?} says {number} cuttings");
                issue("missing_mean", reason, "enter the mean, or 0 cuttings where none was measured").with_value("")
            }
            None if rooted > 0 => return Some(self.unmeasured(line, name)),
            None => return None,
            Some(value) if number == 0 && value > 0.0 => {
                let reason = format!("a mean of {value}, where {numbered:?} says 0 cuttings");
                issue("mean_of_none", reason, "enter how many cuttings it is of, or leave it blank")
                    .with_value(value.to_string())
            }
            Some(_) if number == 0 => return None,
            Some(value) if count && value < 1.0 => {
                let reason = format!("a mean of {value}, where each rooted cutting has 1 or more");
                let hint =
                    "means are over rooted cuttings; divide the total by how many rooted, not by how many were stuck";
                issue("mean_below_one", reason, hint).with_value(value.to_string())
            }
            Some(value) => return Some(Entry { value, times: number }),
        };
        self.leave_entry(line, wrong);
        None
    }

    /// Asks about a cutting that was not measured though it could have been.
    fn unmeasured(&mut self, line: usize, name: &str) -> Entry {
        if !self.options.has_checked("unmeasured") {
            let hint = "enter it; where some were left out on purpose, checked=[\"unmeasured\"] says so, and they keep their place in the take";
            let issue = Issue::of_input("unmeasured", "no value, though the cutting rooted", hint)
                .in_column(name)
                .with_value("")
                .pasted("checked=[\"unmeasured\"]");
            self.leave_entry(line, issue.graded(Severity::Question));
        }
        Entry::default()
    }
}
