//! The next trial: what is asked of it, its strengths and their trays.

use serde::{Deserialize, Serialize};

use crate::curves::find::{Located, Withheld};

/// What the next trial is to narrow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Criterion {
    /// The best strength: least variance of its place (c-optimal), averaged over the shapes with a top.
    #[serde(rename = "best strength")]
    BestStrength,
    /// The whole curve: least volume of the parameters' confidence region (D-optimal), averaged over all shapes.
    #[serde(rename = "whole curve")]
    WholeCurve,
}

/// What trays at a strength are for, seen from where the best strength may lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Why {
    /// Strength 0.
    #[serde(rename = "the control: what roots without any")]
    Control,
    /// Below the lower limit of the best strength.
    #[serde(rename = "below the best: how fast the take climbs")]
    Below,
    /// Within its limits.
    #[serde(rename = "where the best may lie: how high the take is")]
    Near,
    /// Above its upper limit.
    #[serde(rename = "above the best: how soon more does harm")]
    Above,
    /// Above the highest strength tested.
    #[serde(rename = "not tested yet: the best may lie there")]
    Beyond,
}

impl Why {
    /// The same in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Control => "the control: what roots without any",
            Self::Below => "below the best: how fast the take climbs",
            Self::Near => "where the best may lie: how high the take is",
            Self::Above => "above the best: how soon more does harm",
            Self::Beyond => "not tested yet: the best may lie there",
        }
    }
}

/// Trays at one strength of the next trial.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextStrength {
    /// Strength.
    pub strength: f64,
    /// Trays.
    pub n_units: u64,
    /// True beyond the highest strength tested so far.
    pub outside: bool,
    /// What they are for; none in a record of an earlier version.
    #[serde(default)]
    pub why: Option<Why>,
}

/// Trays of the next trial under one criterion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextDesign {
    /// What is narrowed.
    pub criterion: Criterion,
    /// Strengths with their trays, rising.
    pub strengths: Vec<NextStrength>,
    /// Width that the interval of the best strength would have over the width it has now, on the axis `ln(1 + d / d0)`, averaged over
    /// the shapes with a top, each as if it were known: too hopeful for strengths far out; none where no such shape has a say.
    pub width_ratio: Option<f64>,
    /// The same when the trays are put where they were in this trial.
    pub width_ratio_repeated: Option<f64>,
}

/// Options of [`next_strengths`](crate::curves::next_strengths()).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct NextOptions {
    /// Trays of each curve; as many as this trial had when not given.
    pub trays: Option<u64>,
    /// Cuttings in each; as in this trial when not given.
    pub cuttings: Option<u64>,
    /// Most strengths to use.
    pub strengths: u64,
}

impl Default for NextOptions {
    fn default() -> Self {
        Self { trays: None, cuttings: None, strengths: 4 }
    }
}

/// The next trial of one curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextCurve {
    /// Its levels of the columns in `within`.
    pub levels: Vec<String>,
    /// "K12", or "all trays".
    pub name: String,
    /// Trays to place.
    pub n_units: u64,
    /// Cuttings in each.
    pub cuttings: f64,
    /// Whether the best strength is located now.
    pub located: Located,
    /// Why the best strength is not stated now; none where it is.
    #[serde(default)]
    pub withheld: Option<Withheld>,
    /// One for each criterion that applies: the best strength where some shape has a top, the whole curve always.
    pub designs: Vec<NextDesign>,
}

/// Strengths to test next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextStrengths {
    /// The curves.
    pub curves: Vec<NextCurve>,
    /// Unit of the strengths.
    pub unit: String,
    /// Columns whose levels have a curve each.
    pub within: Vec<String>,
    /// What one unit is called where no trays were recorded; empty where units are trays.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub called: String,
}
