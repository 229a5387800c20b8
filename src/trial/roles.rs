//! Which column plays which part, and the user's options for loading.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::error::Issue;
use crate::error::{ChoiceError, shown};
use crate::layers::Earlier;
use crate::trial::responses::Response;
use crate::trial::sheet::{Marks, Shaped, Wide};
use crate::units::Strength;

/// The roles whose labels several columns can make together, beside the tray.
const PLACES: [&str; 3] = ["block", "whole_plot", "stock_plant"];
/// The roles whose entries are no levels.
const NO_LABELS: [&str; 8] = ["rooted", "stuck", "dead", "times", "covariates", "lost", "responses", "means_of"];

/// What to do with rows that cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BadRows {
    /// Stop and list every problem.
    #[default]
    Stop,
    /// Go on without them and list them.
    SetAside,
}

choice!(
    BadRows, "choice for bad rows":
    Stop = "stop",
    SetAside = "set-aside",
);

/// Where rows are counted from in messages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// A file: the header is row 1, as a spreadsheet shows it.
    File,
    /// A frame: rows are counted from 1.
    Frame,
    /// What an engine counted, which knows no order of rows: lines are counted from 1, and no message names one.
    Engine,
}

impl Source {
    /// Row number of the first data row.
    #[must_use]
    pub fn first_row(self) -> u64 {
        match self {
            Self::File => 2,
            Self::Frame | Self::Engine => 1,
        }
    }
}

/// How to read a trial.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LoadOptions {
    /// Column of cuttings rooted, or of 0/1, true/false, yes/no with one row per cutting.
    pub rooted: String,
    /// Column of cuttings stuck; `None` means one row per cutting.
    pub stuck: Option<String>,
    /// Column of cuttings that died, counted as `rooted` is.
    pub dead: Option<String>,
    /// Column of how many cuttings a row stands for, where cuttings that are alike in every column were counted before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub times: Option<String>,
    /// The number of the first row that each line stands for, where lines were counted from rows that have numbers.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub row_numbers: Vec<u64>,
    /// Treatment columns.
    pub treatments: Vec<String>,
    /// Tray column.
    pub tray: Option<String>,
    /// Block column (bench, place or time).
    pub block: Option<String>,
    /// Whole-plot column (dark room, bay, bay-run).
    pub whole_plot: Option<String>,
    /// Season column.
    pub season: Option<String>,
    /// Mother-plant column.
    pub stock_plant: Option<String>,
    /// Numeric covariates.
    pub covariates: Vec<String>,
    /// What else was measured on cuttings, in the order declared.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub responses: Vec<Response>,
    /// The response that was named beforehand to lead; the take when not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub primary: Option<String>,
    /// What the strength column means.
    pub strength: Option<Strength>,
    /// Which treatment is the strength; "strength" when not given.
    pub strength_column: Option<String>,
    /// The control level of treatments.
    pub control: BTreeMap<String, String>,
    /// Levels in an order of their own, per column.
    pub level_order: BTreeMap<String, Vec<String>>,
    /// What to do with rows that cannot be used.
    pub bad_rows: BadRows,
    /// The user has checked that look-alike levels really differ.
    pub distinct_levels: bool,
    /// How units differed in earlier trials of the place, one entry per trial ([`crate::trial::Trial::for_later`]).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub earlier: Vec<Earlier>,
    /// The number stuck in every tray, where no column holds it.
    pub stuck_each: Option<u64>,
    /// Column of percentages rooted, turned into counts by the number stuck.
    pub rooted_percent: Option<String>,
    /// Columns that hold the counts of one level each.
    pub wide: Option<Wide>,
    /// Columns whose blank cells and ditto marks take the entry above.
    pub fill_down: Vec<String>,
    /// Every row is a tray of its own.
    pub tray_each_row: bool,
    /// Columns that name a tray together, where its number starts afresh within the others.
    pub tray_within: Vec<String>,
    /// Columns that name a block, a whole plot or a stock plant together, by role, where its labels start afresh within the others:
    /// the outermost first, its own column last.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub labels_within: BTreeMap<String, Vec<String>>,
    /// Column with the reason why a tray was lost; such rows are left out when nothing is stuck in them.
    pub lost: Option<String>,
    /// Numbers of rows to leave out.
    pub leave_out: Vec<u64>,
    /// Row of the column names.
    pub header_row: Option<u64>,
    /// The mark between thousands.
    pub thousands: Option<char>,
    /// The mark before decimals.
    pub decimal: Option<char>,
    /// Codes of questions that the user has looked into.
    pub checked: Vec<String>,
    /// The names of all columns of the table, where not all are handed over.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub columns: Vec<String>,
    /// What shaping the sheet left.
    pub shaped: Option<Shaped>,
}

impl LoadOptions {
    /// Counts in two columns: cuttings rooted, and cuttings stuck.
    ///
    /// ```
    /// use rootling::trial::LoadOptions;
    /// let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// assert_eq!(options.tray.as_deref(), Some("tray"));
    /// ```
    #[must_use]
    pub fn counts(rooted: &str, stuck: &str) -> Self {
        Self { rooted: rooted.to_owned(), stuck: Some(stuck.to_owned()), ..Self::default() }
    }

    /// The same with these treatments.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]);
    /// assert_eq!(options.treatments, ["strength"]);
    /// ```
    #[must_use]
    pub fn with_treatments(self, columns: &[&str]) -> Self {
        Self { treatments: columns.iter().map(|one| (*one).to_owned()).collect(), ..self }
    }

    /// The same with the trays named in a column.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert_eq!(LoadOptions::counts("rooted", "stuck").with_tray("tray").tray.as_deref(), Some("tray"));
    /// ```
    #[must_use]
    pub fn with_tray(self, column: &str) -> Self {
        Self { tray: Some(column.to_owned()), ..self }
    }

    /// The same with the blocks named in a column.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert_eq!(LoadOptions::counts("rooted", "stuck").with_block("bench").block.as_deref(), Some("bench"));
    /// ```
    #[must_use]
    pub fn with_block(self, column: &str) -> Self {
        Self { block: Some(column.to_owned()), ..self }
    }

    /// All named columns with the part they play, in order.
    #[must_use]
    pub(crate) fn roles(&self) -> Vec<(&'static str, &str)> {
        let mut roles = vec![("rooted", self.rooted.as_str())];
        roles.extend(self.stuck.as_deref().map(|name| ("stuck", name)));
        roles.extend(self.dead.as_deref().map(|name| ("dead", name)));
        roles.extend(self.times.as_deref().map(|name| ("times", name)));
        roles.extend(self.treatments.iter().map(|name| ("treatments", name.as_str())));
        let design = [
            ("tray", &self.tray),
            ("block", &self.block),
            ("whole_plot", &self.whole_plot),
            ("season", &self.season),
            ("stock_plant", &self.stock_plant),
        ];
        roles.extend(design.into_iter().filter_map(|(role, name)| name.as_deref().map(|name| (role, name))));
        roles.extend(self.covariates.iter().map(|name| ("covariates", name.as_str())));
        roles.extend(self.lost.as_deref().map(|name| ("lost", name)));
        roles.extend(self.responses.iter().map(|one| ("responses", one.column.as_str())));
        // The number behind a mean may play another part too: all that rooted were measured.
        for name in self.responses.iter().filter_map(|one| one.means_of.as_deref()) {
            if roles.iter().all(|(_, known)| *known != name) {
                roles.push(("means_of", name));
            }
        }
        roles
    }

    /// The columns of the sheet as it is, before shaping, with the part they play.
    #[must_use]
    pub(crate) fn sheet_roles(&self) -> Vec<(&'static str, &str)> {
        let wide = self.wide.as_ref();
        let made = |role: &str, name: &str| {
            name.is_empty() && role == "rooted"
                || wide.is_some_and(|wide| name == wide.treatment && role == "treatments")
        };
        let mut roles = self.roles();
        roles.retain(|(role, name)| !made(role, name));
        roles.extend(
            self.rooted_percent.as_deref().filter(|name| !name.is_empty()).map(|name| ("rooted_percent", name)),
        );
        roles.extend(
            wide.into_iter()
                .flat_map(|wide| wide.columns.iter().chain(&wide.stuck))
                .map(|name| ("wide", name.as_str())),
        );
        roles.extend(
            self.tray_within
                .iter()
                .filter(|name| wide.is_none_or(|wide| wide.treatment != **name))
                .map(|name| ("tray", name.as_str())),
        );
        let places = self.labels_within.iter().flat_map(|(role, names)| {
            let role = PLACES.into_iter().find(|known| known == role).unwrap_or("block");
            names.iter().map(move |name| (role, name.as_str()))
        });
        roles.extend(places.filter(|(_, name)| wide.is_none_or(|wide| wide.treatment != *name)));
        roles.extend(self.fill_down.iter().map(|name| ("fill_down", name.as_str())));
        roles
    }

    /// True when the sheet has to be shaped before its entries are judged.
    #[must_use]
    pub(crate) fn shapes(&self) -> bool {
        self.stuck_each.is_some()
            || self.rooted_percent.is_some()
            || self.wide.is_some()
            || !self.fill_down.is_empty()
            || self.tray_each_row
            || !self.tray_within.is_empty()
            || !self.labels_within.is_empty()
    }

    /// The columns that name the places of a role together: those that were joined, or the column itself.
    #[must_use]
    pub(crate) fn parts(&self, role: &str, column: &str) -> Vec<String> {
        let joined = self.shaped.as_ref().and_then(|shaped| shaped.joined.get(role));
        joined.cloned().unwrap_or_else(|| vec![column.to_owned()])
    }

    /// True where each row holds the counts of a tray.
    fn counts_rows(&self) -> bool {
        self.stuck.is_some() || self.stuck_each.is_some() || self.wide.is_some() || self.rooted_percent.is_some()
    }

    /// The number of a row of the frame, as the user sees it.
    #[must_use]
    pub(crate) fn row_number(&self, row: usize, source: Source) -> u64 {
        let counted = self.row_numbers.get(row).copied();
        let shaped = || self.shaped.as_ref().and_then(|shaped| shaped.rows.get(row).copied());
        counted.or_else(shaped).unwrap_or_else(|| row as u64 + source.first_row())
    }

    /// True for the column of a response, or of how many cuttings its means are of.
    pub(crate) fn is_response(&self, column: Option<&str>) -> bool {
        let is = |name: Option<&str>| name.is_some() && name == column;
        self.responses.iter().any(|one| is(Some(&one.column)) || is(one.means_of.as_deref()))
    }

    /// True when the user has looked into this question.
    #[must_use]
    pub(crate) fn has_checked(&self, code: &str) -> bool {
        self.checked.iter().any(|checked| checked == code)
    }

    /// What the user said about the marks within numbers.
    #[must_use]
    pub(crate) fn marks(&self) -> Marks {
        Marks { thousands: self.thousands, decimal: self.decimal }
    }

    /// Problems with the names in the sheet as it is.
    #[must_use]
    pub(crate) fn check_sheet_names(&self, columns: &[String]) -> Vec<Issue> {
        let roles = self.sheet_roles();
        roles.iter().filter_map(|(role, name)| unknown_column(role, name, columns)).collect()
    }

    /// The columns whose entries are levels: treatments, tray and places, in the order of their roles.
    #[must_use]
    pub(crate) fn labels(&self) -> Vec<&str> {
        self.roles().into_iter().filter(|(role, _)| !NO_LABELS.contains(role)).map(|(_, name)| name).collect()
    }

    /// The treatment column that holds strengths, when a strength was declared or the column is called so.
    #[must_use]
    pub(crate) fn strength_treatment(&self) -> Option<&str> {
        self.strength.as_ref()?;
        let wanted = self.strength_column.as_deref().unwrap_or("strength");
        self.treatments.iter().map(String::as_str).find(|name| *name == wanted)
    }

    /// Problems with the names themselves: columns that are not there, or that play two parts.
    #[must_use]
    pub(crate) fn check_names(&self, columns: &[String]) -> Vec<Issue> {
        let roles = self.roles();
        let mut issues = Vec::new();
        for (at, (role, name)) in roles.iter().enumerate() {
            if let Some(issue) = unknown_column(role, name, columns) {
                issues.push(issue);
            } else if let Some((first, _)) = roles.iter().take(at).find(|(_, earlier)| earlier == name) {
                let reason = format!("named both as {first} and as {role}");
                issues
                    .push(Issue::of_input("column_in_two_roles", reason, "give each column one part").in_column(name));
            }
        }
        let treatments: Vec<&str> = self.treatments.iter().map(String::as_str).collect();
        issues.extend(self.control.keys().filter_map(|name| not_among("control", name, &treatments)));
        issues.extend(self.level_order.keys().filter_map(|name| not_among("level_order", name, &self.labels())));
        issues.extend(self.times.as_deref().filter(|_| self.counts_rows()).map(times_of_counts));
        if self.strength.is_some() && self.strength_treatment().is_none() {
            let wanted = self.strength_column.as_deref().unwrap_or("strength");
            let reason = format!("a strength was declared, but {wanted:?} is not among the treatments");
            let hint = "name the strength column in treatments=, and say which it is with Strength(column=...)";
            issues.push(Issue::of_input("no_strength_column", reason, hint));
        }
        issues
    }
}

/// That a row of counts cannot stand for several.
fn times_of_counts(name: &str) -> Issue {
    let reason = "times= says how many cuttings a row stands for, and with a number stuck each row is a tray";
    Issue::of_input("times_of_counts", reason, "leave out times=, or leave out the number stuck").in_column(name)
}

pub(crate) fn unknown_column(role: &str, name: &str, columns: &[String]) -> Option<Issue> {
    if columns.iter().any(|column| column == name) {
        return None;
    }
    let shown = shown::names(columns);
    let issue = |hint: String| {
        Issue::of_input("unknown_column", format!("there is no column {name:?}, named as {role}"), hint).in_column(name)
    };
    // A number where a column is asked for is the number itself.
    if let (true, Some(each)) = (role == "stuck", name.trim().parse::<u32>().ok().filter(|each| *each > 0)) {
        let hint = format!("for {each} cuttings in every tray write stuck={each}; the columns are {shown}");
        return Some(issue(hint).pasted(&format!("stuck={each}")));
    }
    let near = if role == "wide" { same_number(name, columns) } else { None };
    let near = near.or_else(|| ChoiceError::new("column", name, columns).nearest);
    Some(match &near {
        Some(near) => {
            issue(format!("did you mean {near:?}? The columns are {shown}")).pasted(&format!("{role}={near:?}"))
        }
        None => issue(format!("the columns are {shown}")),
    })
}

/// The only column whose name begins with this number, as "500 mg/L" does with 500.
fn same_number(name: &str, columns: &[String]) -> Option<String> {
    let number = |text: &str| {
        let end = text.find(|letter: char| !letter.is_ascii_digit() && letter != '.').unwrap_or(text.len());
        text.get(..end)?.parse::<f64>().ok()
    };
    let wanted = number(name.trim()).filter(|_| name.trim().parse::<f64>().is_ok())?;
    let mut same = columns.iter().filter(|column| number(column.trim()) == Some(wanted));
    let first = same.next()?;
    same.next().is_none().then(|| first.clone())
}

/// A name in a dictionary of columns that is not one of those it can be about.
fn not_among(option: &str, name: &str, known: &[&str]) -> Option<Issue> {
    if known.contains(&name) {
        return None;
    }
    let near = ChoiceError::new("column", name, known).nearest;
    let near = near.map_or_else(String::new, |near| format!("did you mean {near:?}? "));
    let reason = format!("{option}= names {name:?}, which is none of the columns with levels it can be about");
    let hint = format!("{near}These are {}", shown::names(known));
    Some(Issue::of_input("option_for_no_column", reason, hint).in_column(name))
}
