//! One column per strength becomes one row per tray.

use super::asked::Wide;
use super::cells::Sheet;
use crate::answer::Note;
use crate::trial::LoadOptions;

/// Makes a row of every cell under the wide columns. A cell without a count in an otherwise filled row is no tray.
pub(super) fn lengthen(sheet: &mut Sheet, options: &mut LoadOptions, wide: &Wide, notes: &mut Vec<Note>) {
    let value = sheet.free_name(&["rooted", "rooted count"]);
    let set = (!wide.stuck.is_empty()).then(|| sheet.free_name(&["stuck", "stuck count"]));
    let is_wide = |name: &String| wide.columns.contains(name) || wide.stuck.contains(name);
    let kept: Vec<usize> = (0..sheet.names.len()).filter(|at| !sheet.names.get(*at).is_some_and(is_wide)).collect();
    let names = kept.iter().filter_map(|at| sheet.names.get(*at).cloned());
    let made = [wide.treatment.clone(), value.clone()].into_iter().chain(set.clone());
    let mut long = Sheet { names: names.chain(made).collect(), ..Sheet::default() };
    long.columns = vec![Vec::new(); long.names.len()];
    let mut empty = 0_usize;
    for (row, number) in sheet.numbers.iter().enumerate() {
        if sheet.is_blank(row) {
            continue;
        }
        let at = |name: &String| sheet.column(name).and_then(|column| column.get(row)).cloned().unwrap_or_default();
        for (place, (name, level)) in wide.columns.iter().zip(&wide.levels).enumerate() {
            let (cell, beside) = (at(name), wide.stuck.get(place).map(at));
            // Cuttings stuck without a count of the rooted are a tray that is not read yet: it stays, and is asked about.
            if cell.trim().is_empty() && beside.as_ref().is_none_or(|stuck| stuck.trim().is_empty()) {
                empty += 1;
                continue;
            }
            let cells = kept.iter().map(|at| sheet.columns.get(*at).and_then(|column| column.get(row)).cloned());
            let cells = cells.map(Option::unwrap_or_default).chain([level.clone(), cell]).chain(beside);
            for (column, cell) in long.columns.iter_mut().zip(cells) {
                column.push(cell);
            }
            long.numbers.push(*number);
        }
    }
    let shown = wide.levels.join(", ");
    let counted = options.stuck.is_some() || options.stuck_each.is_some() || set.is_some();
    // The counts of cells are counts of trays, whether or not a column names these.
    if counted && options.tray.is_none() && options.tray_within.is_empty() {
        options.tray_each_row = true;
    }
    let cell = if wide.stuck.is_empty() { "cell" } else { "pair of cells" };
    let what = if counted { "tray" } else { "cutting" };
    let mut text = format!("Each {cell} under {shown} was read as one {what} of that {}.", wide.treatment);
    if empty > 0 {
        let cells =
            if empty == 1 { "1 empty cell there is".to_owned() } else { format!("{empty} empty cells there are") };
        text.push_str(&format!(" {cells} no {what}."));
    }
    notes.push(Note::new("wide_sheet", text));
    if !options.treatments.contains(&wide.treatment) {
        options.treatments.insert(0, wide.treatment.clone());
    }
    if options.rooted_percent.as_deref() == Some("") {
        options.rooted_percent = Some(value);
    } else {
        options.rooted = value;
    }
    if set.is_some() {
        options.stuck = set;
    }
    // A tray number of a wide sheet starts afresh under each level.
    if let Some(tray) = options.tray.take() {
        options.tray_within = vec![wide.treatment.clone(), tray];
    } else if !options.tray_within.is_empty() && !options.tray_within.contains(&wide.treatment) {
        options.tray_within.insert(0, wide.treatment.clone());
    }
    *sheet = long;
}
