//! The batches of one level, from the step on at which levels can differ.

use std::collections::BTreeMap;

use super::numbers::CompareYieldsOptions;
use crate::error::{ChoiceError, Result, StepsError};
use crate::steps::chain::{Judged, Passed, Takes};
use crate::steps::held::{LevelColumn, Steps, StepsBatch, StepsPart};
use crate::steps::yields::YieldOf;

/// The plants of one batch at one level: all of it, or those of its parts that stood there.
#[derive(Clone)]
pub(super) struct Piece<'a> {
    pub(super) batch: &'a StepsBatch,
    pub(super) steps: Vec<Option<Passed>>,
    /// Its level in each column; None where its parts differ in another one.
    pub(super) labels: Option<&'a [String]>,
    /// True where the batch has plants at other levels too.
    is_part: bool,
}

impl Piece<'_> {
    fn reaches(&self, step: usize) -> bool {
        self.steps.get(step).copied().flatten().is_some_and(|one| one.reached > 0)
    }
}

/// One level.
pub(super) struct Side<'a> {
    pub(super) level: String,
    pub(super) batches: Vec<Piece<'a>>,
    pub(super) takes: Takes,
}

/// The column of that name, with its place. Where batches have plants at several of its levels it is followed from the first step on that has two
/// batches at each of `among`, or at each level that was followed to the end where no levels are given.
pub(super) fn column_of(
    steps: &Steps,
    column: &str,
    among: Option<[&str; 2]>,
    options: &CompareYieldsOptions,
) -> Result<(usize, LevelColumn)> {
    let columns = steps.level_columns();
    if columns.is_empty() {
        return Err(StepsError::NoLevels.into());
    }
    let found = columns.iter().enumerate().find(|(_, one)| one.column == column);
    let (at, known) = found.ok_or_else(|| {
        let names: Vec<&str> = columns.iter().map(|one| one.column.as_str()).collect();
        ChoiceError::new("column of levels", column, &names)
    })?;
    steps.counted_at_each_step()?;
    if steps.parted(at) == 0 {
        return Ok((at, known.clone()));
    }
    let mut from = known.from;
    for (level, pieces) in counted(steps, (at, known), options) {
        if among.is_some_and(|among| !among.contains(&level.as_str())) {
            continue;
        }
        match (since(&pieces, steps.columns().len() - 1), among) {
            (Some(first), _) => from = from.max(first),
            (None, Some(_)) => return Err(StepsError::LevelNotFollowed { column: column.to_owned(), level }.into()),
            (None, None) => {}
        }
    }
    Ok((at, LevelColumn { from, ..known.clone() }))
}

/// The first step from which on two batches and more of a level have plants at each.
fn since(pieces: &[Piece<'_>], steps: usize) -> Option<usize> {
    let lacking = |step: &usize| pieces.iter().filter(|piece| piece.reaches(*step)).count() < 2;
    match (0..steps).rev().find(lacking) {
        None => Some(0),
        Some(last) if last + 1 < steps => Some(last + 1),
        Some(_) => None,
    }
}

/// True where a level has batches enough to see how they differ, at each step where some of them have plants at other levels too.
pub(super) fn are_enough(pieces: &[Piece<'_>], column: &LevelColumn) -> bool {
    let steps = pieces.first().map_or(0, |one| one.steps.len());
    let parts = pieces.iter().any(|piece| piece.is_part);
    pieces.len() > 1 && (!parts || since(pieces, steps).is_some_and(|first| first <= column.from))
}

/// Batches that count, by level; of a batch with parts at several levels each has its own.
pub(super) fn counted<'a>(
    steps: &'a Steps,
    (at, column): (usize, &LevelColumn),
    options: &CompareYieldsOptions,
) -> Vec<(String, Vec<Piece<'a>>)> {
    let counts = |batch: &&StepsBatch| {
        let mut onward = batch.steps.iter().skip(column.from);
        match options.whose {
            YieldOf::FollowedCohorts => onward.all(Option::is_some),
            YieldOf::CurrentRates => onward.any(Option::is_some),
        }
    };
    let mut found: BTreeMap<String, Vec<Piece<'a>>> = BTreeMap::new();
    for batch in steps.batches().iter().filter(counts) {
        let levels = batch.levels_onward(at, column.from);
        if levels.len() < 2 {
            let level = levels.first().map(|level| (*level).to_owned()).or_else(|| batch.labels.get(at).cloned());
            let labels = batch.parts.is_empty().then_some(batch.labels.as_slice());
            let piece = Piece { batch, steps: batch.steps.clone(), labels, is_part: false };
            // Plants that never came to a treatment have no level of it.
            if let Some(level) = level.filter(|level| !level.is_empty()) {
                found.entry(level).or_default().push(piece);
            }
        }
        for level in levels.iter().filter(|_| levels.len() > 1) {
            let own = batch.parts.iter().filter(|part| part.labels.get(at).is_some_and(|label| label == level));
            found.entry((*level).to_owned()).or_default().extend(piece(batch, own.collect()));
        }
    }
    let mut found: Vec<(String, Vec<Piece<'a>>)> = found.into_iter().collect();
    found.sort_by(|a, b| natural(&a.0, &b.0));
    found
}

/// All levels of a column among batches that count, also those that none was followed at to the end.
pub(super) fn names(steps: &Steps, at: usize, options: &CompareYieldsOptions) -> Vec<String> {
    let column = steps.level_columns().get(at);
    let found = column.map(|column| counted(steps, (at, column), options)).unwrap_or_default();
    found.into_iter().map(|(level, _)| level).collect()
}

/// Parts of one batch together.
fn piece<'a>(batch: &'a StepsBatch, parts: Vec<&'a StepsPart>) -> Option<Piece<'a>> {
    let first = parts.first()?;
    let labels = (parts.len() == 1).then_some(first.labels.as_slice());
    let step = |at: usize| parts.iter().filter_map(|part| part.steps.get(at).copied().flatten()).reduce(Passed::and);
    Some(Piece { batch, steps: (0..batch.steps.len()).map(step).collect(), labels, is_part: true })
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
    pub(super) fn of(steps: &Steps, from: usize, level: String, mut batches: Vec<Piece<'a>>) -> Result<Self> {
        batches.retain(|piece| !piece.is_part || (from..piece.steps.len()).any(|step| piece.reaches(step)));
        if batches.len() < 2 {
            return Err(StepsError::TooFewOfLevel { level, batches: batches.len() }.into());
        }
        let chain: Vec<Vec<Option<Passed>>> =
            batches.iter().map(|one| one.steps.iter().skip(from).copied().collect()).collect();
        let whole: Vec<&StepsBatch> = batches.iter().map(|one| one.batch).collect();
        let takes = Takes::of(&chain, steps.seasons_of(&whole).as_deref()).map_err(steps.naming(from))?;
        Ok(Self { level, batches, takes })
    }
}

/// The variance of a sum of two things known apart, and Satterthwaite's degrees of freedom.
pub(super) fn together(one: Judged, two: Judged) -> (f64, f64) {
    let variance = one.variance + two.variance;
    let parts = one.variance * one.variance / one.df + two.variance * two.variance / two.df;
    (variance, if parts > 0.0 { variance * variance / parts } else { one.df.min(two.df) })
}
