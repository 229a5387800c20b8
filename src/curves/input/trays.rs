//! All that decides a strength curve: the trays of each curve, where deaths rise along it, the options.

use serde::{Deserialize, Serialize};

use super::options::CurveOptions;
use super::places::{CurveBays, CurveBlocks, CurvePlaces};
use crate::answer::Note;
use crate::report::Spoken;
use crate::units::Strength;

/// One experimental unit: a tray, or a whole plot where strengths were given to those.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrayCount {
    /// Strength, in the trial's unit.
    pub strength: f64,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings stuck.
    pub stuck: u64,
    /// Its block among [`CurveInput::blocks`], where those are taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub block: Option<u32>,
}

/// The trays of one curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CurveGroup {
    /// Its levels of the columns in `within`; empty for the one curve of a trial.
    pub levels: Vec<String>,
    /// Its trays.
    pub trays: Vec<TrayCount>,
}

impl CurveGroup {
    /// "K12", "K12, dark days 21" by the columns that its levels are of, or "all trays".
    #[must_use]
    pub fn name(&self, within: &[String]) -> String {
        if self.levels.is_empty() {
            return "all trays".to_owned();
        }
        let said = |(at, level): (usize, &String)| match within.get(at) {
            Some(column) => Spoken::plain(column).group(level),
            None => level.clone(),
        };
        self.levels.iter().enumerate().map(said).collect::<Vec<_>>().join(", ")
    }
}

/// All that decides a strength curve: trays and options. A record of it gives the same curve again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CurveInput {
    /// What the strengths mean, where it was declared.
    #[serde(default)]
    pub strength: Option<Strength>,
    /// Unit of the strengths, empty where none was declared.
    pub unit: String,
    /// True when trays are counted.
    pub counted: bool,
    /// True when no trays were recorded.
    pub pooled: bool,
    /// "tray", the whole plot's column, or "cutting".
    pub unit_of: String,
    /// What one unit is called where no trays were recorded, "mother plant"; empty where units are trays.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub called: String,
    /// Blocks that are taken out.
    #[serde(default)]
    pub blocks: Option<CurveBlocks>,
    /// Bays that carry the level of the curves, where a treatment beside the strengths was given to whole bays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bays: Option<CurveBays>,
    /// Places over which takes hold, where some are taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub places: Option<CurvePlaces>,
    /// The curves' trays.
    pub groups: Vec<CurveGroup>,
    /// Where deaths rise along each of them, where they are recorded and that is located; empty where it is of none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub damage: Vec<Option<StayBelow>>,
    /// What was noted about the design.
    pub notes: Vec<Note>,
    /// The options.
    pub options: CurveOptions,
}

impl CurveInput {
    /// The names of the curves, in their order.
    pub(crate) fn names(&self) -> Vec<String> {
        self.groups.iter().map(|group| group.name(&self.options.within)).collect()
    }
}

/// Where deaths are located to have risen along one curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StayBelow {
    /// The rise over deaths at the lowest strength, a proportion.
    pub rise: f64,
    /// Where deaths have risen by that much.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// True where that is at the lowest strength above 0 already: no tested strength is shown to be safe.
    #[serde(default)]
    pub from_first: bool,
}

impl StayBelow {
    /// The strength to stay below: the lower limit, or the place itself where no tested strength lies below it.
    #[must_use]
    pub fn strength(&self) -> f64 {
        if self.from_first { self.value } else { self.low }
    }
}

impl CurveInput {
    /// Where deaths rise along the curve with these levels, where that is located.
    pub(crate) fn stay_below(&self, levels: &[String]) -> Option<&StayBelow> {
        let at = self.groups.iter().position(|group| group.levels == levels)?;
        self.damage.get(at)?.as_ref()
    }

    /// The same of a curve by its name.
    pub(crate) fn stay_below_of(&self, name: &str) -> Option<&StayBelow> {
        let at = self.names().iter().position(|own| own == name)?;
        self.damage.get(at)?.as_ref()
    }
}
