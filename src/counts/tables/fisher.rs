//! The exact test of a 2 x 2 table.

use serde::{Deserialize, Serialize};

use super::conditional::{Conditional, MOST_CONDITIONAL};
use super::table::ContingencyTable;
use crate::counts::OddsRatioMethod;
use crate::error::{CountError, Result};
use crate::estimate::Estimate;

const LEVEL: f64 = 0.95;
const NO_ODDS_RATIO: &str =
    "A row or a column holds nothing, so these counts are as probable under every odds ratio: none can be told.";

/// P values of the exact test with the odds ratio they refer to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FisherExact {
    /// Two-sided P: all tables that are not more probable than the observed one, with relative slack 1e-7.
    pub p: f64,
    /// Two-sided P by doubling: twice the smaller one-sided P, at most 1.
    pub doubled: f64,
    /// Two-sided P after Blaker: the smaller tail and the largest opposite tail that does not exceed it.
    pub blaker: f64,
    /// P of a rate in the second row at most as large as observed.
    pub p_lower: f64,
    /// P of a rate in the second row at least as large as observed.
    pub p_higher: f64,
    /// Two-sided mid-P: the two-sided P less half the probability of the observed table.
    pub mid_p: f64,
    /// Twice the smaller one-sided mid-P, at most 1.
    pub mid_p_doubled: f64,
    /// `less` with the observed table weighing one half.
    pub mid_p_lower: f64,
    /// `greater` with the observed table weighing one half.
    pub mid_p_higher: f64,
    /// Conditional maximum likelihood odds ratio, second row over first (0 or infinite at the ends), with exact 95 % limits; `None` where a row or a column
    /// holds nothing, since these counts are then as probable under every odds ratio.
    pub odds_ratio: Option<Estimate<OddsRatioMethod>>,
    /// Why there is no odds ratio.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub odds_ratio_left_out: Option<String>,
}

/// Fisher's exact test of the 2 x 2 table `[[a, b], [c, d]]`, all margins fixed.
///
/// The odds ratio is that of the second row over the first, `b c / (a d)`, and `greater` speaks for one above 1. Small tails are summed from their own terms, so P values far
/// below 1e-16 keep their digits. For limits at another level use [`odds_ratio`](crate::compare). The test is
/// conservative in small tables; the mid-P form less so.
///
/// # Errors
/// [`CountError::NotDefined`] when the table is not 2 x 2; [`CountError::TooLargeForExact`] above 10^9 plants.
///
/// # References
/// Blaker 2000, Can. J. Stat. 28:783-798; Fisher 1935, J. R. Stat. Soc. 98:39-82; Cornfield 1956, Proc. 3rd Berkeley Symp. 4:135-148; Lancaster 1961, J. Am.
/// Stat. Assoc. 56:223-234.
///
/// ```
/// use rootling::counts::{ContingencyTable, fisher};
/// let table = ContingencyTable::new(vec![vec![3, 1], vec![1, 3]])?;
/// approx::assert_relative_eq!(fisher(&table)?.p, 34.0 / 70.0, epsilon = 0.0, max_relative = 2e-12);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn fisher(table: &ContingencyTable) -> Result<FisherExact> {
    let Some([a, b, c, d]) = table.four_cells() else {
        return Err(CountError::NotDefined {
            what: "this exact test",
            why: "the table is not 2 x 2; use the chi-square tests or compare two rows and two columns at a time",
        }
        .into());
    };
    if table.total() > MOST_CONDITIONAL {
        return Err(CountError::TooLargeForExact { total: table.total(), most: MOST_CONDITIONAL }.into());
    }
    let cell = Conditional::new(c, c + d, a + b, a + c);
    let tails = cell.tails(1.0);
    let p = cell.not_more_probable();
    let half = 0.5 * tails.point;
    let odds_ratio = if cell.is_fixed() { None } else { Some(odds_ratio(&cell)?) };
    let odds_ratio_left_out = odds_ratio.is_none().then(|| NO_ODDS_RATIO.to_owned());
    let doubled = |less: f64, greater: f64| (2.0 * less.min(greater)).min(1.0);
    Ok(FisherExact {
        p,
        doubled: doubled(tails.lower, tails.upper),
        blaker: cell.blaker(),
        p_lower: tails.lower,
        p_higher: tails.upper,
        mid_p: p - half,
        mid_p_doubled: doubled(tails.lower - half, tails.upper - half),
        mid_p_lower: tails.lower - half,
        mid_p_higher: tails.upper - half,
        odds_ratio,
        odds_ratio_left_out,
    })
}

fn odds_ratio(cell: &Conditional) -> Result<Estimate<OddsRatioMethod>> {
    let (low, high) = cell.odds_ratio_limits(0.5 * (1.0 - LEVEL), 1.0)?;
    let method = OddsRatioMethod::ConditionalExact;
    Ok(Estimate { value: cell.odds_ratio()?, se: None, low, high, confidence: LEVEL, method })
}
