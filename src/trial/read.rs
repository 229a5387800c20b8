//! Reading delimited text: encoding, separator, header and shape are checked before any value is.

use arrow_array::builder::StringViewBuilder;
use csv::{ByteRecord, ReaderBuilder, Terminator};

use crate::control::checkpoint_at;
use crate::error::Issue;
use crate::error::{DataError, Result};
use crate::trial::frame::{Column, Frame};
use crate::trial::sheet::{Lines, find_header, lines_of};

/// A text file as it was found.
pub(super) enum Text {
    /// Names in the first row and rows below, none of them odd: a frame of text columns.
    Plain(Frame),
    /// A sheet: a title above the names, blank lines, quotation marks within entries.
    Sheet(Lines),
}

/// Reads delimited text; `wanted` are the names its header should hold, and `shaped` says that it has to be shaped anyway.
///
/// # Errors
/// As [`read_csv`].
pub(super) fn read_text(bytes: &[u8], wanted: &[&str], shaped: bool) -> Result<Text> {
    let text = filled(bytes)?;
    let (declared, text) = declared_separator(text);
    let mut head = Vec::new();
    let separator = match declared {
        Some(separator) => separator,
        None => {
            // The line with the names says best what separates them.
            let lines: Vec<&str> = text.lines().take(HEAD).collect();
            let cells = |line: &&str| [b',', b';', b'\t'].map(|mark| split_fields(line, mark)).concat();
            head = lines.iter().map(cells).collect();
            find_header(&head, wanted).and_then(|at| lines.get(at)).map_or(b',', |line| find_separator(line))
        }
    };
    let first = head.is_empty() || find_header(&head, wanted) == Some(0);
    if shaped || declared.is_some() || !first || Records::new(text, separator).zip(0..).any(is_odd) {
        return Ok(Text::Sheet(lines_of(text, separator).map_err(|issues| DataError { issues })?));
    }
    plain(text, separator).map(Text::Plain)
}

fn is_odd((record, at): (Record<'_>, u64)) -> bool {
    checkpoint_at(at);
    record.odd
}

/// Lines looked at for the names.
const HEAD: usize = 100;

/// A first line "sep=;" tells spreadsheets the separator and is no row.
fn declared_separator(text: &str) -> (Option<u8>, &str) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let mark = first.trim_end_matches('\r').trim_matches('"').strip_prefix("sep=").filter(|mark| mark.len() == 1);
    match mark.and_then(|mark| mark.bytes().next()) {
        Some(separator) => (Some(separator), rest),
        None => (None, text),
    }
}

fn filled(bytes: &[u8]) -> Result<&str> {
    let text = decode(bytes)?;
    if text.trim().is_empty() {
        let hint = "give a file with a header row and one row per tray or cutting";
        return stop(Issue::of_input("empty_file", "the file is empty", hint));
    }
    Ok(text)
}

/// Reads comma-, semicolon- or tab-separated text into a frame of text columns.
///
/// The separator is the one that occurs most often in the header line, outside quotes.
///
/// # Errors
/// [`DataError`] for an empty file, text that is not UTF-8, a repeated column name, or rows with more fields than the header.
pub(super) fn read_csv(bytes: &[u8]) -> Result<Frame> {
    let text = filled(bytes)?;
    plain(text, find_separator(text))
}

fn plain(text: &str, separator: u8) -> Result<Frame> {
    let records = Records::new(text, separator);
    let header = records.clone().next().map(|record| split_fields(record.text, separator)).unwrap_or_default();
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
        let hint = "save it as CSV with UTF-8 encoding, or load it with encoding=\"utf-16\"";
        return stop(Issue::of_input("not_utf8", reason, hint).pasted("encoding=\"utf-16\""));
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
            let hint = "save it as CSV with UTF-8 encoding, or load it with encoding=\"cp1252\"";
            stop(Issue::of_input("not_utf8", reason, hint).at_row(line).pasted("encoding=\"cp1252\""))
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

/// A record, the number of its fields, and whether a quotation mark or an empty line makes it an odd one.
struct Record<'a> {
    text: &'a str,
    fields: usize,
    odd: bool,
}

impl<'a> Iterator for Records<'a> {
    type Item = Record<'a>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.rest.is_empty() {
            return None;
        }
        let (mut quoted, mut fields, mut end, mut odd, mut before) = (false, 1, None, false, self.separator);
        for (at, byte) in self.rest.bytes().enumerate() {
            match byte {
                b'"' => {
                    // A mark opens a field at its beginning; one that follows a closing mark stands for itself.
                    odd |= !quoted && before != self.separator && before != b'"';
                    quoted = !quoted;
                }
                b'\n' if !quoted => {
                    end = Some(at);
                    break;
                }
                b'\n' => odd = true,
                _ if quoted => {}
                _ if byte == self.separator => fields += 1,
                _ => odd |= before == b'"' && byte != b'\r',
            }
            before = byte;
        }
        let text = self.rest.get(..end.unwrap_or(self.rest.len())).unwrap_or_default();
        self.rest = end.and_then(|at| self.rest.get(at + 1..)).unwrap_or_default();
        let text = text.strip_suffix('\r').unwrap_or(text);
        let odd = odd || quoted || text.is_empty() && !self.rest.is_empty();
        Some(Record { text, fields, odd })
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

pub(super) fn check_header(header: &[String]) -> Result<()> {
    let mut issues = Vec::new();
    let mut seen = std::collections::HashSet::with_capacity(header.len());
    for name in header {
        let name = name.trim();
        if !name.is_empty() && !seen.insert(name) {
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
    for (at, Record { text, fields, .. }) in records.enumerate().skip(1) {
        checkpoint_at(at as u64);
        if fields > width && split_fields(text, separator).iter().skip(width).any(|field| !field.trim().is_empty()) {
            let reason = format!("{fields} fields where the header has {width}");
            let hint = "quote text that holds the separator; with decimal commas separate the columns by semicolons";
            issues.push(Issue::of_input("too_many_fields", reason, hint).at_row(at as u64 + 1));
        }
    }
    issues
}

fn parse(text: &str, separator: u8, header: &[String]) -> Result<Frame> {
    let mut reader = ReaderBuilder::new()
        .delimiter(separator)
        .terminator(Terminator::Any(b'\n'))
        .flexible(true)
        .has_headers(false)
        .from_reader(text.as_bytes());
    let mut columns: Vec<StringViewBuilder> = header.iter().map(|_| StringViewBuilder::new()).collect();
    let mut record = ByteRecord::new();
    let unreadable = |error: csv::Error| DataError {
        issues: vec![Issue::of_input(
            "unreadable",
            format!("the text does not split into rows and columns ({error})"),
            "open it in a spreadsheet and save it again as CSV",
        )],
    };
    // The first record holds the names.
    let (mut first, mut row) = (true, 0);
    while reader.read_byte_record(&mut record).map_err(unreadable)? {
        row += 1;
        checkpoint_at(row);
        if std::mem::take(&mut first) {
            continue;
        }
        let last = record.len().saturating_sub(1);
        for (at, column) in columns.iter_mut().enumerate() {
            let field = record.get(at).and_then(|field| std::str::from_utf8(field).ok()).unwrap_or_default();
            let field = if at == last { field.strip_suffix('\r').unwrap_or(field) } else { field };
            column.append_option((!field.is_empty()).then_some(field));
        }
    }
    let named = header.iter().zip(columns).enumerate().map(|(at, (name, mut texts))| {
        let name = name.trim();
        let name = if name.is_empty() { format!("column {}", at + 1) } else { name.to_owned() };
        Column::new(&name, vec![std::sync::Arc::new(texts.finish())])
    });
    Frame::new(named.collect::<Result<_>>()?)
}
