//! What is asked of all levels of a treatment, and what is found: plain data.

use serde::{Deserialize, Serialize};

use crate::compare::carried::Carried;
use crate::compare::changing::Changing;
use crate::compare::numbers::CompareOptions;
use crate::effects::Adjustment;
use crate::trial::Outcome;

/// Options of [`all_levels`](crate::compare::all_levels()).
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AllOptions {
    /// The level that all others are set against; every pair when not given.
    pub against: Option<String>,
    /// Name of the adjustment; "holm" when not given.
    pub together: Adjustment,
    /// Everything else, as for one comparison; `level` is that of all intervals together.
    pub compare: CompareOptions,
}

/// One pair of levels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PairComparison {
    /// The level that is subtracted.
    pub first: String,
    /// The level compared with it.
    pub second: String,
    /// Difference of take rates, second minus first, a proportion.
    pub value: f64,
    /// Lower simultaneous limit.
    pub low: Option<f64>,
    /// Upper simultaneous limit.
    pub high: Option<f64>,
    /// P value of this pair alone.
    pub p: Option<f64>,
    /// P value adjusted for the number of pairs.
    pub p_adjusted: Option<f64>,
    /// Test that gave the P value.
    pub test: Option<String>,
    /// Units of the first and of the second level.
    pub n_units: (u64, u64),
    /// Units that carry the comparison, of the first and of the second level: those in strata that hold both.
    #[serde(default)]
    pub n_units_used: (u64, u64),
    /// All that is counted of them, where units are counted.
    #[serde(default)]
    pub carried: Option<Carried>,
    /// Degrees of freedom of its statistic.
    #[serde(default)]
    pub error_df: Option<f64>,
    /// P value of dealing the trays out again, where that is a second opinion on the pair alone.
    #[serde(default)]
    pub second_opinion: Option<f64>,
    /// Smallest P value that dealing them out again can give, by the design.
    #[serde(default)]
    pub smallest_p: Option<f64>,
    /// False where that test could reach what a pair needs among all pairs (1 - `interval_level`) and does not.
    #[serde(default)]
    pub confirmed: bool,
    /// Why this pair has no test, when it is withheld.
    #[serde(default)]
    pub withheld: Option<String>,
}

/// All levels of one treatment compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AllComparisons {
    /// The treatment.
    pub factor: String,
    /// The level that all others are set against, if one is.
    pub against: Option<String>,
    /// The adjustment, by the name that `together=` accepts.
    pub together: Adjustment,
    /// Confidence of all intervals together.
    pub confidence: f64,
    /// Level of each interval.
    pub interval_level: f64,
    /// Pairs with a P value: the size of the family.
    pub n_tests: u64,
    /// "tray", the whole plot's column, or "cutting".
    pub unit: String,
    /// Method of the intervals.
    pub method: String,
    /// The pairs.
    pub pairs: Vec<PairComparison>,
    /// What is counted.
    #[serde(default)]
    pub outcome: Outcome,
    /// Whether the differences between all levels change with other treatments.
    #[serde(default)]
    pub changing: Vec<Changing>,
}
