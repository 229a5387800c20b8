//! A plain table for the terminal: aligned columns, a light rule under the header.

use super::numbers::number;
use crate::answer::{Cells, Column, Sheet};

/// What stands for a missing entry.
const MISSING: &str = "-";

/// Renders a sheet: words left-aligned, numbers right-aligned, two spaces between columns, lines without trailing spaces.
///
/// ```
/// use rootling::{Sheet, report::render};
/// let mut sheet = Sheet::default();
/// sheet.text("strength", ["2500", "5000"]).whole("rooted", [9, 14]).number("value", [0.45, 0.7]);
/// let want = "\
/// strength  rooted  value
/// ────────  ──────  ─────
/// 2500           9   0.45
/// 5000          14    0.7
/// ";
/// assert_eq!(render(&sheet), want);
/// ```
#[must_use]
pub fn render(sheet: &Sheet) -> String {
    let columns: Vec<Laid> = sheet.columns.iter().map(Laid::new).collect();
    if columns.is_empty() {
        return String::new();
    }
    let rows = columns.iter().map(|c| c.entries.len()).max().unwrap_or(0);
    let mut out = String::new();
    push_line(&mut out, columns.iter().map(|c| c.pad(&c.name)));
    push_line(&mut out, columns.iter().map(|c| "─".repeat(c.width)));
    for row in 0..rows {
        push_line(&mut out, columns.iter().map(|c| c.pad(c.entries.get(row).map_or(MISSING, String::as_str))));
    }
    out
}

fn push_line(out: &mut String, cells: impl Iterator<Item = String>) {
    let line = cells.collect::<Vec<_>>().join("  ");
    out.push_str(line.trim_end());
    out.push('\n');
}

/// One column, written out.
struct Laid {
    name: String,
    entries: Vec<String>,
    width: usize,
    words: bool,
}

impl Laid {
    fn new(column: &Column) -> Self {
        let name = clean(&column.name);
        let entries: Vec<String> = match &column.values {
            Cells::Whole(v) => v.iter().map(|x| x.map_or(MISSING.to_owned(), |x| x.to_string())).collect(),
            Cells::Number(v) => v.iter().map(|x| x.map_or(MISSING.to_owned(), number)).collect(),
            Cells::Text(v) => v.iter().map(|x| x.as_deref().map_or(MISSING.to_owned(), clean)).collect(),
        };
        let width = entries.iter().chain([&name]).map(|e| e.chars().count()).max().unwrap_or(0);
        Self { name, entries, width, words: matches!(column.values, Cells::Text(_)) }
    }

    fn pad(&self, entry: &str) -> String {
        let gap = " ".repeat(self.width.saturating_sub(entry.chars().count()));
        if self.words { format!("{entry}{gap}") } else { format!("{gap}{entry}") }
    }
}

/// Control characters (line breaks, escapes) would break the table or the terminal.
fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}
