//! The leading test of a comparison, for whoever asks about a treatment of exactly two levels: one question, one answer.

use std::collections::BTreeMap;

use super::arms::gather;
use super::carried::Carried;
use super::effective_strata::EffectiveStrata;
use super::numbers::CompareOptions;
use crate::error::{CountError, Error, Result};
use crate::estimate::{TestName, TestResult};
use crate::trial::{Factor, Units};

/// Why there is no test when no unit has a second one beside it.
pub(super) const NOTHING_TO_JUDGE: &str = "with one unit in each there is nothing to judge the difference by";

/// The test of a comparison, or why there is none, and the units that carry it.
#[derive(Debug, Default)]
pub(crate) struct TwoLevels {
    pub(crate) test: Option<TestResult>,
    pub(crate) reason: Option<String>,
    pub(crate) carried: Option<Carried>,
    /// The score that the test is of.
    pub(crate) strata: Option<EffectiveStrata>,
    /// What is taken out by least squares.
    pub(crate) adjusted_for: Vec<String>,
    /// The unit, and what crosses it.
    pub(crate) judged_by: Vec<String>,
}

/// What [`super::strengths`] says about the first two levels of a treatment in trays: its test, or why it withholds it. Neither
/// when a level has no unit there. `at` holds levels of other columns to stay within.
///
/// # Errors
/// As [`super::strengths`].
pub(crate) fn two_level_test(units: &Units, treatment: &Factor, at: BTreeMap<String, String>) -> Result<TwoLevels> {
    let options = CompareOptions { at, ..CompareOptions::default() };
    let arms = match gather(units, treatment, (0, 1), &options) {
        Err(Error::Count(CountError::TooFewTrays { .. })) => return Ok(TwoLevels::default()),
        found => found?,
    };
    let Some(strata) = arms.score().filter(|_| arms.withheld.is_none()) else {
        let reason = arms.withheld.or_else(|| Some(NOTHING_TO_JUDGE.to_owned()));
        return Ok(TwoLevels { reason, carried: Some(arms.carried), ..TwoLevels::default() });
    };
    let test = TestResult {
        method: TestName::Score,
        statistic: Some(strata.statistic()),
        df: Some(strata.df()),
        error_df: None,
        p: strata.p(),
    };
    Ok(TwoLevels {
        test: Some(test),
        reason: None,
        carried: Some(arms.carried),
        strata: Some(strata),
        adjusted_for: arms.adjusted.map(|one| one.beside).unwrap_or_default(),
        judged_by: arms.judged_by,
    })
}
