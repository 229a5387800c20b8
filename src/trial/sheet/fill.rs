//! Merged cells and ditto marks: the entry above holds for the rows below.

use super::cells::Sheet;
use crate::answer::Note;
use crate::error::Issue;
use crate::trial::LoadOptions;

const DITTO: [&str; 12] =
    ["\"", "\"\"", "''", "'", ",,", "\u{201d}", "\u{201e}", "\u{3003}", "ditto", "dto", "dto.", "do."];

/// True for a mark that says "as above".
#[must_use]
pub(crate) fn is_ditto(text: &str) -> bool {
    let text = text.trim();
    DITTO.iter().any(|mark| text.eq_ignore_ascii_case(mark))
}

/// True for a column of what was counted tray by tray.
fn is_counted(name: &String, options: &LoadOptions) -> bool {
    let wide = options.wide.iter().flat_map(|wide| &wide.columns);
    let counted = [Some(&options.rooted), options.dead.as_ref(), options.rooted_percent.as_ref()];
    counted.into_iter().flatten().chain(wide).any(|column| column == name)
}

/// Fills blank cells and ditto marks of the named columns with the entry above; blank rows stay blank.
pub(super) fn fill_down(sheet: &mut Sheet, options: &mut LoadOptions, notes: &mut Vec<Note>) -> Result<(), Vec<Issue>> {
    let names = std::mem::take(&mut options.fill_down);
    let blank: Vec<bool> = (0..sheet.numbers.len()).map(|row| sheet.is_blank(row)).collect();
    let mut issues = Vec::new();
    issues.extend(names.iter().filter(|name| is_counted(name, options)).map(|name| {
        let reason = "fill_down= names a column of counts, and the count of one tray is not that of the tray above it";
        let hint = "leave it out of fill_down=; the count of a tray that is not read yet stays empty";
        Issue::of_input("counts_filled_down", reason, hint).in_column(name)
    }));
    if !issues.is_empty() {
        return Err(issues);
    }
    for name in &names {
        let Some(at) = sheet.names.iter().position(|known| known == name) else { continue };
        let Some(column) = sheet.columns.get_mut(at) else { continue };
        let (mut above, mut filled) = (None::<String>, 0_usize);
        for (row, cell) in column.iter_mut().enumerate() {
            if blank.get(row) == Some(&true) {
                continue;
            }
            if !cell.trim().is_empty() && !is_ditto(cell) {
                above = Some(cell.clone());
                continue;
            }
            match &above {
                Some(above) => {
                    cell.clone_from(above);
                    filled += 1;
                }
                None => {
                    let number = sheet.numbers.get(row).copied().unwrap_or_default();
                    let hint = "enter the first value; those below follow it";
                    let reason = "no value, and none above it to fill down";
                    issues.push(Issue::of_input("nothing_above", reason, hint).in_column(name).at_row(number));
                }
            }
        }
        if filled > 0 {
            let rows = if filled == 1 { "1 row".to_owned() } else { format!("{filled} rows") };
            notes.push(Note::new("filled_down", format!("{name}: {rows} took the entry above, as asked.")));
        }
    }
    if issues.is_empty() { Ok(()) } else { Err(issues) }
}
