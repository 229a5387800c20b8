//! What is asked of a response, and what is answered: plain data.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::compare::{Carried, Randomisation};
use crate::trial::{Response, ResponseKind};

/// What a mean is over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeanOf {
    /// All cuttings stuck; one that did not root has none.
    Stuck,
    /// Cuttings that rooted.
    Rooted,
}

choice!(
    MeanOf, "kind of mean":
    Stuck = "stuck",
    Rooted = "rooted",
);

impl MeanOf {
    /// What the mean of a response is over where nobody says: counts are of all that were stuck, what is measured of one root or one
    /// plant of those that have any.
    #[must_use]
    pub fn usual(kind: ResponseKind) -> Self {
        if kind == ResponseKind::Count { Self::Stuck } else { Self::Rooted }
    }
}

/// Options of [`crate::trial::Trial::means`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MeansOptions {
    /// The response.
    pub response: String,
    /// What the means are over; as is usual for the response when not given.
    pub mean_of: Option<MeanOf>,
    /// Confidence level, a proportion.
    pub confidence: f64,
}

impl Default for MeansOptions {
    fn default() -> Self {
        Self { response: String::new(), mean_of: None, confidence: 0.95 }
    }
}

/// Options of [`crate::trial::Trial::compare_response`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CompareResponseOptions {
    /// The response.
    pub response: String,
    /// What the means are over; as is usual for the response when not given.
    pub mean_of: Option<MeanOf>,
    /// Levels of other columns to stay within.
    pub at: BTreeMap<String, String>,
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Seed of the randomisation test, where assignments are drawn.
    pub seed: u64,
    /// Assignments drawn where there are too many to go through.
    pub randomisations: u64,
}

impl Default for CompareResponseOptions {
    fn default() -> Self {
        Self {
            response: String::new(),
            mean_of: None,
            at: BTreeMap::new(),
            confidence: 0.95,
            seed: 1,
            randomisations: 9_999,
        }
    }
}

/// The mean of one combination of levels, and the two parts behind it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ResponseMean {
    /// Levels, in the order of the columns asked for.
    pub levels: Vec<String>,
    /// The mean; none where nothing was measured.
    pub value: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Degrees of freedom of the limits.
    pub df: Option<f64>,
    /// Rooted of stuck, 0 to 1.
    pub take: f64,
    /// The mean of those that rooted.
    pub of_rooted: Option<f64>,
    /// Its lower limit.
    pub of_rooted_low: Option<f64>,
    /// Its upper limit.
    pub of_rooted_high: Option<f64>,
    /// Units that enter.
    pub n_units: u64,
    /// Cuttings stuck.
    pub n_cuttings: u64,
    /// Cuttings rooted.
    pub n_rooted: u64,
    /// Cuttings measured.
    pub n_measured: u64,
}

/// Means of a response.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ResponseMeans {
    /// The response as declared.
    pub response: Response,
    /// What the means are over.
    pub mean_of: MeanOf,
    /// Columns whose levels have a mean each.
    pub by: Vec<String>,
    /// Confidence level.
    pub confidence: f64,
    /// What `n_units` counts: "tray", or the column whose levels the limits are judged by.
    pub unit: String,
    /// One mean per combination that has cuttings.
    pub means: Vec<ResponseMean>,
    /// True where this is the response that was named to lead.
    pub primary: bool,
    /// Trays in which cuttings rooted and none was measured: they do not enter.
    pub n_left_out: u64,
}

/// A part of a difference: takes, or means of those that rooted.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PartDifference {
    /// That of the first level.
    pub first: f64,
    /// That of the second level.
    pub second: f64,
    /// Second minus first.
    pub value: f64,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// P value.
    pub p: Option<f64>,
}

/// The second mean over the first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RatioOfMeans {
    /// The ratio.
    pub value: f64,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit; none where it is open.
    pub high: Option<f64>,
}

/// Two levels of a treatment compared in a response.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ResponseComparison {
    /// The response as declared.
    pub response: Response,
    /// What the means are over.
    pub mean_of: MeanOf,
    /// The treatment.
    pub factor: String,
    /// The first level.
    pub first: ResponseMean,
    /// The second level.
    pub second: ResponseMean,
    /// Second mean minus first, within `within`.
    pub value: f64,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
    /// What is compared with t.
    pub statistic: Option<f64>,
    /// Degrees of freedom of t.
    pub df: Option<f64>,
    /// P value of no difference.
    pub p: Option<f64>,
    /// The ratio of the means, whose limits hold 1 where those of the difference hold 0.
    pub ratio: Option<RatioOfMeans>,
    /// The difference of takes, the first part.
    pub take: Option<PartDifference>,
    /// The difference of those that rooted, the second part.
    pub of_rooted: Option<PartDifference>,
    /// Trays dealt anew by their means.
    pub randomisation: Option<Randomisation>,
    /// Columns within whose levels trays are compared.
    pub within: Vec<String>,
    /// How many units carry the comparison.
    pub carried: Carried,
    /// What the difference is judged by: "tray", or the column whose levels had a treatment as a whole.
    pub unit: String,
    /// Why there is no test, where there is none.
    pub withheld: Option<String>,
    /// True where this is the response that was named to lead.
    pub primary: bool,
    /// Trays in which cuttings rooted and none was measured: they do not enter.
    pub n_left_out: u64,
}
