//! What is asked of the association of a trial, and what is found: plain data.

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::compare::Carried;
use crate::estimate::{TestName, TestResult};
use crate::rates::{TakeRate, TraysUse};
use crate::report::Spoken;
use crate::trial::Outcome;

/// The tests that count trays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AssociationMethod {
    /// F of tray rates; the default for more than two levels.
    TrayRates,
    /// The same, its P value by dealing the trays out anew.
    Randomisation,
    /// Chi-square divided by one design effect (Donner 1989).
    Donner,
    /// Chi-square on counts divided by design effects, level by level (Rao and Scott 1992).
    RaoScott,
    /// Pearson's chi-square over its mean design effect (Rao and Scott 1981).
    RaoScottFirstOrder,
    /// The same with the spread of design effects taken into account.
    RaoScottSecondOrder,
    /// The score of a comparison, for two levels; their default.
    Score,
}

choice!(
    AssociationMethod, "association method":
    TrayRates = "tray-rates",
    Randomisation = "randomisation",
    Donner = "donner",
    RaoScott = "rao-scott",
    RaoScottFirstOrder = "rao-scott-first-order",
    RaoScottSecondOrder = "rao-scott-second-order",
    Score = "score",
);

impl From<AssociationMethod> for TestName {
    fn from(method: AssociationMethod) -> Self {
        match method {
            AssociationMethod::TrayRates => Self::TrayRates,
            AssociationMethod::Randomisation => Self::Randomisation,
            AssociationMethod::Donner => Self::Donner,
            AssociationMethod::RaoScott => Self::RaoScott,
            AssociationMethod::RaoScottFirstOrder => Self::RaoScottFirstOrder,
            AssociationMethod::RaoScottSecondOrder => Self::RaoScottSecondOrder,
            AssociationMethod::Score => Self::Score,
        }
    }
}

/// Options of [`association`](crate::tables::association()).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AssociationOptions {
    /// A column whose levels are kept apart.
    pub within: Option<String>,
    /// Whether trays are counted.
    pub trays: TraysUse,
    /// The test that leads where trays are counted; when not given "score" for two levels and "tray-rates" for more.
    pub method: Option<AssociationMethod>,
    /// Seed of drawn randomisations.
    pub seed: u64,
    /// Randomisations drawn when there are too many to enumerate.
    pub randomisations: u64,
    /// How the treatment and its levels are said; by the column's name when not given.
    pub spoken: Option<Spoken>,
    /// What is counted.
    pub outcome: Outcome,
}

impl Default for AssociationOptions {
    fn default() -> Self {
        Self {
            within: None,
            trays: TraysUse::Auto,
            method: None,
            seed: 1,
            randomisations: 99_999,
            spoken: None,
            outcome: Outcome::Take,
        }
    }
}

/// One test in one stratum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AssociationTest {
    /// Level of the `within` column, when there is one.
    pub stratum: Option<String>,
    /// "trays" or "cuttings": what is counted.
    pub counts: String,
    /// The test.
    pub test: TestResult,
}

/// The tests, the leading one first within each stratum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Association {
    /// The treatment.
    pub factor: String,
    /// All tests.
    pub tests: Vec<AssociationTest>,
    /// Columns that `rates` are by: the treatment, after the column to stay within.
    pub by: Vec<String>,
    /// The take rates that the tests are about.
    pub rates: Vec<TakeRate>,
    /// The leading P value over all strata: the smallest, without adjustment.
    pub p: Option<f64>,
    /// The test that leads.
    pub method: TestName,
    /// What is counted: "tray", the whole plot's column, or "cutting".
    pub unit: String,
    /// What judges the differences: the unit, and places or plants that cross it; empty where cuttings are counted.
    #[serde(default)]
    pub judged_by: Vec<String>,
    /// Places or plants that cross the units and could not be taken into the error.
    #[serde(default)]
    pub left_out: Vec<String>,
    /// Other treatments or places that lie unevenly over the levels and are taken out of the leading test by least squares.
    #[serde(default)]
    pub adjusted_for: Vec<String>,
    /// Smallest P value a randomisation test can reach in any stratum, by the design, when trays are counted.
    pub smallest_p: Option<f64>,
    /// Monte Carlo standard error of the randomisation P value that is least well known, when assignments were drawn.
    pub se: Option<f64>,
    /// Why no test is given, when it is withheld.
    pub withheld: Option<String>,
    /// The units that carry the tests, one entry for each level of the column to stay within; empty where cuttings are counted.
    #[serde(default)]
    pub carried: Vec<Carried>,
    /// The season or block over which the levels follow one another without overlap: dates were not dealt out.
    #[serde(default)]
    pub follows_time: Option<String>,
}
