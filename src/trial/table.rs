//! The frame's named columns, either one line per row or one per set of identical rows.

use std::borrow::Cow;

use rayon::prelude::*;

use crate::control::Signal;
use crate::error::Issue;
use crate::math::design::{Key, tally};
use crate::trial::LoadOptions;
use crate::trial::cell::read_count;
use crate::trial::coding::Coded;
use crate::trial::frame::Frame;

/// Lines of entries; `rows` holds the 0-based frame row each line stands for, `weights` how many identical rows it covers.
#[derive(Debug, Clone)]
pub(super) struct Table {
    /// Column names.
    pub names: Vec<String>,
    /// The columns.
    pub columns: Vec<Coded>,
    /// Frame row of each line (the first of its set).
    pub rows: Vec<usize>,
    /// Number of identical rows.
    pub weights: Vec<u64>,
    /// Lines that do not say how many rows they stand for, each with what is wrong.
    pub uncounted: Vec<(usize, Issue)>,
}

impl Table {
    /// Number of lines.
    #[must_use]
    pub(super) fn len(&self) -> usize {
        self.rows.len()
    }

    /// The column of that name.
    #[must_use]
    pub(super) fn column(&self, name: &str) -> Option<&Coded> {
        let at = self.names.iter().position(|known| known == name)?;
        self.columns.get(at)
    }
}

/// The columns of all rows.
#[derive(Debug, Clone)]
pub(super) struct Rows {
    names: Vec<String>,
    columns: Vec<Coded>,
    height: usize,
    times: Option<Times>,
}

/// How many rows each line stands for, as the table says.
#[derive(Debug, Clone)]
struct Times {
    weights: Vec<u64>,
    uncounted: Vec<(usize, Issue)>,
}

impl Times {
    /// Reads the column: a line of which it says nothing stands for none.
    fn read(name: &str, column: &Coded, height: usize) -> Self {
        let read: Vec<Result<u64, Issue>> = column.entries().iter().map(read_count).collect();
        let mut uncounted = Vec::new();
        let mut weight = |line: usize| match column.code(line).and_then(|code| read.get(code)) {
            Some(Ok(times)) if *times > 0 => *times,
            Some(Ok(_)) => {
                let issue = Issue::of_input(
                    "stands_for_none",
                    "the row stands for 0 cuttings",
                    "correct the number or remove the row",
                );
                uncounted.push((line, issue.in_column(name).with_value("0")));
                0
            }
            Some(Err(issue)) => {
                uncounted.push((line, issue.clone().in_column(name)));
                0
            }
            None => 0,
        };
        let weights = (0..height).map(&mut weight).collect();
        Self { weights, uncounted }
    }
}

impl Rows {
    /// Reads the named columns, those that are there: the only pass over the full frame.
    #[must_use]
    pub(super) fn read(frame: &Frame, names: &[String], times: Option<&str>) -> Self {
        let signal = Signal::here();
        let coded = |column| signal.on(|| Coded::new(column));
        let names: Vec<String> =
            names.iter().filter(|name| frame.column(name).is_some() && Some(name.as_str()) != times).cloned().collect();
        let found: Vec<_> = names.par_iter().filter_map(|name| frame.column(name)).map(coded).collect();
        let times = times.and_then(|name| Some(Times::read(name, &coded(frame.column(name)?), frame.height())));
        Self { names, columns: found, height: frame.height(), times }
    }

    /// Rows of the table behind all lines.
    #[must_use]
    pub(super) fn counted(&self) -> usize {
        let sum = |times: &Times| times.weights.iter().fold(0_u64, |sum, one| sum.saturating_add(*one));
        self.times.as_ref().map_or(self.height, |times| usize::try_from(sum(times)).unwrap_or(usize::MAX))
    }

    /// The column of that name.
    #[must_use]
    pub(super) fn column(&self, name: &str) -> Option<&Coded> {
        self.columns.get(self.names.iter().position(|known| known == name)?)
    }

    /// Number of rows.
    #[must_use]
    pub(super) fn height(&self) -> usize {
        self.height
    }

    /// The same rows with numbers in text written plainly: strengths without the declared unit, thousands and decimals as the
    /// user's marks say.
    #[must_use]
    pub(super) fn respelled(mut self, options: &LoadOptions) -> Self {
        if let (Some(name), Some(strength)) = (options.strength_treatment(), &options.strength) {
            let unit = strength.unit().to_string();
            let at = self.names.iter().position(|known| known == name);
            if let Some(column) = at.and_then(|at| self.columns.get_mut(at)).filter(|column| column.holds_text()) {
                *column = column.respelled(|text| without_unit(text, &unit));
            }
        }
        let marks = options.marks();
        if !marks.is_silent() {
            self.columns = self.columns.iter().map(|column| column.respelled(|text| marks.plain(text))).collect();
        }
        self
    }

    /// One line per set of identical rows.
    #[must_use]
    pub(super) fn grouped(&self) -> Table {
        if self.times.is_some() {
            return self.clone().each();
        }
        let keys: Vec<Key<'_>> = self.columns.iter().map(Coded::key).collect();
        let (rows, weights) = tally(&keys, self.height);
        let columns = self.columns.iter().map(|column| column.at(&rows)).collect();
        Table { names: self.names.clone(), columns, rows, weights, uncounted: Vec::new() }
    }

    /// One line per row, for messages that need every row number.
    #[must_use]
    pub(super) fn each(self) -> Table {
        let alone = || Times { weights: vec![1; self.height], uncounted: Vec::new() };
        let Times { weights, uncounted } = self.times.unwrap_or_else(alone);
        Table { names: self.names, columns: self.columns, rows: (0..self.height).collect(), weights, uncounted }
    }
}

/// "1000 mg/L" as "1000" where that is the declared unit.
fn without_unit<'a>(text: &'a str, unit: &str) -> Cow<'a, str> {
    let squeezed: String = text.chars().filter(|letter| !letter.is_whitespace()).collect::<String>().to_lowercase();
    let unit = unit.replace(' ', "").to_lowercase();
    match squeezed.strip_suffix(unit.as_str()) {
        Some(number) if number.ends_with(|letter: char| letter.is_ascii_digit()) => Cow::Owned(number.to_owned()),
        _ => Cow::Borrowed(text),
    }
}
