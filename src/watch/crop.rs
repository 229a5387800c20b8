//! The record of a crop: one line per batch, at the reading that counts.

use serde::{Deserialize, Serialize};

/// The part that a column of levels plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// A cultivar: seedling, rootstock or scion.
    Cultivar,
    /// Who did the grafting.
    Grafter,
    /// A place: room, bay or bench.
    Place,
}

/// A column whose entries are levels.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Grouping {
    /// The user's name of it.
    pub name: String,
    /// The part it plays.
    pub part: Part,
    /// The levels in order.
    pub levels: Vec<String>,
}

/// One batch at the reading that counts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Batch {
    /// What it is called.
    pub name: String,
    /// Row of the reading, as the user sees rows.
    pub row: u64,
    /// Day it was set, counted from 1 January 1970.
    pub set: i32,
    /// Day it was read.
    pub read: i32,
    /// Plants started, without those taken away alive.
    pub started: u64,
    /// Plants alive.
    pub alive: u64,
    /// Its level in each grouping.
    pub levels: Vec<u32>,
    /// Number of its season.
    pub season: i32,
    /// Started and alive at each step of the chain; None where it was not counted.
    #[serde(default)]
    pub steps: Vec<Option<(u64, u64)>>,
}

impl Batch {
    /// The week it was set in, counted from the first Monday of 1970.
    #[must_use]
    pub fn set_week(&self) -> i32 {
        week_of(self.set)
    }

    /// The week it was read in.
    #[must_use]
    pub fn read_week(&self) -> i32 {
        week_of(self.read)
    }
}

/// Days from 1 January 1970, a Thursday, to the first Monday.
const FIRST_MONDAY: i32 = 4;

/// The week of a day; weeks begin on Monday.
#[must_use]
pub fn week_of(day: i32) -> i32 {
    (day - FIRST_MONDAY).div_euclid(7)
}

/// The Monday of a week.
#[must_use]
pub fn monday_of(week: i32) -> i32 {
    7 * week + FIRST_MONDAY
}
