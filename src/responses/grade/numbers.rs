//! What is asked of grades, and what is found: plain data.

use serde::{Deserialize, Serialize};

use super::trays::GradeCorrelation;
use crate::trial::GradesOf;

/// Options of [`Trial::grades`](crate::trial::Trial::grades).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct GradeOptions {
    /// The response's column.
    pub response: String,
    /// The grade that counts: the share of cuttings that reach it leads.
    pub at_least: i64,
    /// Which cuttings grades are of.
    pub of: GradesOf,
    /// The level that odds ratios are set against; the control, or the first level, when not given.
    pub against: Option<String>,
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// The difference of shares that matters, a proportion.
    pub nearly: f64,
    /// Seed of drawn randomisations.
    pub seed: u64,
}

impl Default for GradeOptions {
    fn default() -> Self {
        Self {
            response: String::new(),
            at_least: 0,
            of: GradesOf::Stuck,
            against: None,
            confidence: 0.95,
            nearly: 0.10,
            seed: 1,
        }
    }
}

/// The grades of one level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GradeLevel {
    /// The level.
    pub level: String,
    /// Cuttings of each grade: first those that did not root and got none, then from the lowest grade on.
    pub counts: Vec<u64>,
    /// Cuttings.
    pub n_cuttings: u64,
    /// Units that hold them.
    pub n_units: u64,
    /// The median grade; none where it is a cutting without a grade.
    pub median: Option<i64>,
    /// Share that reaches the grade asked for.
    pub value: f64,
    /// Lower limit of that share.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// An F test of a treatment or of its odds ratios.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GradeTest {
    /// F.
    pub statistic: f64,
    /// Its degrees of freedom.
    pub df: f64,
    /// Those of the error; none where cuttings are counted.
    pub error_df: Option<f64>,
    /// P value.
    pub p: f64,
}

/// An odds ratio with its limits; what is not there is beyond every odds ratio.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GradeRatio {
    /// The ratio of odds.
    pub value: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// P value of ratio 1.
    pub p: f64,
}

/// The odds ratio at one grade alone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RatioAtGrade {
    /// The grade reached.
    pub at_least: i64,
    /// Its odds ratio.
    #[serde(flatten)]
    pub ratio: GradeRatio,
}

/// Odds of a better grade at one level over those at another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GradeOdds {
    /// The level.
    pub level: String,
    /// The level it is set against.
    pub against: String,
    /// One ratio for all grades.
    #[serde(flatten)]
    pub ratio: GradeRatio,
    /// The ratio at each grade alone.
    pub by_grade: Vec<RatioAtGrade>,
}

/// All grades at once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AllGrades {
    /// Whether the levels differ.
    pub test: GradeTest,
    /// Odds ratios, each with limits of its own.
    pub odds: Vec<GradeOdds>,
    /// Whether one ratio serves all grades; none with two grades held.
    pub one_slope: Option<GradeTest>,
    /// How alike grades of one unit are; none where cuttings are counted.
    pub correlation: Option<GradeCorrelation>,
    /// Places and other treatments taken out.
    pub within: Vec<String>,
    /// Grades that nobody holds, which are joined with the next below.
    pub joined: Vec<i64>,
    /// True where a level holds one end alone, so that the fit needed cuttings added.
    pub steadied: bool,
    /// Units that carry it.
    pub n_units: u64,
}

/// Grades at the levels of a treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Grades {
    /// The response's column.
    pub response: String,
    /// The treatment.
    pub factor: String,
    /// The lowest grade of the scale.
    pub lowest: i64,
    /// The highest.
    pub highest: i64,
    /// The grade that counts.
    pub at_least: i64,
    /// Which cuttings grades are of.
    pub of: GradesOf,
    /// What is counted: tray, the column that stands for it, or cutting.
    pub unit: String,
    /// Confidence level of all limits.
    pub confidence: f64,
    /// The levels.
    pub levels: Vec<GradeLevel>,
    /// All grades at once; none where that cannot be judged.
    pub all_grades: Option<AllGrades>,
    /// Why it cannot.
    pub withheld: Option<String>,
}
