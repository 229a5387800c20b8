//! What is asked of best strengths over seasons, and what is found: plain data.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::seasons::numbers::SeasonChanges;
use crate::trial::Outcome;

/// What is asked of best strengths over seasons.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BestOptions {
    /// The column of strengths that trials are asked about; curves were asked before.
    pub column: String,
    /// Levels of other treatments that trials are asked to stay within.
    pub at: BTreeMap<String, String>,
    /// What trials count.
    pub outcome: Outcome,
    /// Confidence of all limits.
    pub confidence: f64,
    /// Draws of what is not known, behind the limits of a new season.
    pub draws: u64,
    /// Their seed.
    pub seed: u64,
}

impl Default for BestOptions {
    fn default() -> Self {
        Self {
            column: "strength".to_owned(),
            at: BTreeMap::new(),
            outcome: Outcome::Take,
            confidence: 0.95,
            draws: 10_000,
            seed: 1,
        }
    }
}

/// The best strength over several seasons.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BestOverSeasons {
    /// The column of strengths.
    pub factor: String,
    /// Unit of all strengths, empty where none was declared.
    pub unit: String,
    /// What they measure; none where it was not declared.
    pub substance: Option<String>,
    /// What is counted.
    pub outcome: Outcome,
    /// The seasons that enter, in the order given.
    pub seasons: Vec<SeasonBest>,
    /// Those that do not, each with the reason.
    pub left_out: Vec<BestOut>,
    /// How many enter.
    pub n_seasons: u64,
    /// Units (trays) behind them.
    pub n_units: u64,
    /// Cuttings behind them.
    pub n_cuttings: u64,
    /// `d0` of the scale `ln(1 + d / d0)` on which best strengths are averaged: the median of the seasons' own.
    pub zero_scale: f64,
    /// The best strength on average, a mean on that scale.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Degrees of freedom of its limits.
    pub df: f64,
    /// True where the average is that over these very seasons, and no claim about others: with two of them.
    pub these_alone: bool,
    /// True where seasons are so few (three or four), or so many of them could not locate it, that what is said is provisional.
    pub provisional: bool,
    /// Lower limit of the best strength of a new season; none with two seasons.
    pub new_low: Option<f64>,
    /// Upper limit of the same.
    pub new_high: Option<f64>,
    /// Lowest strength above 0 and highest strength that some season tested.
    pub tested: (f64, f64),
    /// Standard deviation of true best strengths between seasons, on the scale; none with two.
    pub spread: Option<f64>,
    /// Its lower limit.
    pub spread_low: Option<f64>,
    /// Its upper limit.
    pub spread_high: Option<f64>,
    /// Strengths between which about two of three seasons have their best, by the average and the spread found; none with two seasons.
    pub usual: Option<(f64, f64)>,
    /// Whether the best strength shifts with the season.
    pub changes: SeasonChanges,
    /// Confidence of all limits.
    pub confidence: f64,
}

/// A season's best strength.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SeasonBest {
    /// Its name.
    pub season: String,
    /// Its own best strength.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// True where one of its limits stands open, so that the other alone tells its error.
    #[serde(default)]
    pub one_sided: bool,
    /// Its standard error on the scale, from limits and degrees of freedom.
    pub se: f64,
    /// Degrees of freedom of its error; none for the normal law.
    pub df: Option<f64>,
    /// The take there.
    pub take: f64,
    /// Units (trays) in it.
    pub n_units: u64,
    /// Cuttings in it.
    pub n_cuttings: u64,
    /// Its share in the average.
    pub weight: f64,
    /// The average of the others; none with two seasons.
    pub without: Option<f64>,
    /// Fingerprint of its counts, where it is known.
    pub data_fingerprint: Option<String>,
}

/// A season that cannot enter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BestOut {
    /// Its name.
    pub season: String,
    /// Where its curve is highest within what it tested.
    pub value: f64,
    /// Why it does not enter.
    pub why: String,
}
