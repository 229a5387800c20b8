//! What a wide sheet holds under its columns, and what shaping a sheet leaves for those who come later: plain data.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::answer::Note;

/// Columns that hold the counts of one level each.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Wide {
    /// The name of the treatment, for example "strength".
    pub treatment: String,
    /// The sheet's columns.
    pub columns: Vec<String>,
    /// The level each column holds.
    pub levels: Vec<String>,
    /// The columns of cuttings stuck beside them, one for each; none where these stand elsewhere.
    #[serde(default)]
    pub stuck: Vec<String>,
}

/// What shaping leaves for those who come later: the rows' numbers and what was found by itself.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Shaped {
    /// The number of each row of the frame, as the user sees it.
    pub rows: Vec<u64>,
    /// What was done to the sheet.
    pub notes: Vec<Note>,
    /// The number stuck that was said of every tray.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stuck_each: Option<u64>,
    /// The columns of the sheet that were named, before they were shaped.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub named: Vec<String>,
    /// The columns whose labels were joined to name a block, a whole plot or a stock plant, by role.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub joined: BTreeMap<String, Vec<String>>,
}
