//! What the columns of a record of batches are.

use serde::{Deserialize, Serialize};

use crate::trial::BadRows;

/// The columns of one step of the chain: graft take, out of the dark, rooted, second graft.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepColumns {
    /// What the step is called.
    pub step: String,
    /// Column of plants that began it.
    pub started: String,
    /// Column of plants alive at its end.
    pub alive: String,
}

/// The questions that `checked=` answers.
pub(super) const QUESTIONS: [&str; 2] = ["similar_batches", "similar_levels"];

/// How to read a record of batches.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct WatchOptions {
    /// Columns that name a batch together; none where each row is one.
    pub batch: Vec<String>,
    /// Column of plants started.
    pub started: String,
    /// Column of plants alive at the reading.
    pub alive: String,
    /// Column of the day it was set.
    pub set_date: String,
    /// Column of the day it was read.
    pub reading_date: String,
    /// Columns of cultivars: seedling, rootstock, scion.
    pub cultivars: Vec<String>,
    /// Column of who did the grafting.
    pub grafter: Option<String>,
    /// Columns of places: room, bench.
    pub places: Vec<String>,
    /// Column of plants taken away alive: culled, sold or sampled.
    pub removed: Option<String>,
    /// Column that says whether a row is a reading.
    pub status: Option<String>,
    /// Column of the batch that this one was split from.
    pub parent: Option<String>,
    /// Column of the season; None for the year in which it began.
    pub season: Option<String>,
    /// Month in which a season begins.
    pub season_begins: Option<u32>,
    /// Days after setting at which a batch is judged; None for the usual one.
    pub reading_age: Option<u32>,
    /// True where 3/4/2026 is the third of April.
    pub day_first: Option<bool>,
    /// Today, year first; later dates are mistakes. None for the clock.
    pub today: Option<String>,
    /// What to do with rows that cannot be used.
    pub bad_rows: BadRows,
    /// Steps of the chain that are counted beside survival as a whole.
    pub steps: Vec<StepColumns>,
    /// Codes of questions that the user has looked into.
    pub checked: Vec<String>,
    /// Numbers of rows to leave out.
    pub leave_out: Vec<u64>,
    /// Row of the column names.
    pub header_row: Option<u64>,
}

impl WatchOptions {
    /// A record with these columns.
    ///
    /// ```
    /// use rootling::watch::WatchOptions;
    /// let options = WatchOptions::columns("started", "alive", "set", "read").with_places(&["room"]);
    /// assert_eq!(options.places, ["room"]);
    /// ```
    #[must_use]
    pub fn columns(started: &str, alive: &str, set_date: &str, reading_date: &str) -> Self {
        let [started, alive, set_date, reading_date] = [started, alive, set_date, reading_date].map(str::to_owned);
        Self { started, alive, set_date, reading_date, ..Self::default() }
    }

    /// The same with these columns naming a batch together.
    #[must_use]
    pub fn with_batch(self, columns: &[&str]) -> Self {
        Self { batch: owned(columns), ..self }
    }

    /// The same with these columns of cultivars.
    #[must_use]
    pub fn with_cultivars(self, columns: &[&str]) -> Self {
        Self { cultivars: owned(columns), ..self }
    }

    /// The same with these columns of places.
    #[must_use]
    pub fn with_places(self, columns: &[&str]) -> Self {
        Self { places: owned(columns), ..self }
    }

    /// All named columns with the part they play.
    #[must_use]
    pub fn roles(&self) -> Vec<(&'static str, &str)> {
        let mut roles: Vec<(&'static str, &str)> = self.batch.iter().map(|name| ("batch", name.as_str())).collect();
        roles.extend([
            ("started", self.started.as_str()),
            ("alive", self.alive.as_str()),
            ("set_date", self.set_date.as_str()),
            ("reading_date", self.reading_date.as_str()),
        ]);
        roles.extend(self.cultivars.iter().map(|name| ("cultivars", name.as_str())));
        roles.extend(self.grafter.as_deref().map(|name| ("grafter", name)));
        roles.extend(self.places.iter().map(|name| ("places", name.as_str())));
        let others =
            [("removed", &self.removed), ("status", &self.status), ("parent", &self.parent), ("season", &self.season)];
        let of_steps = self.steps.iter().flat_map(|one| [&one.started, &one.alive]);
        roles.extend(of_steps.map(|name| ("steps", name.as_str())));
        roles.extend(others.into_iter().filter_map(|(role, name)| name.as_deref().map(|name| (role, name))));
        roles
    }

    /// The columns of levels, in the order of a row's labels.
    pub(super) fn level_columns(&self) -> impl Iterator<Item = &String> {
        self.cultivars.iter().chain(&self.grafter).chain(&self.places)
    }

    pub(super) fn has_checked(&self, code: &str) -> bool {
        self.checked.iter().any(|checked| checked == code)
    }
}

fn owned(columns: &[&str]) -> Vec<String> {
    columns.iter().map(|one| (*one).to_owned()).collect()
}
