//! Sheets as nurseries keep them: text cells with the row numbers a spreadsheet shows, brought to one row per tray before
//! anything is read as a number. Nothing here knows a reader or a frame but [`adapter`].

mod adapter;
mod dates;
mod fill;
mod grid;
mod header;
mod odd_rows;
mod percent;
mod rates;
mod separators;
mod side_by_side;
mod sum_rows;
mod totals;
mod trays;
mod wide;

pub(super) use adapter::{frame_of, sheet_of};
pub(super) use dates::{looks_like_a_date, marks_yes};
pub(super) use fill::is_ditto;
pub use grid::Lines;
pub(super) use grid::lines_of;
pub(super) use header::find_header;
pub(super) use odd_rows::{Held, odd_rows};
pub(super) use rates::{Share, percent_name, percent_values};
pub(super) use separators::{Marks, thousands_or_decimals};
pub(super) use sum_rows::{Counted, sum_rows};
pub(super) use totals::{label_word, means};
pub use wide::Wide;

use std::collections::{BTreeMap, HashSet};

use serde::{Deserialize, Serialize};

use crate::answer::Note;
use crate::error::Issue;
use crate::trial::LoadOptions;

/// Columns of text cells under their names; an empty cell is empty text.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Sheet {
    /// Column names.
    pub names: Vec<String>,
    /// One list of cells per name, all of one length.
    pub columns: Vec<Vec<String>>,
    /// The number of each row, as the spreadsheet shows it.
    pub numbers: Vec<u64>,
}

/// What shaping leaves for those who come later: the rows' numbers and what was found by itself.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Shaped {
    /// The number of each row of the frame, as the user sees it.
    pub rows: Vec<u64>,
    /// What was done to the sheet.
    pub notes: Vec<Note>,
    /// The number stuck that was said of every tray.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stuck_each: Option<u64>,
    /// The columns of the sheet that were named, before they were shaped.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub named: Vec<String>,
    /// The columns whose labels were joined to name a block, a whole plot or a stock plant, by role.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub joined: BTreeMap<String, Vec<String>>,
}

impl Sheet {
    /// The cells of a column.
    #[must_use]
    pub(super) fn column(&self, name: &str) -> Option<&[String]> {
        let at = self.names.iter().position(|known| known == name)?;
        self.columns.get(at).map(Vec::as_slice)
    }

    /// A name that no column has: the first of those wished for, else one with a number behind it.
    #[must_use]
    pub(super) fn free_name(&self, wished: &[&str]) -> String {
        let free = |name: &&&str| !self.names.iter().any(|known| known == **name);
        if let Some(name) = wished.iter().find(free) {
            return (*name).to_owned();
        }
        let first = wished.first().copied().unwrap_or("column");
        (2..=self.names.len() + 2)
            .map(|number| format!("{first} {number}"))
            .find(|name| !self.names.contains(name))
            .unwrap_or_default()
    }

    /// Adds a column.
    pub(super) fn add(&mut self, name: &str, cells: Vec<String>) {
        self.names.push(name.to_owned());
        self.columns.push(cells);
    }

    /// True when the row has no entry.
    #[must_use]
    pub(super) fn is_blank(&self, row: usize) -> bool {
        self.columns.iter().all(|column| column.get(row).is_none_or(|cell| cell.trim().is_empty()))
    }
}

/// The columns of a sheet under the names its header row gives them. What stands above that row is passed over, and said.
///
/// # Errors
/// Names that stand over two columns, rows longer than the header, and a sheet without entries.
pub(super) fn named(lines: Lines, options: &LoadOptions, notes: &mut Vec<Note>) -> Result<Sheet, Vec<Issue>> {
    let wanted: Vec<&str> = options.sheet_roles().into_iter().map(|(_, name)| name).collect();
    let header = header::header_of(&lines, &wanted, options.header_row)?;
    let names = lines.cells.get(header).map_or(&[][..], Vec::as_slice);
    let number = lines.numbers.get(header).copied().unwrap_or_default();
    let above = lines.cells.iter().take(header).any(|line| line.iter().any(|cell| !cell.trim().is_empty()));
    if above {
        let text = format!(
            "Row {number} was read as the row of column names; what stands above it is no part of the trial. header_row= names another."
        );
        notes.push(Note::new("header_row", text));
    }
    let width = names.iter().rposition(|name| !name.trim().is_empty()).map_or(0, |at| at + 1);
    let names: Vec<String> = names.iter().take(width).map(|name| name.trim().to_owned()).collect();
    let names = names_from_above(names, &lines, header, &wanted, notes);
    let mut issues = twins(&names, &wanted, number);
    let rest = || lines.cells.iter().zip(&lines.numbers).skip(header + 1);
    for (line, number) in rest() {
        let longer = line.iter().skip(width).any(|cell| !cell.trim().is_empty());
        if longer && !options.leave_out.contains(number) {
            let reason = format!("{} fields where the header has {width}", line.len());
            let hint = "quote text that holds the separator; with decimal commas separate the columns by semicolons";
            issues.push(
                Issue::of_input("too_many_fields", reason, hint)
                    .at_row(*number)
                    .pasted(&format!("leave_out=[{number}]")),
            );
        }
    }
    if !issues.is_empty() {
        return Err(issues);
    }
    let mut sheet = Sheet { numbers: rest().map(|(_, number)| *number).collect(), ..Sheet::default() };
    let mut seen = HashSet::with_capacity(width);
    for (at, name) in names.iter().enumerate() {
        // A name that nobody asks for may stand over several columns.
        let taken = name.is_empty() || !seen.insert(name.clone());
        let name = if taken { format!("column {}", at + 1) } else { name.clone() };
        if taken && (names.contains(&name) || !seen.insert(name.clone())) {
            continue;
        }
        sheet.add(&name, rest().map(|(line, _)| line.get(at).cloned().unwrap_or_default()).collect());
    }
    end_at_last_entry(&mut sheet);
    Ok(sheet)
}

/// Names that stand one or two rows higher, as over merged cells: a column without a name takes the wanted one above it.
fn names_from_above(
    mut names: Vec<String>,
    lines: &Lines,
    header: usize,
    wanted: &[&str],
    notes: &mut Vec<Note>,
) -> Vec<String> {
    for above in (0..header).rev().take(2) {
        let (Some(line), Some(number)) = (lines.cells.get(above), lines.numbers.get(above)) else { continue };
        for (at, cell) in line.iter().enumerate().take(names.len()) {
            let name = cell.trim();
            let free = wanted.contains(&name) && !names.iter().any(|known| known == name);
            if let Some(unnamed) = names.get_mut(at).filter(|known| known.is_empty() && free) {
                name.clone_into(unnamed);
                let text = format!("The name {name:?} was taken from row {number}, since no name stands below it.");
                notes.push(Note::new("header_row", text));
            }
        }
    }
    names
}

/// Wanted names that stand over two columns; a name nobody asks for may stand over as many as it likes.
fn twins(names: &[String], wanted: &[&str], number: u64) -> Vec<Issue> {
    let twice = |name: &&&str| names.iter().filter(|known| known.as_str() == **name).count() > 1;
    let issue = |name: &&str| {
        let reason = format!("the name {name:?} stands over two columns");
        Issue::of_input("duplicate_header", reason, "give each column its own name").in_column(name).at_row(number)
    };
    wanted.iter().filter(twice).map(issue).collect()
}

/// Blank rows after the last entry are no rows.
fn end_at_last_entry(sheet: &mut Sheet) {
    let end = (0..sheet.numbers.len()).rev().find(|row| !sheet.is_blank(*row)).map_or(0, |row| row + 1);
    sheet.numbers.truncate(end);
    for column in &mut sheet.columns {
        column.truncate(end);
    }
}

/// Brings a sheet to one row per tray with its counts, as the options ask, and returns the options that describe what came
/// out: they load the shaped sheet without shaping it again.
///
/// # Errors
/// The issues of cells and names that cannot be shaped.
pub(super) fn shape(sheet: &mut Sheet, options: &LoadOptions, notes: Vec<Note>) -> Result<LoadOptions, Vec<Issue>> {
    let mut options = options.clone();
    let missing = options.check_sheet_names(&sheet.names);
    if !missing.is_empty() {
        return Err(missing);
    }
    let plays_a_part = |(role, name): (&str, &str)| (role != "fill_down").then(|| name.to_owned());
    let named = options.sheet_roles().into_iter().filter_map(plays_a_part).collect();
    let mut notes = notes;
    fill::fill_down(sheet, &mut options, &mut notes)?;
    if let Some(wide) = options.wide.take() {
        let issues = side_by_side::contradicted(sheet, &options, &wide);
        if !issues.is_empty() {
            return Err(issues);
        }
        wide::lengthen(sheet, &mut options, &wide, &mut notes);
    }
    let stuck_each = options.stuck_each.take();
    if let Some(stuck) = stuck_each {
        trays::same_stuck(sheet, &mut options, stuck);
    }
    trays::name_trays(sheet, &mut options);
    let joined = trays::name_places(sheet, &mut options);
    if options.rooted_percent.is_some() {
        percent::to_counts(sheet, &mut options, &mut notes)?;
    }
    options.header_row = None;
    options.shaped = Some(Shaped { rows: sheet.numbers.clone(), notes, stuck_each, named, joined });
    Ok(options)
}
