//! Trays and places that the sheet names otherwise: one per row, numbered afresh within others, or all of one size.

use std::collections::BTreeMap;

use super::cells::Sheet;
use crate::trial::LoadOptions;

/// A column with the same number stuck in every row that has an entry.
pub(super) fn same_stuck(sheet: &mut Sheet, options: &mut LoadOptions, stuck: u64) {
    let name = sheet.free_name(&["stuck", "stuck in each"]);
    let cell = |row: usize| if sheet.is_blank(row) { String::new() } else { stuck.to_string() };
    let cells = (0..sheet.numbers.len()).map(cell).collect();
    sheet.add(&name, cells);
    options.stuck = Some(name);
}

/// A column of tray names where every row is a tray, or where a name holds only within other columns.
pub(super) fn name_trays(sheet: &mut Sheet, options: &mut LoadOptions) {
    let within = std::mem::take(&mut options.tray_within);
    if options.tray_each_row {
        options.tray_each_row = false;
        let name = sheet.free_name(&["tray", "row"]);
        let mut cells: Vec<String> = Vec::with_capacity(sheet.numbers.len());
        let mut before: Option<(u64, u64)> = None;
        for (row, number) in sheet.numbers.iter().enumerate() {
            let times = before.filter(|(last, _)| last == number).map_or(1, |(_, times)| times + 1);
            before = Some((*number, times));
            let blank = sheet.is_blank(row);
            // Several trays of one row of a wide sheet.
            let label = if times > 1 { format!("row {number}, {times}") } else { format!("row {number}") };
            cells.push(if blank { String::new() } else { label });
        }
        sheet.add(&name, cells);
        options.tray = Some(name);
    } else if !within.is_empty() {
        let name = sheet.free_name(&["tray", &within.join(" / ")]);
        let cells = joined(sheet, &within, &options.treatments);
        sheet.add(&name, cells);
        options.tray = Some(name);
    }
}

/// Columns of block, whole plot and stock plant labels that hold only within other columns; returns what was joined, by role.
pub(super) fn name_places(sheet: &mut Sheet, options: &mut LoadOptions) -> BTreeMap<String, Vec<String>> {
    let given = std::mem::take(&mut options.labels_within);
    for (role, columns) in &given {
        let Some((own, outer)) = columns.split_last() else { continue };
        let name = sheet.free_name(&[&format!("{own} within {}", outer.join(" and "))]);
        let cells = joined(sheet, columns, &options.treatments);
        sheet.add(&name, cells);
        match role.as_str() {
            "whole_plot" => options.whole_plot = Some(name),
            "stock_plant" => options.stock_plant = Some(name),
            _ => options.block = Some(name),
        }
    }
    given
}

/// The labels of several columns as one, blank where one of them is. A treatment's numbers are written one way, so that 2500 and 2500.0
/// are one place.
fn joined(sheet: &Sheet, names: &[String], treatments: &[String]) -> Vec<String> {
    let columns: Vec<(bool, &[String])> =
        names.iter().filter_map(|name| Some((treatments.contains(name), sheet.column(name)?))).collect();
    let part = |(amount, cells): &(bool, &[String]), row: usize| -> Option<String> {
        let cell = cells.get(row).map(|cell| cell.trim()).filter(|cell| !cell.is_empty())?;
        let number = cell.parse::<f64>().ok().filter(|value| *amount && value.is_finite());
        Some(number.map_or_else(|| cell.to_owned(), |value| (value + 0.0).to_string()))
    };
    let cell = |row: usize| columns.iter().map(|one| part(one, row)).collect::<Option<Vec<String>>>();
    (0..sheet.numbers.len()).map(|row| cell(row).map_or_else(String::new, |parts| parts.join(" / "))).collect()
}
