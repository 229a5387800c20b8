//! The batches of one level, from the step on at which levels can differ.

use super::numbers::CompareYieldsOptions;
use crate::error::{ChoiceError, Result, StepsError};
use crate::steps::chain::{Judged, Passed, Takes};
use crate::steps::held::{LevelColumn, Steps, StepsBatch};
use crate::steps::yields::YieldOf;

/// One level.
pub(super) struct Side<'a> {
    pub(super) level: String,
    pub(super) batches: Vec<&'a StepsBatch>,
    pub(super) takes: Takes,
}

/// The column of that name, with its place.
pub(super) fn column_of<'a>(steps: &'a Steps, column: &str) -> Result<(usize, &'a LevelColumn)> {
    let known = steps.level_columns();
    if known.is_empty() {
        return Err(StepsError::NoLevels.into());
    }
    let found = known.iter().enumerate().find(|(_, one)| one.column == column);
    found.ok_or_else(|| {
        let names: Vec<&str> = known.iter().map(|one| one.column.as_str()).collect();
        ChoiceError::new("column of levels", column, &names).into()
    })
}

/// Batches that count, by level.
pub(super) fn counted<'a>(
    steps: &'a Steps,
    (at, column): (usize, &LevelColumn),
    options: &CompareYieldsOptions,
) -> Vec<(String, Vec<&'a StepsBatch>)> {
    let counts = |batch: &&StepsBatch| {
        let mut onward = batch.steps.iter().skip(column.from);
        match options.whose {
            YieldOf::FollowedCohorts => onward.all(Option::is_some),
            YieldOf::CurrentRates => onward.any(Option::is_some),
        }
    };
    let mut found: Vec<(String, Vec<&StepsBatch>)> = Vec::new();
    for batch in steps.batches().iter().filter(counts) {
        let level = batch.labels.get(at).cloned().unwrap_or_default();
        match found.iter_mut().find(|(known, _)| *known == level) {
            Some((_, batches)) => batches.push(batch),
            None => found.push((level, vec![batch])),
        }
    }
    found.sort_by(|a, b| natural(&a.0, &b.0));
    found
}

/// Numbers by size, names by letter.
fn natural(a: &str, b: &str) -> std::cmp::Ordering {
    match (a.parse::<f64>(), b.parse::<f64>()) {
        (Ok(one), Ok(two)) => one.total_cmp(&two),
        _ => a.cmp(b),
    }
}

impl<'a> Side<'a> {
    /// The takes of a level, within seasons where these are named.
    pub(super) fn of(steps: &Steps, from: usize, level: String, batches: Vec<&'a StepsBatch>) -> Result<Self> {
        if batches.len() < 2 {
            return Err(StepsError::TooFewOfLevel { level, batches: batches.len() }.into());
        }
        let chain: Vec<Vec<Option<Passed>>> =
            batches.iter().map(|one| one.steps.iter().skip(from).copied().collect()).collect();
        let takes = Takes::of(&chain, steps.seasons_of(&batches).as_deref())?;
        Ok(Self { level, batches, takes })
    }
}

/// The variance of a sum of two things known apart, and Satterthwaite's degrees of freedom.
pub(super) fn together(one: Judged, two: Judged) -> (f64, f64) {
    let variance = one.variance + two.variance;
    let parts = one.variance * one.variance / one.df + two.variance * two.variance / two.df;
    (variance, if parts > 0.0 { variance * variance / parts } else { one.df.min(two.df) })
}
