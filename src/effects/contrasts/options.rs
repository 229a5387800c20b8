//! What is asked of contrasts.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::goal::Scale;
use crate::choice::written_by_name;
use crate::effects::average::{Average, RateOf};
use crate::effects::multiplicity::Adjustment;
use crate::error::{ChoiceError, Result};

/// Which levels are set against which.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pattern {
    /// Every level against every earlier one.
    #[default]
    AllPairs,
    /// Every level against one.
    Control,
    /// Every level against the one before it.
    Steps,
    /// The change from the lowest to the highest level along a straight line through the rates.
    Trend,
    /// Weights per level under a name; positive ones are scaled to sum to 1.
    Weights(Vec<(String, BTreeMap<String, f64>)>),
}

impl Pattern {
    /// As records hold it: by name, or the weights under theirs.
    pub(crate) fn recorded(&self) -> String {
        match self {
            Self::AllPairs => "all-pairs".to_owned(),
            Self::Control => "control".to_owned(),
            Self::Steps => "steps".to_owned(),
            Self::Trend => "trend".to_owned(),
            Self::Weights(lists) => format!("{lists:?}"),
        }
    }
}

/// How the contrasts of a family share the error rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Adjust {
    /// One step, from the joint t (or normal) distribution of the contrasts.
    #[default]
    Joint,
    /// One step, by the studentised range; for all pairs.
    TukeyKramer,
    /// One step, by Dunnett's distribution; for comparisons with one level.
    Dunnett,
    /// All contrasts that could be formed of the family.
    Scheffe,
    /// A list of single P values adjusted for their number.
    List(Adjustment),
}

impl Adjust {
    /// Those in one step, in the order of the documentation.
    pub const SINGLE: [Self; 4] = [Self::Joint, Self::TukeyKramer, Self::Dunnett, Self::Scheffe];

    /// Every value, in the order of the documentation.
    fn all() -> impl Iterator<Item = Self> {
        Self::SINGLE.into_iter().chain(Adjustment::ALL.map(Self::List))
    }

    /// The name that `together=` accepts.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Joint => "joint",
            Self::TukeyKramer => "tukey-kramer",
            Self::Dunnett => "dunnett",
            Self::Scheffe => "scheffe",
            Self::List(adjustment) => adjustment.name(),
        }
    }

    /// The name in a sentence.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Joint => "their joint distribution",
            Self::TukeyKramer => "Tukey-Kramer",
            Self::Dunnett => "Dunnett",
            Self::Scheffe => "Scheffé",
            Self::List(adjustment) => adjustment.in_words(),
        }
    }

    /// True when intervals leave out no difference exactly where the adjusted P value is below 1 - level.
    #[must_use]
    pub fn matches_intervals(self) -> bool {
        match self {
            Self::List(adjustment) => adjustment.matches_intervals(),
            _ => true,
        }
    }
}

impl std::str::FromStr for Adjust {
    type Err = crate::Error;

    fn from_str(name: &str) -> Result<Self> {
        let known = || Self::all().map(Self::name).collect::<Vec<_>>();
        Self::all().find(|one| one.name() == name).ok_or_else(|| ChoiceError::new("adjustment", name, &known()).into())
    }
}

written_by_name!(Adjust, Adjust::all().map(Adjust::name).collect::<Vec<_>>());

/// What is asked of contrasts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ContrastOptions {
    /// The level that all others are set against; "control" for the control.
    pub against: Option<String>,
    /// Which levels are set against which; with `against` every level against that one.
    pub pattern: Pattern,
    /// A factor within whose levels the contrasts are formed.
    pub within: Option<String>,
    /// A factor with which the contrasts may change: differences of differences between its levels.
    pub changing_with: Option<String>,
    /// The scale.
    pub scale: Scale,
    /// How they share the error rate.
    pub together: Adjust,
    /// Contrasts within it count as equivalent: a proportion for differences, a factor above 1 for ratios.
    pub margin: Option<f64>,
    /// Factors and covariates held at a value.
    pub at: BTreeMap<String, String>,
    /// How other factors are averaged over.
    pub average: Average,
    /// Whose rates are compared where trays have random effects.
    pub rate_of: RateOf,
    /// Confidence level of all intervals together.
    pub confidence: f64,
    /// Seed of the quasi-random points of the joint distribution.
    pub seed: u64,
}

impl Default for ContrastOptions {
    fn default() -> Self {
        Self {
            against: None,
            pattern: Pattern::AllPairs,
            within: None,
            changing_with: None,
            scale: Scale::Points,
            together: Adjust::Joint,
            margin: None,
            at: BTreeMap::new(),
            average: Average::Alike,
            rate_of: RateOf::AllTrays,
            confidence: 0.95,
            seed: 1,
        }
    }
}
