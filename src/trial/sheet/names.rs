//! The columns of a sheet under the names that its header row gives them.

use std::collections::HashSet;

use super::cells::Sheet;
use super::grid::Lines;
use super::header::header_of;
use crate::answer::Note;
use crate::error::Issue;
use crate::trial::roles::LoadOptions;

/// The columns of a sheet under the names its header row gives them. What stands above that row is passed over, and said.
///
/// # Errors
/// Names that stand over two columns, rows longer than the header, and a sheet without entries.
pub(in crate::trial) fn named(lines: Lines, options: &LoadOptions, notes: &mut Vec<Note>) -> Result<Sheet, Vec<Issue>> {
    let wanted: Vec<&str> = options.sheet_roles().into_iter().map(|(_, name)| name).collect();
    let header = header_of(&lines, &wanted, options.header_row)?;
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
