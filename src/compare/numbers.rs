//! What is asked of two levels side by side, and what is found: plain data.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::compare::carried::Carried;
use crate::compare::changing::Changing;
use crate::compare::permutation::Randomisation;
use crate::compare::trays::TrayTest;
use crate::counts::DifferenceMethod;
use crate::estimate::TestResult;
use crate::rates::{TakeRate, TraySpread, TraysUse};
use crate::report::Spoken;
use crate::trial::Outcome;

/// Options of [`strengths`](crate::compare::strengths()).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CompareOptions {
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Difference interval for independent cuttings; Miettinen-Nurminen when not given.
    pub method: Option<DifferenceMethod>,
    /// Whether trays are counted.
    pub trays: TraysUse,
    /// Levels of other columns to stay within.
    pub at: BTreeMap<String, String>,
    /// Difference (a proportion) that would not matter.
    pub margin: Option<f64>,
    /// Seed of drawn randomisations.
    pub seed: u64,
    /// Randomisations drawn when there are too many to enumerate.
    pub randomisations: u64,
    /// The difference that matters, a proportion: by it "no reason to change" and the units asked for are judged.
    ///
    /// 0.10 is ten trees per 100, about what four to six trays of 20 a level can show at all (`tests/calibration/table.md`).
    pub nearly: f64,
    /// How the treatment and its levels are said; by the column's name when not given.
    pub spoken: Option<Spoken>,
    /// What is counted.
    pub outcome: Outcome,
}

impl Default for CompareOptions {
    fn default() -> Self {
        Self {
            confidence: 0.95,
            method: None,
            trays: TraysUse::Auto,
            at: BTreeMap::new(),
            margin: None,
            seed: 1,
            randomisations: 99_999,
            nearly: 0.10,
            spoken: None,
            outcome: Outcome::Take,
        }
    }
}

/// Two levels side by side. Differences are second minus first, ratios second over first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Comparison {
    /// The treatment.
    pub factor: String,
    /// First level.
    pub first: TakeRate,
    /// Second level.
    pub second: TakeRate,
    /// Difference of take rates, a proportion; within `within` when that is not empty.
    pub value: f64,
    /// Its lower limit; `None` when nothing can be said (one unit per arm).
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
    /// Its standard error at the rates seen; the limits are those of the score and no multiples of it. None where it tells nothing.
    #[serde(default)]
    pub se: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
    /// Method of the interval.
    pub method: String,
    /// The leading P value, two-sided; `None` when no test is possible.
    pub p: Option<f64>,
    /// What gave it.
    pub test: Option<String>,
    /// Its statistic (t, positive when the second level is higher), with trays.
    pub statistic: Option<f64>,
    /// Degrees of freedom of that t.
    pub df: Option<f64>,
    /// Columns within whose levels the two levels are compared (blocks, whole plots, other treatments), with trays.
    pub within: Vec<String>,
    /// Other treatments and places taken out by least squares, where strata cannot keep them apart.
    #[serde(default)]
    pub adjusted_for: Vec<String>,
    /// Randomisation test, with up to a thousand trays.
    pub randomisation: Option<Randomisation>,
    /// t test on tray rates within the same strata, for the record; it does not decide.
    pub tray_t: Option<TrayTest>,
    /// Welch's t test on tray rates, without strata; for the record.
    pub tray_welch: Option<TrayTest>,
    /// Spread between units of one treatment, places taken out where they are recorded.
    pub spread: Option<TraySpread>,
    /// Ratio of take rates with limits.
    pub ratio: Option<(Option<f64>, f64, f64)>,
    /// Odds ratio with limits; none when all rooted or none rooted.
    pub odds_ratio: Option<(f64, f64, f64)>,
    /// Tests that treat cuttings as independent, when no tray is counted.
    pub pooled_tests: Vec<TestResult>,
    /// "tray", the whole plot's column name, or "cutting".
    pub unit: String,
    /// Why no test is given, when it is withheld.
    pub withheld: Option<String>,
    /// Margin asked for.
    pub margin: Option<f64>,
    /// Whether the other treatments are mixed alike in both arms.
    pub same_mix: bool,
    /// The other outcomes, where deaths are recorded.
    #[serde(default)]
    pub beside: Vec<BesideDifference>,
    /// The units that carry the comparison, where units are counted.
    #[serde(default)]
    pub carried: Option<Carried>,
    /// What the difference is judged by: the unit, and places or plants that cross it and add to its error.
    #[serde(default)]
    pub judged_by: Vec<String>,
    /// The season or block over which the levels follow one another without overlap: dates were not dealt out.
    #[serde(default)]
    pub follows_time: Option<String>,
    /// What is counted.
    #[serde(default)]
    pub outcome: Outcome,
    /// Whether the difference changes with other treatments, where that was asked ([`Trial::compare`](crate::trial::Trial::compare)).
    #[serde(default)]
    pub changing: Vec<Changing>,
}

/// The difference of another outcome.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BesideDifference {
    /// Which outcome.
    pub outcome: Outcome,
    /// Its rate at the first level, 0 to 1.
    pub first: f64,
    /// Its rate at the second level.
    pub second: f64,
    /// Second minus first, a proportion.
    pub value: f64,
    /// Lower limit; none when nothing can be said.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// P value; none without a test.
    pub p: Option<f64>,
}

/// False where cuttings are counted, not trays or what holds them.
pub(super) fn counted(found: &Comparison) -> bool {
    found.unit != "cutting"
}
