//! Columns of the table that nobody named: told once, and looked through where one of them answers a question. A forgotten bench is the
//! dearest of all: its trays share its luck, and nothing counts it.

use std::collections::BTreeSet;

use crate::answer::Note;
use crate::error::shown;
use crate::trial::LoadOptions;
use crate::trial::cell::{Cell, read_count};
use crate::trial::coding::Coded;
use crate::trial::columns::Factor;
use crate::trial::frame::Frame;
use crate::trial::sheet::percent_name;
use crate::trial::table::Rows;

/// Rows of the longest table that is looked through.
const LOOKED_AT: usize = 20_000;
/// Columns of the widest.
const WIDEST: usize = 60;

/// Words for places, plants and times in names of columns, with the option that takes them.
const PLACES: [(&str, &str); 43] = [
    ("tray", "tray"),
    ("flat", "tray"),
    ("schale", "tray"),
    ("bench", "block"),
    ("block", "block"),
    ("bed", "block"),
    ("shelf", "block"),
    ("zone", "block"),
    ("batch", "block"),
    ("lot", "block"),
    ("run", "block"),
    ("rep", "block"),
    ("replicate", "block"),
    ("replication", "block"),
    ("week", "block"),
    ("tisch", "block"),
    ("beet", "block"),
    ("charge", "block"),
    ("woche", "block"),
    ("wiederholung", "block"),
    ("bloc", "block"),
    ("semaine", "block"),
    ("bloque", "block"),
    ("bay", "whole_plot"),
    ("room", "whole_plot"),
    ("house", "whole_plot"),
    ("greenhouse", "whole_plot"),
    ("glasshouse", "whole_plot"),
    ("chamber", "whole_plot"),
    ("tunnel", "whole_plot"),
    ("compartment", "whole_plot"),
    ("plot", "whole_plot"),
    ("kammer", "whole_plot"),
    ("abteil", "whole_plot"),
    ("haus", "whole_plot"),
    ("season", "season"),
    ("year", "season"),
    ("jahr", "season"),
    ("saison", "season"),
    ("plant", "stock_plant"),
    ("mother", "stock_plant"),
    ("ortet", "stock_plant"),
    ("mutterpflanze", "stock_plant"),
];

/// Words for the number stuck.
const STUCK: [&str; 14] = [
    "stuck", "set", "struck", "planted", "inserted", "started", "cuttings", "n", "total", "size", "gesteckt",
    "gesetzt", "anzahl", "plugs",
];

/// The option that takes a column of that name, where it is called after a place, a plant or a time.
pub(super) fn option_for(name: &str) -> Option<&'static str> {
    words(name).into_iter().find_map(|word| PLACES.iter().find(|(known, _)| *known == word).map(|(_, option)| *option))
}

/// True for a room, a bay or a house: what darkness is given to as a whole.
pub(super) fn is_a_room(name: &str) -> bool {
    option_for(name) == Some("whole_plot")
}

/// True for a batch, a lot or a charge: what was stuck together, once.
pub(super) fn is_a_batch(name: &str) -> bool {
    words(name).iter().any(|word| matches!(word.as_str(), "batch" | "lot" | "charge"))
}

fn words(name: &str) -> Vec<String> {
    let lower = name.to_lowercase();
    lower.split(|letter: char| !letter.is_alphabetic()).filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

/// The columns that nobody named.
#[derive(Debug, Default)]
pub(crate) struct Unused {
    names: Vec<String>,
    /// Those of a table that is not long.
    columns: Vec<(String, Coded)>,
}

/// A column that tells trays of one name apart.
pub(super) struct Apart {
    /// The column.
    pub(super) name: String,
    /// The options that name it.
    pub(super) paste: String,
}

impl Unused {
    /// Finds them.
    pub(crate) fn of(frame: &Frame, options: &LoadOptions) -> Self {
        let named: BTreeSet<&str> = options
            .roles()
            .into_iter()
            .map(|(_, name)| name)
            .chain(options.shaped.iter().flat_map(|shaped| shaped.named.iter().map(String::as_str)))
            .collect();
        let free = |name: &&str| !named.contains(name);
        let here = frame.names();
        let beyond = options.columns.iter().map(String::as_str).filter(|name| !here.contains(name));
        let mut unused = Self::default();
        let looked_at = frame.height() <= LOOKED_AT && here.len() <= WIDEST;
        for name in here.iter().copied().filter(free) {
            let column = frame.column(name).filter(|_| looked_at).map(Coded::new);
            // A column without a name in the sheet and without an entry is none.
            if column.as_ref().is_some_and(|column| column.entries().iter().all(Cell::is_missing)) {
                continue;
            }
            unused.names.push(name.to_owned());
            unused.columns.extend(column.map(|column| (name.to_owned(), column)));
        }
        unused.names.extend(beyond.filter(free).map(str::to_owned));
        unused
    }

    /// The design's line.
    pub(crate) fn line(&self) -> Option<String> {
        (!self.names.is_empty()).then(|| format!("columns of the table not used: {}", shown::names(&self.names)))
    }

    /// A note where one of them looks like a place: by its name, with several labels that are no trays by another name.
    pub(crate) fn note(&self, rows: &Rows, options: &LoadOptions) -> Option<Note> {
        let of_name = |name: &String| rows.column(name);
        let named = [&options.tray, &options.block, &options.whole_plot, &options.season, &options.stock_plant];
        let named: Vec<&Coded> = named.into_iter().flatten().filter_map(of_name).collect();
        let treatments: Vec<&Coded> = options.treatments.iter().filter_map(of_name).collect();
        let option = |name: &String| {
            let Some((_, column)) = self.columns.iter().find(|(own, _)| own == name) else {
                return role(name, true, options);
            };
            let labels = down(column, rows.height());
            let count = labels.iter().flatten().collect::<BTreeSet<_>>().len();
            let known = named.iter().any(|other| same(column, other, rows.height()));
            let given = treatments.iter().any(|one| constant(&labels, |row| one.code(row)));
            role(name, given, options)
                .filter(|option| count > 1 && (count < rows.height() || *option == "tray") && !known)
        };
        let places: Vec<(&String, &str)> = self.names.iter().filter_map(|name| Some((name, option(name)?))).collect();
        let names: Vec<&String> = places.iter().map(|(name, _)| *name).collect();
        let what = match names.as_slice() {
            [] => return None,
            [name] => format!("column {name:?}, which was not named"),
            _ => format!("columns {}, which were not named", shown::names(&names)),
        };
        let said: Vec<String> = places.iter().map(|(name, option)| format!("{option}={name:?}")).collect();
        let text = format!(
            "The table has the {what}: what cuttings share that stood in one tray or place or came from one plant or time is not counted unless it is named, as in {}.",
            said.join(", ")
        );
        Some(Note::new("unused_place", text))
    }

    /// The column called after a place that tells these rows apart together with the number of each row's tray.
    pub(super) fn apart(
        &self,
        rows: &[usize],
        trays: &[u32],
        treatments: &[&Factor],
        options: &LoadOptions,
    ) -> Option<Apart> {
        let height = rows.last()? + 1;
        self.columns.iter().find_map(|(name, column)| {
            let all = down(column, height);
            let labels: Vec<Option<usize>> = rows.iter().map(|row| all.get(*row).copied().flatten()).collect();
            let keys: BTreeSet<(u32, usize)> =
                trays.iter().zip(&labels).filter_map(|(tray, label)| Some((*tray, (*label)?))).collect();
            let given =
                treatments.iter().any(|one| constant(&labels, |at| one.codes.get(at).map(|code| *code as usize)));
            let option = role(name, given, options).filter(|_| keys.len() == rows.len())?;
            let merged = rows.iter().any(|row| column.is_missing(*row));
            let fill = if merged { format!(", fill_down=[{name:?}]") } else { String::new() };
            Some(Apart { name: name.clone(), paste: format!("{option}={name:?}{fill}") })
        })
    }

    /// The only column that can hold the number stuck of what is called `name`: by its own name, and never below these entries, each
    /// given with its row.
    pub(super) fn stuck_for<'a>(&self, name: &str, rooted: impl Iterator<Item = (&'a Cell, usize)>) -> Option<&str> {
        let share = percent_name(name);
        let filled: Vec<(f64, usize)> = rooted.filter_map(|(cell, row)| Some((cell.as_share()?, row))).collect();
        let fits = |column: &Coded| {
            filled.iter().all(|(value, row)| {
                let free = share || value.fract() != 0.0;
                let above = |stuck: u64| stuck > 0 && (free || *value <= stuck as f64);
                column.get(*row).is_some_and(|cell| read_count(cell).is_ok_and(above))
            })
        };
        let called = |name: &str| words(name).iter().any(|word| STUCK.contains(&word.as_str()));
        let mut found = self.columns.iter().filter(|(name, column)| called(name) && fits(column));
        let (first, _) = found.next()?;
        found.next().is_none().then_some(first.as_str())
    }

    /// The only column with words in each of these rows and hardly any elsewhere: reasons why nothing was counted.
    pub(super) fn reasons_for(&self, rows: &[usize], height: usize) -> Option<&str> {
        let word =
            |cell: &Cell| matches!(cell, Cell::Text(text) if cell.as_number().is_none() && !text.trim().is_empty());
        let told = |column: &Coded, row: usize| column.get(row).is_some_and(word);
        let reasons = |column: &Coded| {
            let elsewhere = (0..height).filter(|row| told(column, *row)).count().saturating_sub(rows.len());
            rows.iter().all(|row| told(column, *row)) && 2 * elsewhere <= height.saturating_sub(rows.len())
        };
        let mut found = self.columns.iter().filter(|(_, column)| !rows.is_empty() && reasons(column));
        let (first, _) = found.next()?;
        found.next().is_none().then_some(first.as_str())
    }
}

/// The option for a column of that name, if no other plays its part: a room within which every treatment changes is a block.
fn role(name: &str, given: bool, options: &LoadOptions) -> Option<&'static str> {
    let option = option_for(name)?;
    let option = if option == "whole_plot" && !given { "block" } else { option };
    let column = match option {
        "block" => &options.block,
        "whole_plot" => &options.whole_plot,
        "season" => &options.season,
        "tray" => &options.tray,
        _ => &options.stock_plant,
    };
    (column.is_none() && !options.labels_within.contains_key(option)).then_some(option)
}

/// The label of a row as its place among the entries; none where it is blank.
fn filled(column: &Coded, row: usize) -> Option<usize> {
    column.code(row).filter(|_| !column.is_missing(row))
}

/// The labels of all rows, a blank taking the one above it.
fn down(column: &Coded, height: usize) -> Vec<Option<usize>> {
    let mut above = None;
    let label = |row| {
        above = filled(column, row).or(above);
        above
    };
    (0..height).map(label).collect()
}

/// True where several levels of something lie over the labels, and one over each.
fn constant(labels: &[Option<usize>], level: impl Fn(usize) -> Option<usize>) -> bool {
    let pairs: BTreeSet<(usize, usize)> =
        labels.iter().enumerate().filter_map(|(at, label)| Some(((*label)?, level(at)?))).collect();
    let levels: BTreeSet<usize> = pairs.iter().map(|pair| pair.1).collect();
    let own: BTreeSet<usize> = pairs.iter().map(|pair| pair.0).collect();
    levels.len() > 1 && own.len() == pairs.len()
}

/// True where the labels of two columns are each other's names.
fn same(one: &Coded, other: &Coded, height: usize) -> bool {
    let pairs: BTreeSet<_> = (0..height).filter_map(|row| Some((filled(one, row)?, filled(other, row)?))).collect();
    let apart = |pick: fn(&(usize, usize)) -> usize| pairs.iter().map(pick).collect::<BTreeSet<usize>>().len();
    !pairs.is_empty() && apart(|pair| pair.0) == pairs.len() && apart(|pair| pair.1) == pairs.len()
}
