//! What is asked of a model of means.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::effects::{Adjust, Average, LetterOrder, Pattern};
use crate::responses::MeanOf;

/// A response, the treatments that may change it, and which of these may change each other.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct MeanModelSpec {
    /// The response.
    pub response: String,
    /// What the means are over; as is usual for the response when not given.
    pub mean_of: Option<MeanOf>,
    /// Treatments.
    pub effects: Vec<String>,
    /// Sets of treatments that interact; those of fewer inside a set enter with it.
    pub interactions: Vec<Vec<String>>,
    /// Confidence level, a proportion.
    pub confidence: f64,
}

impl Default for MeanModelSpec {
    fn default() -> Self {
        Self { response: String::new(), mean_of: None, effects: Vec::new(), interactions: Vec::new(), confidence: 0.95 }
    }
}

impl MeanModelSpec {
    /// A response and its treatments, with everything else at its default.
    ///
    /// ```
    /// use rootling::responses::MeanModelSpec;
    /// assert_eq!(MeanModelSpec::of("roots", &["strength"]).effects, ["strength"]);
    /// ```
    #[must_use]
    pub fn of(response: &str, effects: &[&str]) -> Self {
        let effects = effects.iter().map(|name| (*name).to_owned()).collect();
        Self { response: response.to_owned(), effects, ..Self::default() }
    }
}

/// What is asked of adjusted means.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MeanLevelOptions {
    /// A treatment whose levels are kept apart.
    pub within: Option<String>,
    /// Treatments held at a level.
    pub at: BTreeMap<String, String>,
    /// How the other treatments are averaged over.
    pub average: Average,
    /// Confidence level; that of the model when not given.
    pub confidence: Option<f64>,
}

/// What is asked of contrasts and of letters.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MeanContrastOptions {
    /// The level that all others are set against; "control" for the control.
    pub against: Option<String>,
    /// Which levels are set against which; with `against` every level against that one.
    pub pattern: Pattern,
    /// A treatment within whose levels the contrasts are formed.
    pub within: Option<String>,
    /// How they share the error rate.
    pub together: Adjust,
    /// Differences within it count as none, in the unit of the response.
    pub margin: Option<f64>,
    /// Treatments held at a level.
    pub at: BTreeMap<String, String>,
    /// How the other treatments are averaged over.
    pub average: Average,
    /// Which level gets the first letter.
    pub order: LetterOrder,
    /// Confidence level of all intervals together; that of the model when not given.
    pub confidence: Option<f64>,
    /// Seed of the quasi-random points of the joint distribution.
    pub seed: u64,
}
