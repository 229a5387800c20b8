//! What tests of effects, odds ratios, adjusted rates and letters find: plain data.

use serde::{Deserialize, Serialize};

use crate::effects::average::RateOf;
use crate::effects::contrasts::Adjust;

/// The test of one effect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct EffectTest {
    /// `strength` or `strength x rootstock`.
    pub effect: String,
    /// "likelihood ratio", "penalised likelihood ratio", "F", "F on whole plots" (or "F on bay": the recorded unit that judges the effect), "likelihood ratio as F", "robust F" or "not tested".
    pub test: String,
    /// Chi-square or F.
    pub statistic: Option<f64>,
    /// Degrees of freedom of the effect.
    pub df: f64,
    /// Degrees of freedom of the error, for F.
    pub error_df: Option<f64>,
    /// P value.
    pub p: Option<f64>,
    /// Largest difference between adjusted rates of its levels (a covariate: between its lowest and highest value; two
    /// interacting effects: between two such differences), a proportion.
    pub largest_difference: Option<f64>,
    /// The largest such difference inside any of the confidence limits, a proportion; limits as those of contrasts.
    pub not_ruled_out: Option<f64>,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct WhatMatters {
    /// One per effect, then interactions.
    pub effects: Vec<EffectTest>,
}

/// One odds ratio.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OddsRatio {
    /// The coefficient's name.
    pub coefficient: String,
    /// "strength 2500 against 0"; with an interaction also where it holds: "strength 2500 against 0, at rootstock K12".
    pub comparison: String,
    /// The levels of other effects at which alone the ratio holds; empty where no interaction makes it depend on them.
    #[serde(default)]
    pub only_at: Vec<String>,
    /// The ratio of odds.
    pub odds_ratio: f64,
    /// Lower limit, 0 when there is no lower bound; none when confounded with whole plots.
    pub low: Option<f64>,
    /// Upper limit, infinite when there is no upper bound; none when confounded with whole plots.
    pub high: Option<f64>,
    /// Chi-square or F on 1 degree of freedom of "ratio 1".
    pub statistic: Option<f64>,
    /// Denominator degrees of freedom.
    pub error_df: Option<f64>,
    /// P value of "ratio 1" from the same profile.
    pub p: Option<f64>,
    /// Why there are no limits and no test; none where there are.
    #[serde(default)]
    pub why: Option<String>,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OddsRatios {
    /// Confidence level.
    pub confidence: f64,
    /// One per coefficient other than the intercept.
    pub ratios: Vec<OddsRatio>,
}

/// The adjusted rate of one level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AdjustedRate {
    /// Level of the effect.
    pub by: String,
    /// Level of the factor it is split by.
    pub within: Option<String>,
    /// Rate, between 0 and 1; none when these data cannot give it.
    pub value: Option<f64>,
    /// Standard error of the rate.
    pub se: Option<f64>,
    /// Lower confidence limit.
    pub low: Option<f64>,
    /// Upper confidence limit.
    pub high: Option<f64>,
    /// Rate of a typical tray, where trays have random effects.
    #[serde(default)]
    pub typical_tray: Option<f64>,
    /// Cuttings rooted at that level.
    pub rooted: u64,
    /// Cuttings stuck at that level.
    pub stuck: u64,
    /// Trays (or pooled counts) at that level.
    pub n_units: u64,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AdjustedRates {
    /// The effect.
    pub by: String,
    /// The factor it is split by.
    pub within: Option<String>,
    /// What `n_units` counts: "tray", or what mother plants are called where they are the units.
    #[serde(default)]
    pub unit: String,
    /// Whose rate is given where trays have random effects.
    #[serde(default)]
    pub rate_of: RateOf,
    /// Confidence level.
    pub confidence: f64,
    /// One per level, in their order.
    pub rates: Vec<AdjustedRate>,
    /// Seasons and blocks over whose further levels the limits hold.
    #[serde(default)]
    pub holds_over: Vec<String>,
    /// Seasons and blocks of which the limits hold for the levels at hand alone.
    #[serde(default)]
    pub holds_at: Vec<String>,
}

/// An adjusted rate with its letters.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LetterRate {
    /// The rate with its interval and counts.
    #[serde(flatten)]
    pub rate: AdjustedRate,
    /// Its letters; none where the levels cannot be tested.
    pub letters: Option<String>,
}

/// Rates with letters.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Letters {
    /// The factor.
    pub by: String,
    /// The factor within whose levels letters are given.
    pub within: Option<String>,
    /// Name of the adjustment.
    pub together: Adjust,
    /// Confidence level.
    pub confidence: f64,
    /// What `n_units` counts: "tray", or what mother plants are called where they are the units.
    #[serde(default)]
    pub unit: String,
    /// True when no smaller number of letters can do.
    pub fewest: bool,
    /// One per level, in their order.
    pub rates: Vec<LetterRate>,
}
