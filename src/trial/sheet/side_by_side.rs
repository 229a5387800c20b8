//! Rows of a wide sheet that hold several levels in one place, where labels were said to start afresh in each level.

use super::asked::Wide;
use super::cells::Sheet;
use crate::error::Issue;
use crate::report::join;
use crate::trial::LoadOptions;
use crate::trial::kinds::{is_given_to_rooms, may_be_a_kind_of_plant};
use crate::trial::unused::is_a_batch;

/// The code of the question for each role.
const CODES: [(&str, &str); 3] =
    [("whole_plot", "restarted_whole_plots"), ("block", "restarted_blocks"), ("stock_plant", "restarted_stock_plants")];

/// Asks where a row of the sheet names one place and has cuttings under several levels, within which its labels are said to start
/// afresh: read so, each row would be as many places as it has levels.
pub(super) fn contradicted(sheet: &Sheet, options: &LoadOptions, wide: &Wide) -> Vec<Issue> {
    // Darkness is given to whole places, whatever stands in one row; a plant is of one kind; a batch is stuck once.
    let numbers = wide.levels.iter().all(|level| level.parse::<f64>().is_ok());
    if is_given_to_rooms(&wide.treatment) {
        return Vec::new();
    }
    let kind = may_be_a_kind_of_plant(&wide.treatment, &wide.levels, numbers);
    let apart = |role: &str, names: &[String]| match role {
        "stock_plant" => kind,
        "block" => names.last().is_some_and(|own| is_a_batch(own)),
        _ => false,
    };
    let joined = options.labels_within.iter().filter(|(role, names)| !apart(role, names));
    let joined = joined.filter(|(_, names)| names.contains(&wide.treatment));
    joined.filter_map(|(role, names)| asked(sheet, options, wide, (role, names))).collect()
}

fn asked(sheet: &Sheet, options: &LoadOptions, wide: &Wide, (role, names): (&str, &[String])) -> Option<Issue> {
    let (role, code) = CODES.into_iter().find(|(known, code)| *known == role && !options.has_checked(code))?;
    let others: Vec<&String> = names.iter().filter(|name| **name != wide.treatment).collect();
    let own = *others.last()?;
    let labels = sheet.column(own)?;
    let filled = |name: &String, row: usize| {
        sheet.column(name).and_then(|column| column.get(row)).is_some_and(|cell| !cell.trim().is_empty())
    };
    let levels = |row: usize| -> Vec<String> {
        let under = wide.columns.iter().zip(&wide.levels).filter(|(name, _)| filled(name, row));
        under.map(|(_, level)| level.clone()).collect()
    };
    let of_label = |row: usize| labels.get(row).map(|cell| cell.trim()).filter(|cell| !cell.is_empty());
    let (label, held, number) = (0..sheet.numbers.len()).find_map(|row| {
        let held = Some(levels(row)).filter(|held| held.len() > 1)?;
        Some((of_label(row)?, held, *sheet.numbers.get(row)?))
    })?;
    let paste = match others.as_slice() {
        [one] => format!("{role}={one:?}"),
        several => format!("{role}={several:?}"),
    };
    let treatment = &wide.treatment;
    let reason = format!(
        "{own} labels are said to start afresh in each {treatment}, but row {number} holds {treatment} {} in {own} {label:?}",
        join(&held)
    );
    let hint = format!(
        "if a {own} held them side by side, write {paste}; if each cell is a {own} of its own, say so with checked=[{code:?}]"
    );
    Some(Issue::of_input(code, reason, hint).in_column(own).pasted(&paste))
}
