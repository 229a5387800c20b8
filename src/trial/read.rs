//! Reading delimited text: encoding, separator, header and shape are checked before any value is.

use std::io::Cursor;

use polars::prelude::*;

use crate::error::{DataError, Result};
use crate::trial::Issue;

/// Reads comma-, semicolon- or tab-separated text into a frame of text columns.
///
/// The separator is the one that occurs most often in the header line, outside quotes.
///
/// # Errors
/// [`DataError`] for an empty file, text that is not UTF-8, a repeated column name, or rows with more fields than the header.
pub fn read_csv(bytes: &[u8]) -> Result<DataFrame> {
    let text = decode(bytes)?;
    if text.trim().is_empty() {
        return stop(Issue::of_input(
            "empty_file",
            "the file is empty",
            "give a file with a header row and one row per tray or cutting",
        ));
    }
    let separator = find_separator(text);
    let records = Records::new(text, separator);
    let header = records.clone().next().map(|(record, _)| split_fields(record, separator)).unwrap_or_default();
    check_header(&header)?;
    let too_long = long_rows(records, header.len());
    if !too_long.is_empty() {
        return Err(DataError { issues: too_long }.into());
    }
    parse(text, separator, &header)
}

fn stop<T>(issue: Issue) -> Result<T> {
    Err(DataError { issues: vec![issue] }.into())
}

fn decode(bytes: &[u8]) -> Result<&str> {
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        let reason = "the file is UTF-16 text, as some spreadsheets save it";
        return stop(Issue::of_input("not_utf8", reason, "save it as CSV with UTF-8 encoding"));
    }
    let bytes = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) if text.contains('\0') => {
            let reason = "the file holds zero bytes, so it is not a text file";
            stop(Issue::of_input(
                "not_text",
                reason,
                "open it in the program that made it and save it as CSV with UTF-8 encoding",
            ))
        }
        Ok(text) => Ok(text),
        Err(error) => {
            let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let line = before.iter().filter(|byte| **byte == b'\n').count() as u64 + 1;
            let byte = bytes.get(error.valid_up_to()).copied().unwrap_or_default();
            let reason = format!("byte 0x{byte:02X} is not UTF-8 text; the file is probably Latin-1 (Windows-1252)");
            stop(Issue::of_input("not_utf8", reason, "save it as CSV with UTF-8 encoding").at_row(line))
        }
    }
}

fn find_separator(text: &str) -> u8 {
    let header = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let mut quoted = false;
    let mut found = [(b',', 0_usize), (b';', 0), (b'\t', 0)];
    for byte in header.bytes() {
        quoted ^= byte == b'"';
        for (separator, count) in &mut found {
            *count += usize::from(!quoted && byte == *separator);
        }
    }
    found.into_iter().rev().max_by_key(|(_, count)| *count).map_or(b',', |(separator, _)| separator)
}

/// Splits text into records (and counts their fields); quotes may hold separators and line ends.
#[derive(Clone)]
struct Records<'a> {
    rest: &'a str,
    separator: u8,
}

impl<'a> Records<'a> {
    fn new(text: &'a str, separator: u8) -> Self {
        Self { rest: text, separator }
    }
}

impl<'a> Iterator for Records<'a> {
    type Item = (&'a str, usize);

    fn next(&mut self) -> Option<Self::Item> {
        if self.rest.is_empty() {
            return None;
        }
        let (mut quoted, mut fields, mut end) = (false, 1, None);
        for (at, byte) in self.rest.bytes().enumerate() {
            match byte {
                b'"' => quoted = !quoted,
                b'\n' if !quoted => {
                    end = Some(at);
                    break;
                }
                _ if byte == self.separator && !quoted => fields += 1,
                _ => {}
            }
        }
        let record = self.rest.get(..end.unwrap_or(self.rest.len())).unwrap_or_default();
        self.rest = end.and_then(|at| self.rest.get(at + 1..)).unwrap_or_default();
        Some((record.strip_suffix('\r').unwrap_or(record), fields))
    }
}

fn split_fields(record: &str, separator: u8) -> Vec<String> {
    let (mut quoted, mut start, mut fields) = (false, 0, Vec::new());
    for (at, byte) in record.bytes().enumerate() {
        quoted ^= byte == b'"';
        if byte == separator && !quoted {
            fields.push(unquote(record.get(start..at).unwrap_or_default()));
            start = at + 1;
        }
    }
    fields.push(unquote(record.get(start..).unwrap_or_default()));
    fields
}

fn unquote(field: &str) -> String {
    let trimmed = field.trim();
    match trimmed.strip_prefix('"').and_then(|inner| inner.strip_suffix('"')) {
        Some(inner) => inner.replace("\"\"", "\""),
        None => field.to_owned(),
    }
}

fn check_header(header: &[String]) -> Result<()> {
    let mut issues = Vec::new();
    for (at, name) in header.iter().enumerate() {
        let name = name.trim();
        if !name.is_empty() && header.iter().take(at).any(|earlier| earlier.trim() == name) {
            let reason = format!("the name {name:?} stands over two columns");
            issues.push(
                Issue::of_input("duplicate_header", reason, "give each column its own name").in_column(name).at_row(1),
            );
        }
    }
    if issues.is_empty() { Ok(()) } else { Err(DataError { issues }.into()) }
}

fn long_rows(records: Records<'_>, width: usize) -> Vec<Issue> {
    let separator = records.separator;
    let mut issues = Vec::new();
    for (at, (record, fields)) in records.enumerate().skip(1) {
        if fields > width && split_fields(record, separator).iter().skip(width).any(|field| !field.trim().is_empty()) {
            let reason = format!("{fields} fields where the header has {width}");
            let hint = "quote text that holds the separator; with decimal commas separate the columns by semicolons";
            issues.push(Issue::of_input("too_many_fields", reason, hint).at_row(at as u64 + 1));
        }
    }
    issues
}

fn parse(text: &str, separator: u8, header: &[String]) -> Result<DataFrame> {
    let options = CsvParseOptions::default()
        .with_separator(separator)
        .with_missing_is_null(true)
        .with_truncate_ragged_lines(true);
    let frame = CsvReadOptions::default()
        .with_has_header(true)
        .with_infer_schema_length(Some(0))
        .with_parse_options(options)
        .into_reader_with_file_handle(Cursor::new(text.as_bytes()))
        .finish();
    let unreadable = |reason: String| DataError {
        issues: vec![Issue::of_input("unreadable", reason, "open it in a spreadsheet and save it again as CSV")],
    };
    let mut frame =
        frame.map_err(|error| unreadable(format!("the text does not split into rows and columns ({error})")))?;
    let names: Vec<String> = header.iter().map(|name| name.trim().to_owned()).collect();
    if frame.width() == names.len() {
        let fresh = names
            .iter()
            .enumerate()
            .map(|(at, name)| if name.is_empty() { format!("column {}", at + 1) } else { name.clone() });
        frame.set_column_names(&fresh.collect::<Vec<_>>()).map_err(|error| unreadable(error.to_string()))?;
    }
    Ok(frame)
}
