//! What is asked of an early sign, and what is answered.

use serde::{Deserialize, Serialize};

use crate::choice::choice;

/// How plants were chosen that were read to the end, among those of one side of the sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Kept {
    /// By how they looked, or nobody knows: what is not read can be anything.
    #[default]
    Chosen,
    /// Irrespective of outlook, as by lot: those not read are taken to be like those read.
    Irrespective,
}

choice!(
    Kept, "way of keeping plants":
    Chosen = "chosen",
    Irrespective = "irrespective",
);

/// Plants of one tray, or of all where no trays were recorded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SignCounts {
    /// With the sign and rooted.
    pub with_rooted: u64,
    /// With the sign, not rooted.
    pub with_failed: u64,
    /// Without the sign and rooted.
    pub without_rooted: u64,
    /// Without the sign, not rooted.
    pub without_failed: u64,
    /// With the sign, taken away before anybody could see whether they root.
    pub with_unread: u64,
    /// Without the sign, taken away before anybody could see whether they root.
    pub without_unread: u64,
}

/// What is asked of an early sign.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SignOptions {
    /// What the sign is called: tint, swelling, callus.
    pub sign: String,
    /// How plants that were read were chosen, where some were not.
    pub kept: Kept,
    /// What each plant that is kept costs until it is read.
    pub cost: Option<f64>,
    /// What each rooted tree is worth.
    pub worth: Option<f64>,
    /// Confidence of the limits.
    pub confidence: f64,
}

impl Default for SignOptions {
    fn default() -> Self {
        Self { sign: "sign".to_owned(), kept: Kept::Chosen, cost: None, worth: None, confidence: 0.95 }
    }
}

/// What is measured of a sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SignQuestion {
    /// Of rooted plants, the share with the sign.
    Sensitivity,
    /// Of plants that failed, the share without the sign.
    Specificity,
    /// Of plants with the sign, the share that rooted.
    RootedOfWith,
    /// Of plants without the sign, the share that failed.
    FailedOfWithout,
    /// How many times likelier the sign is among rooted plants than among failed ones.
    LikelihoodRatioWith,
    /// How many times likelier its absence is among rooted plants than among failed ones.
    LikelihoodRatioWithout,
}

choice!(
    SignQuestion, "question to a sign":
    Sensitivity = "sensitivity",
    Specificity = "specificity",
    RootedOfWith = "rooted-of-with",
    FailedOfWithout = "failed-of-without",
    LikelihoodRatioWith = "likelihood-ratio-with",
    LikelihoodRatioWithout = "likelihood-ratio-without",
);

impl SignQuestion {
    /// True for a ratio, which has no upper end.
    #[must_use]
    pub const fn is_ratio(self) -> bool {
        matches!(self, Self::LikelihoodRatioWith | Self::LikelihoodRatioWithout)
    }
}

/// Which way a sign points, by the limits (or bounds) of the difference in rooting with and without it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SignPoints {
    /// Plants with the sign root more.
    ToRooting,
    /// Plants with the sign root less.
    AgainstRooting,
    /// Neither is shown.
    NotShown,
    /// All plants have it, or none has.
    Nowhere,
}

choice!(
    SignPoints, "way a sign points":
    ToRooting = "to-rooting",
    AgainstRooting = "against-rooting",
    NotShown = "not-shown",
    Nowhere = "nowhere",
);

/// One answer about a sign.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SignMeasure {
    /// What is measured.
    pub question: SignQuestion,
    /// The estimate; None where what was not read leaves it open, or nothing defines it.
    pub value: Option<f64>,
    /// Lower limit, or lower bound where the estimate is open.
    pub low: Option<f64>,
    /// Upper limit, or upper bound; None for one without end.
    pub high: Option<f64>,
    /// What the plants that were read say by themselves.
    pub as_read: Option<f64>,
}

/// What an early sign tells.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct EarlySign {
    /// What the sign is called.
    pub sign: String,
    /// Plants read to the end.
    pub n_plants: u64,
    /// Plants taken away before.
    pub n_unread: u64,
    /// Trays; None where none were recorded.
    pub n_units: Option<u64>,
    /// How plants that were read were chosen; None where all were read.
    pub kept: Option<Kept>,
    /// True where limits are what the plants not read leave open.
    pub bounds: bool,
    /// The answers.
    pub measures: Vec<SignMeasure>,
    /// Which way the sign points.
    pub points: SignPoints,
    /// Share rooted of plants with the sign less that of plants without it; None where that is open.
    pub more_rooted: Option<f64>,
    /// Its lower limit or bound.
    pub more_rooted_low: Option<f64>,
    /// Its upper limit or bound.
    pub more_rooted_high: Option<f64>,
    /// Share of all plants that has no sign: places that culling would free.
    pub freed: f64,
    /// Share of all plants that has no sign and would root: trees that culling would lose; None where that is open.
    pub lost: Option<f64>,
    /// Its lower limit or bound.
    pub lost_low: Option<f64>,
    /// Its upper limit or bound.
    pub lost_high: Option<f64>,
    /// What culling saves in costs of plants that are kept no longer, for each plant of all; None where no costs are given.
    pub saved: Option<f64>,
    /// What a plant with the sign brings less what it costs to keep; None where costs or worth are not given, or its rooting is open.
    #[serde(default)]
    pub kept_gain: Option<f64>,
    /// Its lower limit or bound.
    #[serde(default)]
    pub kept_gain_low: Option<f64>,
    /// Its upper limit or bound.
    #[serde(default)]
    pub kept_gain_high: Option<f64>,
    /// What the trees lost by culling are worth, for each plant of all.
    pub forgone: Option<f64>,
    /// What culling gains, for each plant of all: saved less forgone.
    pub gained: Option<f64>,
    /// Its lower limit or bound.
    pub gained_low: Option<f64>,
    /// Its upper limit or bound.
    pub gained_high: Option<f64>,
    /// Share of all plants that would root; None where that is open.
    pub rooted: Option<f64>,
    /// Confidence of the limits.
    pub confidence: f64,
}
