//! Percentages with the size of each tray: counts again, where each is a whole number of cuttings to rounding.

use super::cells::Sheet;
use super::totals::label_word;
use crate::answer::Note;
use crate::error::Issue;
use crate::trial::cell::{Cell, read_count};
use crate::trial::{Listed, LoadOptions};

/// A percentage as it was written: its value and half a unit of its last digit.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Written {
    value: f64,
    slack: f64,
}

/// Puts a column of counts beside the column of percentages.
pub(super) fn to_counts(sheet: &mut Sheet, options: &mut LoadOptions, notes: &mut Vec<Note>) -> Result<(), Vec<Issue>> {
    let Some(name) = options.rooted_percent.take() else { return Ok(()) };
    let stuck = options.stuck.clone().unwrap_or_default();
    let (Some(cells), Some(sizes)) = (sheet.column(&name), sheet.column(&stuck)) else {
        let reason = "percentages were named, but not how many cuttings each tray had";
        let hint = "name the column with stuck=, or give the number that every tray had, for example stuck=20";
        return Err(vec![Issue::of_input("percent_without_stuck", reason, hint).in_column(&name).pasted("stuck=20")]);
    };
    let out = no_trays(sheet, options);
    let mut read: Vec<(Option<Written>, u64)> =
        cells.iter().zip(sizes).map(|(cell, size)| (written(cell), size_of(size))).collect();
    read.iter_mut().zip(&out).filter(|(_, out)| **out).for_each(|(one, _)| one.0 = None);
    let used =
        || read.iter().filter_map(|(written, size)| written.filter(|_| *size > 0).map(|written| (written, *size)));
    let fits = |scale: f64| used().all(|(one, size)| count(one, size, scale).is_some());
    let shares = used().all(|(one, _)| one.value <= 1.0) && used().any(|(one, _)| one.value > 0.0 && one.value < 1.0);
    let scale = if shares && !fits(1.0) { 100.0 } else { 1.0 };
    let mut counts = Vec::with_capacity(cells.len());
    let (mut issues, mut listed) = (Vec::new(), Listed::default());
    for (row, (one, size)) in read.iter().enumerate() {
        let cell = cells.get(row).cloned().unwrap_or_default();
        let found = one.filter(|_| *size > 0).map(|one| count(one, *size, scale));
        if found == Some(None) {
            let number = sheet.numbers.get(row).copied().unwrap_or_default();
            let reason = format!("{cell} % of {size} cuttings is no whole number of cuttings");
            let hint = "correct the percentage or the number stuck, or give the counts";
            let issue = Issue::of_input("percent_not_whole", reason, hint).in_column(&name).with_value(cell.as_str());
            if listed.has_room(&issue) {
                issues.push(issue.at_row(number).pasted(&format!("leave_out=[{number}]")));
            }
        }
        // What is no percentage is left for the checks of counts to name.
        counts.push(found.flatten().map_or(cell, |count| count.to_string()));
    }
    if !issues.is_empty() {
        issues.extend(listed.beyond());
        return Err(issues);
    }
    let kind = if scale > 1.0 { "shares" } else { "percentages" };
    notes.push(Note::new(
        "counts_from_percent",
        format!("Cuttings rooted were worked out from the {kind} in {name} and the number stuck; each came to a whole number."),
    ));
    let counted = sheet.free_name(&["rooted", "rooted count"]);
    sheet.add(&counted, counts);
    options.rooted = counted;
    Ok(())
}

/// Rows that are left out, or that say of themselves that they are sums or averages: their percentages need be no whole numbers.
fn no_trays(sheet: &Sheet, options: &LoadOptions) -> Vec<bool> {
    let tray = options.tray.as_deref();
    let labels: Vec<(bool, &[String])> = options
        .labels()
        .into_iter()
        .filter(|_| !options.has_checked("total_row"))
        .filter_map(|name| Some((tray == Some(name), sheet.column(name)?)))
        .collect();
    let summed = |row: usize| {
        let word = |(tray, cells): &(bool, &[String])| cells.get(row).and_then(|cell| label_word(cell, *tray));
        labels.iter().any(|one| word(one).is_some())
    };
    let rows = sheet.numbers.iter().enumerate();
    rows.map(|(row, number)| options.leave_out.contains(number) || summed(row)).collect()
}

fn written(cell: &str) -> Option<Written> {
    let text = cell.trim().trim_end_matches('%').trim();
    let value = Cell::Text(text.to_owned()).as_number().filter(|value| (0.0..=100.0).contains(value))?;
    let decimals = text.split_once(['.', ',']).map_or(0, |(_, tail)| tail.len());
    Some(Written { value, slack: 0.5 * 0.1_f64.powi(decimals as i32) })
}

fn size_of(cell: &str) -> u64 {
    read_count(&Cell::from_text(cell)).unwrap_or(0)
}

/// The whole number of cuttings that this percentage of `size` can be, if there is one.
fn count(one: Written, size: u64, scale: f64) -> Option<u64> {
    let percent = one.value * scale;
    let count = (percent * size as f64 / 100.0).round();
    let back = 100.0 * count / size as f64;
    // A little more than half a digit, since halves are rounded up by some and to even by others.
    ((back - percent).abs() <= one.slack * scale * 1.000_001 + 1e-9).then_some(count as u64)
}
