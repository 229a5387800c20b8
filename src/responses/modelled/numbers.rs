//! What a model of means tells: plain data.

use serde::{Deserialize, Serialize};

use super::options::MeanModelSpec;
use crate::effects::Adjust;
use crate::responses::MeanOf;
use crate::trial::Response;

/// The test of one effect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanEffect {
    /// `strength` or `strength x rootstock`.
    pub effect: String,
    /// "F" (or "F on bay": the recorded unit that judges the effect), or "not tested".
    pub test: String,
    /// The sum of squares of its contrasts over the sum of their variances.
    pub statistic: Option<f64>,
    /// Degrees of freedom of the effect, matched by moments.
    pub df: Option<f64>,
    /// Degrees of freedom of the error.
    pub error_df: Option<f64>,
    /// P value.
    pub p: Option<f64>,
    /// Largest difference between adjusted means of its levels (two interacting effects: between two such differences), in the unit of the
    /// response.
    pub largest_difference: Option<f64>,
    /// The largest such difference inside any of the confidence limits.
    pub not_ruled_out: Option<f64>,
    /// What it is judged by: "tray", or the column whose levels had its treatments as a whole.
    pub unit: String,
    /// P value of the same effect on the share that rooted.
    pub take_p: Option<f64>,
    /// P value of the same effect on the mean of those that rooted.
    pub of_rooted_p: Option<f64>,
    /// Why it is not tested; none where it is.
    pub why: Option<String>,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanEffects {
    /// The model that was asked.
    pub model: MeanModelSpec,
    /// The response as declared.
    pub response: Response,
    /// What the means are over.
    pub mean_of: MeanOf,
    /// Confidence level.
    pub confidence: f64,
    /// One per effect, then interactions.
    pub effects: Vec<MeanEffect>,
    /// Columns taken out beside the treatments.
    pub places: Vec<String>,
    /// Trays that enter.
    pub n_units: u64,
    /// Cuttings stuck in them.
    pub n_cuttings: u64,
    /// Trays in which cuttings rooted and none was measured: they do not enter.
    pub n_left_out: u64,
    /// True where this is the response that was named to lead.
    pub primary: bool,
}

/// The adjusted mean of one level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AdjustedMean {
    /// Level of the treatment.
    pub by: String,
    /// Level of the treatment it is split by.
    pub within: Option<String>,
    /// The mean; none when these data cannot give it.
    pub value: Option<f64>,
    /// Its standard error.
    pub se: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Degrees of freedom of the limits.
    pub df: Option<f64>,
    /// Rooted of stuck, 0 to 1.
    pub take: f64,
    /// Trays that enter.
    pub n_units: u64,
    /// Cuttings stuck.
    pub n_cuttings: u64,
    /// Cuttings rooted.
    pub n_rooted: u64,
    /// Cuttings measured.
    pub n_measured: u64,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AdjustedMeans {
    /// The model that was asked.
    pub model: MeanModelSpec,
    /// The response as declared.
    pub response: Response,
    /// What the means are over.
    pub mean_of: MeanOf,
    /// The treatment.
    pub by: String,
    /// The treatment it is split by.
    pub within: Option<String>,
    /// Confidence level.
    pub confidence: f64,
    /// What `n_units` counts.
    pub unit: String,
    /// What the limits are judged by.
    pub units_above: Vec<String>,
    /// One per level, in their order.
    pub means: Vec<AdjustedMean>,
    /// Seasons and blocks over whose further levels the limits hold.
    pub holds_over: Vec<String>,
    /// Seasons, blocks and plants of which the limits hold for the levels at hand alone.
    pub holds_at: Vec<String>,
    /// True where this is the response that was named to lead.
    pub primary: bool,
    /// Trays in which cuttings rooted and none was measured: they do not enter.
    pub n_left_out: u64,
}

/// A difference of two adjusted means, or another contrast of several.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanContrast {
    /// "strength 5000 against 2500".
    pub comparison: String,
    /// Level of the treatment within which it was formed.
    pub within: Option<String>,
    /// The contrast, in the unit of the response; none when not estimable.
    pub value: Option<f64>,
    /// Its standard error.
    pub se: Option<f64>,
    /// Lower limit, together with the others.
    pub low: Option<f64>,
    /// Upper limit, together with the others.
    pub high: Option<f64>,
    /// What is compared with t.
    pub statistic: Option<f64>,
    /// Degrees of freedom of t.
    pub df: Option<f64>,
    /// P value of this contrast alone.
    pub p: Option<f64>,
    /// P value adjusted for the family.
    pub p_adjusted: Option<f64>,
    /// The first mean over the second, where the contrast is of two.
    pub ratio: Option<f64>,
    /// Its lower limit, which holds 1 where that of the contrast alone holds 0.
    pub ratio_low: Option<f64>,
    /// Its upper limit; none where it is open.
    pub ratio_high: Option<f64>,
    /// The largest difference, either way, inside the limits.
    pub not_ruled_out: Option<f64>,
    /// Whether the interval lies within the margin.
    pub within_margin: Option<bool>,
    /// Why a number above is not available; none where all are.
    pub why: Option<String>,
}

/// A family of contrasts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanContrasts {
    /// The model that was asked.
    pub model: MeanModelSpec,
    /// The response as declared.
    pub response: Response,
    /// What the means are over.
    pub mean_of: MeanOf,
    /// The treatment.
    pub by: String,
    /// The treatment within whose levels contrasts were formed.
    pub within: Option<String>,
    /// The level that all others were set against.
    pub against: Option<String>,
    /// Name of the adjustment.
    pub together: Adjust,
    /// Confidence level of all intervals together (with no adjustment, of each).
    pub confidence: f64,
    /// The margin of equivalence.
    pub margin: Option<f64>,
    /// Contrasts that could be tested: the size of the family.
    pub n_tests: u64,
    /// What they are judged by.
    pub units: Vec<String>,
    /// The contrasts.
    pub contrasts: Vec<MeanContrast>,
    /// True where this is the response that was named to lead.
    pub primary: bool,
    /// Trays in which cuttings rooted and none was measured: they do not enter.
    pub n_left_out: u64,
}

impl MeanContrasts {
    /// True where P value and limits both show a difference.
    pub(crate) fn shows(&self, row: &MeanContrast) -> bool {
        let small = row.p_adjusted.is_some_and(|p| p < 1.0 - self.confidence);
        small && row.low.zip(row.high).is_some_and(|(low, high)| low > 0.0 || high < 0.0)
    }
}

/// An adjusted mean with its letters.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LetterMean {
    /// The mean with its interval and counts.
    #[serde(flatten)]
    pub mean: AdjustedMean,
    /// Its letters; none where the levels cannot be tested.
    pub letters: Option<String>,
}

/// Means with letters.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanLetters {
    /// The model that was asked.
    pub model: MeanModelSpec,
    /// The response as declared.
    pub response: Response,
    /// What the means are over.
    pub mean_of: MeanOf,
    /// The treatment.
    pub by: String,
    /// The treatment within whose levels letters are given.
    pub within: Option<String>,
    /// Name of the adjustment.
    pub together: Adjust,
    /// Confidence level.
    pub confidence: f64,
    /// What `n_units` counts.
    pub unit: String,
    /// True when no smaller number of letters can do.
    pub fewest: bool,
    /// One per level, in their order.
    pub means: Vec<LetterMean>,
    /// True where this is the response that was named to lead.
    pub primary: bool,
    /// Trays in which cuttings rooted and none was measured: they do not enter.
    pub n_left_out: u64,
}

/// A unit beside what the model expects of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CheckedUnit {
    /// Its name.
    pub unit: String,
    /// Its mean.
    pub mean: f64,
    /// The mean expected of it.
    pub expected: f64,
    /// How far it lies from that, in standard deviations; none where it alone makes what is expected.
    pub residual: Option<f64>,
    /// Values (cuttings) behind its mean.
    pub size: f64,
}

/// How the test of an effect changes when a single unit is left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct EffectWithout {
    /// The effect.
    pub effect: String,
    /// P value with all units.
    pub p: f64,
    /// The smallest P value without one of them.
    pub smallest_p: f64,
    /// Without which.
    pub smallest_without: String,
    /// The largest.
    pub largest_p: f64,
    /// Without which.
    pub largest_without: String,
}

/// Checks of a model of means.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanChecks {
    /// The model that was asked.
    pub model: MeanModelSpec,
    /// The response as declared.
    pub response: Response,
    /// What the means are over.
    pub mean_of: MeanOf,
    /// What is checked: "tray", or the column whose levels had a treatment as a whole.
    pub unit: String,
    /// One per unit.
    pub units: Vec<CheckedUnit>,
    /// Units further than 3 standard deviations from what is expected.
    pub n_far: u64,
    /// The power by which the variance of units grows with the mean: its slope on logarithms over combinations; none of fewer than four.
    pub growth: Option<f64>,
    /// Lower limit, 95 %.
    pub growth_low: Option<f64>,
    /// Upper limit, 95 %.
    pub growth_high: Option<f64>,
    /// One per effect that is tested, where there are no more than 400 units.
    pub without: Vec<EffectWithout>,
    /// Confidence level of the model.
    pub confidence: f64,
    /// True where this is the response that was named to lead.
    pub primary: bool,
    /// Trays in which cuttings rooted and none was measured: they do not enter.
    pub n_left_out: u64,
}

/// The mean expected of one combination of levels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanPrediction {
    /// Its levels, in the order of the model's treatments.
    pub levels: Vec<String>,
    /// The mean; none when these data cannot give it.
    pub value: Option<f64>,
    /// Its standard error.
    pub se: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Trays that had this combination.
    pub n_units: u64,
}

/// Means expected of combinations of levels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanPredictions {
    /// The model that was asked.
    pub model: MeanModelSpec,
    /// The response as declared.
    pub response: Response,
    /// What the means are over.
    pub mean_of: MeanOf,
    /// Confidence level.
    pub confidence: f64,
    /// One per row that was given.
    pub rows: Vec<MeanPrediction>,
    /// True where this is the response that was named to lead.
    pub primary: bool,
    /// Trays in which cuttings rooted and none was measured: they do not enter.
    pub n_left_out: u64,
}
