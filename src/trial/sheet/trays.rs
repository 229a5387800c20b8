//! Trays that the sheet names otherwise: one per row, numbered afresh within each treatment, or all of one size.

use super::Sheet;
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
        let columns: Vec<&[String]> = within.iter().filter_map(|name| sheet.column(name)).collect();
        let cell = |row: usize| {
            let cells: Vec<&str> =
                columns.iter().filter_map(|column| column.get(row)).map(|cell| cell.trim()).collect();
            if cells.iter().any(|cell| cell.is_empty()) { String::new() } else { cells.join(" / ") }
        };
        let cells = (0..sheet.numbers.len()).map(cell).collect();
        sheet.add(&name, cells);
        options.tray = Some(name);
    }
}
