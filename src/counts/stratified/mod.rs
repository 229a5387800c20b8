//! Tables in strata: the association within strata, put together.

mod conditional;
mod general;
mod homogeneity;
mod mantel_haenszel;
mod strata;

use serde::{Deserialize, Serialize};

pub use conditional::CommonOddsRatio;
pub use general::{Generalised, generalised};
pub use homogeneity::{Homogeneity, homogeneity};
pub use mantel_haenszel::{MantelHaenszel, mantel_haenszel};
pub use strata::Strata;

use self::strata::FourCells;
use crate::control::Control;
use crate::error::Result;
use crate::estimate::check_level;

/// Options of [`stratified`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StratifiedOptions {
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Scores of the rows; 1, 2, 3, ... when not given.
    pub row_scores: Option<Vec<f64>>,
    /// Scores of the columns; 1, 2, 3, ... when not given.
    pub column_scores: Option<Vec<f64>>,
}

impl Default for StratifiedOptions {
    fn default() -> Self {
        Self { confidence: 0.95, row_scores: None, column_scores: None }
    }
}

/// Everything about tables in strata.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Stratified {
    /// Strata given.
    pub strata: u64,
    /// Strata, counted from 1, that say nothing about the association: fewer than two rows or two columns with plants.
    pub uninformative: Vec<u64>,
    /// Generalised tests for tables of any shape.
    pub generalised: Generalised,
    /// Common effects of 2 x 2 tables; `None` for larger ones.
    pub common: Option<MantelHaenszel>,
    /// Are the odds ratios alike? `None` for larger tables or fewer than two informative strata.
    pub homogeneity: Option<Homogeneity>,
    /// Exact conditional inference on the common odds ratio; `None` for larger tables and for tables with too many plants.
    pub exact: Option<CommonOddsRatio>,
    /// Why there is no exact inference, where there is none.
    pub exact_left_out: Option<String>,
}

/// Association of rows and columns within strata: Mantel-Haenszel estimates and tests, generalised Cochran-Mantel-Haenszel
/// tests, homogeneity, and exact conditional inference for 2 x 2 tables.
///
/// `strata[k]` has the same rows and columns in every stratum; in 2 x 2 tables the first column counts the rooted. Strata
/// without information are left out and named. The plants are taken as independent given their stratum.
///
/// # Errors
/// [`CountError`](crate::error::CountError) for tables that differ in shape or when no stratum is informative;
/// [`Error::Interrupted`](crate::Error) when the control was stopped.
///
/// # References
/// Mantel & Haenszel 1959, J. Natl. Cancer Inst. 22:719-748; see the parts for more.
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{Strata, StratifiedOptions, stratified};
/// // plum root cuttings, planting x (alive, dead), long and short; Hoblyn & Palmer 1934
/// let strata = Strata::new(vec![vec![vec![156, 84], vec![84, 156]], vec![vec![107, 133], vec![31, 209]]])?;
/// let found = stratified(&strata, &StratifiedOptions::default(), &Control::new())?;
/// approx::assert_abs_diff_eq!(found.common.ok_or("not 2 x 2")?.odds_ratio.value, 1.0 / 4.177, epsilon = 1e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn stratified(strata: &Strata, options: &StratifiedOptions, control: &Control) -> Result<Stratified> {
    check_level(options.confidence)?;
    // Effects are those of the second row against the first.
    let turned = |[a, b, c, d]: FourCells| [c, d, a, b];
    let four: Option<Vec<FourCells>> = strata.four_cells().map(|all| all.into_iter().map(turned).collect());
    let (common, homogeneity, exact) = match &four {
        None => (None, None, None),
        Some(tables) => {
            let common = mantel_haenszel(tables, options.confidence)?;
            let homogeneity = homogeneity(tables, common.odds_ratio.value);
            (Some(common), homogeneity, conditional::common_odds_ratio(tables, options.confidence, control)?)
        }
    };
    let exact_left_out = match (&four, &exact) {
        (_, Some(_)) => None,
        (None, _) => Some("the tables are larger than 2 x 2, so there is no common odds ratio".to_owned()),
        (Some(_), None) => Some(
            "the strata hold too many plants for exact work; the Mantel-Haenszel odds ratio and its limits stand in"
                .to_owned(),
        ),
    };
    Ok(Stratified {
        strata: strata.tables().len() as u64,
        uninformative: strata.uninformative(),
        generalised: generalised(strata, options.row_scores.as_deref(), options.column_scores.as_deref())?,
        common,
        homogeneity,
        exact,
        exact_left_out,
    })
}
