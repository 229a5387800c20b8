//! Delimited text as lines of cells, with quotes read as they are meant.

use crate::control::checkpoint_at;
use crate::error::Issue;

/// Lines of cells with the number each has in a spreadsheet.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Lines {
    /// The cells; lines may differ in length.
    pub cells: Vec<Vec<String>>,
    /// The number of each line.
    pub numbers: Vec<u64>,
}

/// Splits text into lines of cells. A quotation mark opens a quoted cell only at its beginning; a lone one (a ditto mark) and one
/// within a cell (an inch) are text.
///
/// # Errors
/// Quoted cells that hold whole lines: a mark that was never closed takes rows into itself.
pub(crate) fn lines_of(text: &str, separator: u8) -> Result<Lines, Vec<Issue>> {
    let mut lines = Lines::default();
    let mut issues = Vec::new();
    let (mut rest, mut cells, mut number) = (text, Vec::new(), 1_u64);
    // Once the rest of the text was searched in vain, no later mark is closed either.
    let mut closes = true;
    while !rest.is_empty() || !cells.is_empty() {
        checkpoint_at(number);
        let (cell, after, swallowed) = next_cell(rest, separator, &mut closes);
        if swallowed > 0 {
            let reason = format!(
                "a quotation mark opens here and is closed {swallowed} lines later, so those lines would be one entry"
            );
            let hint = "remove the mark, or write the entry on one line";
            issues.push(Issue::of_input("quote_over_lines", reason, hint).at_row(number));
        }
        cells.push(cell);
        match after.as_bytes().first() {
            Some(byte) if *byte == separator => {
                rest = after.get(1..).unwrap_or_default();
                // A separator at the very end is followed by one more empty cell.
                if !rest.is_empty() {
                    continue;
                }
                cells.push(String::new());
            }
            _ => rest = after.strip_prefix("\r\n").or_else(|| after.strip_prefix('\n')).unwrap_or_default(),
        }
        lines.cells.push(std::mem::take(&mut cells));
        lines.numbers.push(number);
        number += 1;
    }
    if issues.is_empty() { Ok(lines) } else { Err(issues) }
}

/// One cell, what follows it, and how many lines it took into itself together with separators.
fn next_cell<'a>(rest: &'a str, separator: u8, closes: &mut bool) -> (String, &'a str, usize) {
    if let Some(inner) = rest.strip_prefix('"').filter(|_| *closes) {
        let lone = inner.as_bytes().first().is_none_or(|byte| *byte == separator || matches!(byte, b'\n' | b'\r'));
        let closing = closing(inner, separator);
        *closes = closing.is_some();
        let body = closing.and_then(|at| inner.get(..at));
        let crosses = body.is_some_and(|body| body.contains('\n'));
        match (body, closing.and_then(|at| inner.get(at + 1..))) {
            (Some(body), Some(after)) if !(lone && crosses) => {
                let swallowed =
                    if crosses && body.bytes().any(|byte| byte == separator) { body.matches('\n').count() } else { 0 };
                return (body.replace("\"\"", "\""), after, swallowed);
            }
            _ => {}
        }
    }
    let end = rest.bytes().position(|byte| byte == separator || byte == b'\n').unwrap_or(rest.len());
    let end = if rest.get(..end).is_some_and(|cell| cell.ends_with('\r')) && rest.as_bytes().get(end) == Some(&b'\n') {
        end - 1
    } else {
        end
    };
    let (cell, after) = rest.split_at_checked(end).unwrap_or((rest, ""));
    let cell = if after.is_empty() { cell.trim_end_matches('\r') } else { cell };
    (cell.to_owned(), after, 0)
}

/// Where the quotation mark stands that closes a cell: not doubled, and before a separator or the end of a line.
fn closing(inner: &str, separator: u8) -> Option<usize> {
    let bytes = inner.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        if bytes.get(at) != Some(&b'"') {
            at += 1;
            continue;
        }
        match bytes.get(at + 1) {
            None => return Some(at),
            Some(b'"') => at += 2,
            Some(byte) if *byte == separator || matches!(byte, b'\n' | b'\r') => return Some(at),
            Some(_) => at += 1,
        }
    }
    None
}
