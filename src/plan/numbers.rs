//! What a plan comes to, as numbers.

use serde::{Deserialize, Serialize};

use super::question::Question;

/// How often one pair of levels is told apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PairPower {
    /// The level that is subtracted.
    pub first: String,
    /// The level compared with it.
    pub second: String,
    /// The difference expected, second minus first, a proportion.
    pub expected: f64,
    /// The share of trials that show it.
    pub power: f64,
}

/// One design tried: so many trays of so many cuttings that are so much alike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PlanRow {
    /// Trays of each level.
    pub trays: u64,
    /// Bays of each level; 0 where levels are given to trays.
    pub bays: u64,
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// Correlation of two cuttings of a tray; what earlier trials lead to expect in the middle, where these tell of it.
    pub correlation: f64,
    /// The share of trials that show what is there; of several pairs, that of the pair shown least often.
    pub power: f64,
    /// Standard error of that share, from the number of trials drawn.
    pub error: f64,
    /// The same with the correlation as uncertain as earlier trials leave it.
    pub expected_power: Option<f64>,
    /// The share of trials that show all pairs that differ.
    pub all_shown: Option<f64>,
    /// The share of trials that show it and are confirmed by dealing the trays out again.
    pub confirmed: Option<f64>,
    /// The smallest P value that dealing the trays out again can give.
    pub smallest_p: Option<f64>,
    /// Half the width of the interval in the middle of all trials, a proportion.
    pub half_width: Option<f64>,
    /// Half the width that nine trials in ten stay below.
    pub half_width_90: Option<f64>,
    /// Cuttings of the whole trial.
    pub n_cuttings: u64,
    /// Trays of the whole trial.
    pub n_trays: u64,
    /// Cost of the whole trial, where costs are given.
    pub cost: Option<f64>,
    /// False where the most trays that were looked at do not reach what was asked.
    pub reached: bool,
}

/// The same trays with far more cuttings in each: what more cuttings can do at all.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MoreCuttings {
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// The share of trials that show what is there.
    pub power: f64,
}

/// The trials tried for one question.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Planned {
    /// What the trial is for.
    pub question: Question,
    /// Take expected of each level.
    pub takes: Vec<f64>,
    /// Confidence level.
    pub confidence: f64,
    /// How often the trial was to show what is there, where that was asked.
    pub asked_power: Option<f64>,
    /// The row that the sentence speaks of, counted from 0.
    pub lead: u64,
    /// The designs tried.
    pub rows: Vec<PlanRow>,
    /// The pairs of the leading row, where there are several.
    pub pairs: Vec<PairPower>,
    /// The trays of the leading row with ten times as many cuttings, where that was looked at.
    pub more_cuttings: Option<MoreCuttings>,
    /// Trials drawn of each design.
    pub draws: u64,
    /// Earlier trials whose knowledge was used.
    pub n_earlier: u64,
}

/// The smallest difference that a design shows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SmallestRow {
    /// Trays of each level.
    pub trays: u64,
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// Correlation of two cuttings of a tray.
    pub correlation: f64,
    /// The smallest rise that is shown as often as asked, a proportion; none where even a take of 1 is not.
    pub rise: Option<f64>,
    /// The smallest fall, a proportion above 0; none where even a take of 0 is not.
    pub fall: Option<f64>,
}

/// The smallest differences from one take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Smallest {
    /// The take of the first level.
    pub take: f64,
    /// How often the difference is to be shown.
    pub asked_power: f64,
    /// Confidence level.
    pub confidence: f64,
    /// The row that the sentence speaks of, counted from 0.
    pub lead: u64,
    /// The designs tried.
    pub rows: Vec<SmallestRow>,
    /// Trials drawn of each design and difference.
    pub draws: u64,
}
