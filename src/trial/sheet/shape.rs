//! A sheet brought to one row per tray with its counts, as the options ask.

use super::asked::Shaped;
use super::cells::Sheet;
use super::{fill, percent, side_by_side, trays, wide};
use crate::answer::Note;
use crate::error::Issue;
use crate::trial::roles::LoadOptions;

/// Brings a sheet to one row per tray with its counts, as the options ask, and returns the options that describe what came
/// out: they load the shaped sheet without shaping it again.
///
/// # Errors
/// The issues of cells and names that cannot be shaped.
pub(in crate::trial) fn shape(
    sheet: &mut Sheet,
    options: &LoadOptions,
    notes: Vec<Note>,
) -> Result<LoadOptions, Vec<Issue>> {
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
