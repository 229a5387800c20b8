//! What is asked of seasons together, and what is found: plain data.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::trial::Outcome;

/// What is asked of seasons.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PoolOptions {
    /// The treatment that trials are asked about; comparisons were asked before.
    pub treatment: Option<String>,
    /// Its two levels; differences are second minus first.
    pub levels: Option<(String, String)>,
    /// Levels of other columns that trials are asked to stay within.
    pub at: BTreeMap<String, String>,
    /// What trials count.
    pub outcome: Outcome,
    /// Confidence of all limits.
    pub confidence: f64,
    /// The difference that matters, a proportion: by it "no reason to change" is judged.
    pub nearly: f64,
    /// Draws of what is not known, behind the limits of a new season.
    pub draws: u64,
    /// Their seed.
    pub seed: u64,
}

impl Default for PoolOptions {
    fn default() -> Self {
        Self {
            treatment: None,
            levels: None,
            at: BTreeMap::new(),
            outcome: Outcome::Take,
            confidence: 0.95,
            nearly: 0.10,
            draws: 10_000,
            seed: 1,
        }
    }
}

impl PoolOptions {
    /// Two levels of a treatment, the second minus the first.
    ///
    /// ```
    /// use rootling::seasons::PoolOptions;
    /// assert_eq!(PoolOptions::of("strength", ("2500", "5000")).treatment.as_deref(), Some("strength"));
    /// ```
    #[must_use]
    pub fn of(treatment: &str, (first, second): (&str, &str)) -> Self {
        Self {
            treatment: Some(treatment.to_owned()),
            levels: Some((first.to_owned(), second.to_owned())),
            ..Self::default()
        }
    }
}

/// One difference over several seasons, the second level minus the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Pooled {
    /// The treatment.
    pub factor: String,
    /// Its first level.
    pub first: String,
    /// Its second level.
    pub second: String,
    /// What is counted.
    pub outcome: Outcome,
    /// The seasons that enter, in the order given.
    pub seasons: Vec<SeasonDifference>,
    /// Those that do not, each with the reason.
    pub left_out: Vec<SeasonLeftOut>,
    /// How many enter.
    pub n_seasons: u64,
    /// Units (trays) behind them.
    pub n_units: u64,
    /// Cuttings behind them.
    pub n_cuttings: u64,
    /// What one of the units is called.
    pub unit: String,
    /// The average difference, a proportion.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Its standard error.
    pub se: f64,
    /// Degrees of freedom of its limits.
    pub df: f64,
    /// True where the average is that over these very seasons, and no claim about others: with two of them.
    pub these_alone: bool,
    /// True where seasons are so few (three or four) that what is said is provisional.
    pub provisional: bool,
    /// Lower limit of the difference in a new season; none with two seasons.
    pub new_low: Option<f64>,
    /// Upper limit of the same.
    pub new_high: Option<f64>,
    /// Standard deviation of true differences between seasons; none with two.
    pub spread: Option<f64>,
    /// Its lower limit.
    pub spread_low: Option<f64>,
    /// Its upper limit.
    pub spread_high: Option<f64>,
    /// Seasons, these among them, that would bring the average within the difference that matters either way, where seasons go on to differ as
    /// these do; none where it is that near already, where more than thirty are needed, or with two seasons.
    #[serde(default)]
    pub seasons_needed: Option<u64>,
    /// Whether the difference changes with the season.
    pub changes: SeasonChanges,
    /// Confidence of all limits.
    pub confidence: f64,
    /// The difference that matters.
    pub nearly: f64,
}

/// The test of treatment x season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SeasonChanges {
    /// F.
    pub statistic: f64,
    /// Seasons less one.
    pub df: f64,
    /// Degrees of freedom of the errors within seasons.
    pub error_df: f64,
    /// P value.
    pub p: f64,
}

/// A season in the pool.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SeasonDifference {
    /// Its name.
    pub season: String,
    /// Its own difference, a proportion.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Its standard error, from limits and degrees of freedom.
    pub se: f64,
    /// Degrees of freedom of its error.
    pub df: f64,
    /// Units (trays) in it.
    pub n_units: u64,
    /// Cuttings in it.
    pub n_cuttings: u64,
    /// Its share in the average.
    pub weight: f64,
    /// The average of the others; none with two seasons.
    pub without: Option<WithoutSeason>,
    /// P value of its distance from what the others lead to expect; none with fewer than four seasons.
    pub p: Option<f64>,
    /// The same, adjusted for the number of seasons.
    pub p_adjusted: Option<f64>,
    /// Fingerprint of its counts, where it is known.
    pub data_fingerprint: Option<String>,
}

/// The average without one season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct WithoutSeason {
    /// The average difference.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Standard deviation between the seasons left; none where two are left.
    pub spread: Option<f64>,
}

/// A season that cannot enter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SeasonLeftOut {
    /// Its name.
    pub season: String,
    /// Its own difference.
    pub value: f64,
    /// Why it does not enter.
    pub why: String,
}
