//! The one renderer: a table as heads and cells, and these laid out for terminal, Markdown, LaTeX or a page.

use serde::Serialize;

use super::escapes;
use super::format::Format;
use super::heads::heads;
use super::written::written;
use crate::answer::{Cells, Column, Scale, Sheet};

/// A table as it is read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Shown {
    /// What stands above each column.
    pub heads: Vec<String>,
    /// The entries, row by row; what is missing is empty.
    pub rows: Vec<Vec<String>>,
    /// Which columns hold numbers, and stand to the right.
    pub numeric: Vec<bool>,
}

/// A table as heads and cells, every text safe where it is to stand.
///
/// ```
/// use rootling::{Sheet, report::{Format, cells}};
/// let mut sheet = Sheet::default();
/// sheet.level("strength", ["2500"]).rate("value", [0.0002]).p("p", [3e-9]);
/// let shown = cells(&sheet, Format::Latex);
/// assert_eq!(shown.heads, ["strength", "value", "P value"]);
/// assert_eq!(shown.rows, [["2500", r"\textless{} 0.1 \%", r"\textless{} 0.001"]]);
/// ```
#[must_use]
pub fn cells(sheet: &Sheet, format: Format) -> Shown {
    let count = sheet.columns.iter().map(|column| column.values.len()).max().unwrap_or(0);
    let text = |text: String| escapes::text(&text, format);
    let cell = |column: &Column, row: usize| {
        let entry = entry(column, row).unwrap_or_default();
        if column.kind == TEXT { text(entry) } else { escapes::number(&entry, format) }
    };
    Shown {
        heads: heads(&sheet.columns).into_iter().map(text).collect(),
        rows: (0..count).map(|row| sheet.columns.iter().map(|column| cell(column, row)).collect()).collect(),
        numeric: sheet.columns.iter().map(|column| column.kind != TEXT).collect(),
    }
}

/// A table laid out, every line with its end; empty where it has no column or no row.
///
/// ```
/// use rootling::{Sheet, report::{Format, rendered}};
/// let mut sheet = Sheet::default();
/// sheet.level("dark_days", ["7", "21"]).rate("value", [0.45, 0.7]);
/// let want = "\
/// | dark days | value |
/// | :-- | --: |
/// | 7 | 45.0 % |
/// | 21 | 70.0 % |
/// ";
/// assert_eq!(rendered(&sheet, Format::Markdown), want);
/// ```
#[must_use]
pub fn rendered(sheet: &Sheet, format: Format) -> String {
    let shown = cells(sheet, format);
    if shown.heads.is_empty() || shown.rows.is_empty() {
        return String::new();
    }
    let lines = match format {
        Format::Terminal => aligned(&shown),
        Format::Markdown => piped(&shown),
        Format::Latex => tabular(&shown),
        Format::Html => marked_up(&shown),
    };
    lines.iter().map(|line| format!("{line}\n")).collect()
}

/// A table for the terminal: words to the left, numbers to the right, two spaces between columns.
///
/// ```
/// use rootling::{Sheet, report::render};
/// let mut sheet = Sheet::default();
/// sheet.level("strength", ["2500", "5000"]).whole("rooted", [9, 14]).rate("value", [0.45, 0.7]);
/// let want = "\
/// strength  rooted   value
/// 2500           9  45.0 %
/// 5000          14  70.0 %
/// ";
/// assert_eq!(render(&sheet), want);
/// ```
#[must_use]
pub fn render(sheet: &Sheet) -> String {
    rendered(sheet, Format::Terminal)
}

/// The kind of columns that hold words.
const TEXT: &str = "text";

/// One entry as text; none where it is missing.
fn entry(column: &Column, row: usize) -> Option<String> {
    let scale =
        || column.scale.as_ref().and_then(|scales| scales.at(row)).unwrap_or_else(|| said_by_name(&column.name));
    match &column.values {
        Cells::Text(values) => values.get(row)?.clone(),
        // A record that was written elsewhere may hold numbers without decimals.
        Cells::Whole(values) if column.kind == "number" => values.get(row)?.map(|one| written(one as f64, scale())),
        Cells::Whole(values) => values.get(row)?.map(|one| one.to_string()),
        Cells::Number(values) => values.get(row)?.filter(|one| !one.is_nan()).map(|one| written(one, scale())),
    }
}

/// What a number is by the name of its column, for records that do not say it.
fn said_by_name(name: &str) -> Scale {
    match name {
        "p" | "p_adjusted" => Scale::P,
        _ if name.ends_with("_p") => Scale::P,
        "confidence" | "attained_confidence" => Scale::Confidence,
        "df" | "error_df" => Scale::Degrees,
        "typical_tray" | "take" | "take_low" | "take_high" | "rise" | "deaths_at_lowest" | "deaths_at_highest" => {
            Scale::Rate
        }
        "one_step_change" | "refit_change" => Scale::Difference,
        _ => Scale::Plain,
    }
}

/// Columns of one width.
fn aligned(shown: &Shown) -> Vec<String> {
    let lines = || std::iter::once(&shown.heads).chain(&shown.rows);
    let width = |at: usize| lines().filter_map(|line| line.get(at)).map(|cell| cell.chars().count()).max();
    let widths: Vec<usize> = (0..shown.heads.len()).map(|at| width(at).unwrap_or(0)).collect();
    let padded = |line: &Vec<String>| {
        let cells = line.iter().zip(&widths).zip(&shown.numeric);
        let cells: Vec<String> = cells.map(|((cell, width), right)| pad(cell, *width, *right)).collect();
        cells.join("  ").trim_end().to_owned()
    };
    lines().map(padded).collect()
}

fn pad(cell: &str, width: usize, right: bool) -> String {
    if right { format!("{cell:>width$}") } else { format!("{cell:<width$}") }
}

fn piped(shown: &Shown) -> Vec<String> {
    let line = |cells: &[String]| format!("| {} |", cells.join(" | "));
    let sides: Vec<String> = shown.numeric.iter().map(|right| if *right { "--:" } else { ":--" }.to_owned()).collect();
    [line(&shown.heads), line(&sides)].into_iter().chain(shown.rows.iter().map(|row| line(row))).collect()
}

fn tabular(shown: &Shown) -> Vec<String> {
    let line = |cells: &[String]| format!(r"{} \\", cells.join(" & "));
    let sides: String = shown.numeric.iter().map(|right| if *right { 'r' } else { 'l' }).collect();
    let rule = || r"\hline".to_owned();
    let begin = [format!(r"\begin{{tabular}}{{{sides}}}"), rule(), line(&shown.heads), rule()];
    let end = [rule(), r"\end{tabular}".to_owned()];
    begin.into_iter().chain(shown.rows.iter().map(|row| line(row))).chain(end).collect()
}

fn marked_up(shown: &Shown) -> Vec<String> {
    let side = |right: bool| if right { "right" } else { "left" };
    let line = |cells: &[String], tag: &str| {
        let cells = cells.iter().zip(&shown.numeric);
        let cells = cells.map(|(cell, right)| format!("<{tag} style=\"text-align:{}\">{cell}</{tag}>", side(*right)));
        format!("<tr>{}</tr>", cells.collect::<String>())
    };
    let begin = ["<table>".to_owned(), format!("<thead>{}</thead>", line(&shown.heads, "th")), "<tbody>".to_owned()];
    let end = ["</tbody>".to_owned(), "</table>".to_owned()];
    begin.into_iter().chain(shown.rows.iter().map(|row| line(row, "td"))).chain(end).collect()
}
