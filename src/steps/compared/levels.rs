//! All levels of a column side by side, in numbers.

use super::numbers::{CompareYieldsOptions, LevelPair, LevelStep, LevelYield, YieldsByLevel};
use super::pair::whole_apart;
use super::shared::Shared;
use super::side::{Side, are_enough, column_of, counted, names};
use crate::effects::Adjustment;
use crate::error::{Result, StepsError};
use crate::estimate::check_level;
use crate::steps::chain::{limits, others};
use crate::steps::held::Steps;

/// Works out all of it.
pub(super) fn by_level(steps: &Steps, column: &str, options: &CompareYieldsOptions) -> Result<YieldsByLevel> {
    check_level(options.confidence)?;
    let (at, known) = column_of(steps, column, None, options)?;
    let (several, few): (Vec<_>, Vec<_>) =
        counted(steps, (at, &known), options).into_iter().partition(|(_, batches)| are_enough(batches, &known));
    if let ([(level, batches)], true) = (few.as_slice(), several.len() == 1) {
        return Err(StepsError::TooFewOfLevel { level: level.clone(), batches: batches.len() }.into());
    }
    if several.len() < 2 {
        let level = several.into_iter().chain(few).next().map(|one| one.0).unwrap_or_default();
        return Err(StepsError::OneLevel { column: column.to_owned(), level }.into());
    }
    let sides: Result<Vec<Side<'_>>> =
        several.into_iter().map(|(level, batches)| Side::of(steps, known.from, level, batches)).collect();
    let sides = sides?;
    let levels: Vec<LevelYield> = sides.iter().map(|side| level(side, options.confidence)).collect();
    let kept = |name: &str| levels.iter().any(|one| one.level == name);
    let best = levels.iter().reduce(|best, one| if one.value > best.value { one } else { best });
    let best = best.map(|best| best.level.clone()).unwrap_or_default();
    let pairs = pairs(steps, known.from, &sides, options.confidence)?;
    let less = |level: &String| {
        let shown =
            |pair: &LevelPair| pair.second == *level && pair.high < 0.0 || pair.first == *level && pair.low > 0.0;
        pairs.iter().any(shown)
    };
    let may_be_best = levels.iter().map(|one| one.level.clone()).filter(|level| !less(level)).collect();
    let columns: Vec<&String> = steps.columns().iter().skip(known.from + 1).collect();
    let each = columns.iter().enumerate().flat_map(|(step, name)| step_of(&sides, step, name, options.confidence));
    Ok(YieldsByLevel {
        column: column.to_owned(),
        whose: options.whose,
        start: steps.columns().get(known.from).cloned().unwrap_or_default(),
        best,
        may_be_best,
        pairs,
        steps: each.collect(),
        left_out: names(steps, at, options).into_iter().filter(|name| !kept(name)).collect(),
        confidence: options.confidence,
        levels,
    })
}

/// Every two levels, with limits that hold together by Bonferroni's inequality.
fn pairs(steps: &Steps, from: usize, sides: &[Side<'_>], confidence: f64) -> Result<Vec<LevelPair>> {
    let count = sides.len() * sides.len().saturating_sub(1) / 2;
    let each = Adjustment::Bonferroni.interval_level(confidence, count);
    let two = &|one: &Side<'_>, two: &Side<'_>| {
        let shared = Shared::of(steps, from, [one, two])?;
        let (value, low, high, _) = whole_apart([one, two], shared.as_ref(), each);
        Ok(LevelPair { first: one.level.clone(), second: two.level.clone(), value, low, high })
    };
    let later = |at: usize| sides.iter().skip(at + 1);
    sides.iter().enumerate().flat_map(|(at, one)| later(at).map(move |other| two(one, other))).collect()
}

fn level(side: &Side<'_>, confidence: f64) -> LevelYield {
    let (value, judged) = (side.takes.product(), side.takes.whole());
    let (low, high) = limits(value, judged, confidence);
    LevelYield {
        level: side.level.clone(),
        n_batches: side.batches.len() as u64,
        n_started: side.takes.started() as u64,
        value,
        low,
        high,
        df: judged.df,
    }
}

/// All levels at one step, each beside the best.
fn step_of(sides: &[Side<'_>], step: usize, name: &str, confidence: f64) -> Vec<LevelStep> {
    let take = |side: &Side<'_>| side.takes.takes.get(step).copied().unwrap_or_default();
    let Some(best) = sides.iter().reduce(|best, one| if take(one) > take(best) { one } else { best }) else {
        return Vec::new();
    };
    let one = |side: &Side<'_>| {
        let own = take(side);
        let (low, high) = limits(own, side.takes.take(step), confidence);
        let gap = take(best) - own;
        let other = others(&side.takes.takes).get(step).copied().unwrap_or_default();
        LevelStep {
            level: side.level.clone(),
            step: name.to_owned(),
            take: own,
            low,
            high,
            best: best.level.clone(),
            gap,
            gain: other * gap,
        }
    };
    sides.iter().map(one).collect()
}
