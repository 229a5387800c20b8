//! Two levels side by side, in numbers.

use super::mix::mixed;
use super::numbers::{CompareYieldsOptions, StepDifference, YieldComparison};
use super::shared::{Shared, Tie};
use super::side::{Side, column_of, counted, together};
use crate::effects::Adjustment;
use crate::error::{ChoiceError, Result, StepsError};
use crate::estimate::check_level;
use crate::math::distributions::student_t;
use crate::steps::chain::{Judged, limits, others};
use crate::steps::held::Steps;
use crate::steps::split::{Split, SplitMethod, by_orders, split};

/// By how much a take is moved to see how a part moves with it.
const MOVED: f64 = 1e-6;

/// Works out all of it.
pub(super) fn pair(
    steps: &Steps,
    column: &str,
    (first, second): (&str, &str),
    options: &CompareYieldsOptions,
) -> Result<YieldComparison> {
    check_level(options.confidence)?;
    if first == second {
        return Err(StepsError::LevelAgainstItself { level: first.to_owned() }.into());
    }
    let (at, known) = column_of(steps, column, Some([first, second]), options)?;
    let levels = counted(steps, (at, &known), options);
    let side = |level: &str| -> Result<Side<'_>> {
        let Some((_, batches)) = levels.iter().find(|(one, _)| one == level) else {
            let names: Vec<&str> = levels.iter().map(|(one, _)| one.as_str()).collect();
            return Err(ChoiceError::new("level", level, &names).into());
        };
        Side::of(steps, known.from, level.to_owned(), batches.clone())
    };
    let (one, two) = (side(first)?, side(second)?);
    let parts = split(&one.takes.takes, &two.takes.takes);
    let names = steps.columns().iter().skip(known.from + 1);
    let shared = Shared::of(steps, known.from, [&one, &two])?;
    let each = step_by_step(names, [&one, &two], (&parts, shared.as_ref()), options.confidence);
    let (value, low, high, df) = whole_apart([&one, &two], shared.as_ref(), options.confidence);
    let mixed = mixed(steps, (at, known.from), [&one, &two], options.confidence);
    let ends = mixed.as_ref().and_then(|mixed| mixed.limits);
    Ok(YieldComparison {
        column: column.to_owned(),
        whose: options.whose,
        start: steps.columns().get(known.from).cloned().unwrap_or_default(),
        n_batches_first: one.batches.len() as u64,
        n_batches_second: two.batches.len() as u64,
        same_batches: shared.is_some(),
        yield_first: one.takes.product(),
        yield_second: two.takes.product(),
        value,
        low,
        high,
        df,
        method: parts.method,
        steps: each,
        rates: mixed.as_ref().map(|mixed| mixed.rates),
        rates_low: ends.map(|ends| ends.0),
        rates_high: ends.map(|ends| ends.1),
        without_partner: mixed.as_ref().map(|mixed| mixed.without_partner),
        overlap: mixed.as_ref().map(|mixed| mixed.overlap),
        mix: mixed.map(|mixed| mixed.mix).unwrap_or_default(),
        confidence: options.confidence,
        first: one.level,
        second: two.level,
    })
}

/// The second yield less the first with limits and their degrees of freedom.
pub(super) fn whole_apart(sides: [&Side<'_>; 2], shared: Option<&Shared>, confidence: f64) -> (f64, f64, f64, f64) {
    let [one, two] = sides.map(|side| (side.takes.product(), side.takes.whole()));
    let slopes = sides.map(|side| others(&side.takes.takes));
    let rates = sides.map(|side| (side.takes.product(), side.takes.started()));
    tied_apart(one, two, shared.map(|shared| shared.difference(&slopes, rates)), confidence)
}

/// Each step: its takes, their difference, what it adds at the end.
fn step_by_step<'a>(
    names: impl Iterator<Item = &'a String>,
    [one, two]: [&Side<'_>; 2],
    (parts, shared): (&Split, Option<&Shared>),
    confidence: f64,
) -> Vec<StepDifference> {
    names
        .enumerate()
        .map(|(step, name)| {
            let take = |side: &Side<'_>| side.takes.takes.get(step).copied().unwrap_or_default();
            let own = |at: usize| f64::from(u8::from(at == step));
            let slopes = [one, two].map(|side| (0..side.takes.takes.len()).map(own).collect::<Vec<f64>>());
            let rates = [one, two].map(|side| (take(side), side.takes.sums.get(step).map_or(0.0, |sum| sum.0)));
            let tie = shared.map(|shared| shared.difference(&slopes, rates));
            let known = |side: &Side<'_>| (take(side), side.takes.take(step));
            let (value, low, high, _) = tied_apart(known(one), known(two), tie, confidence);
            let together = Adjustment::Bonferroni.interval_level(confidence, one.takes.takes.len());
            let (_, least, most, _) = tied_apart(known(one), known(two), tie, together);
            let part = parts.parts.get(step).copied().unwrap_or_default();
            let (part_low, part_high) = part_limits([one, two], step, (part, parts.method), shared, confidence);
            StepDifference {
                step: name.clone(),
                take_first: take(one),
                take_second: take(two),
                value,
                low,
                high,
                differs: least > 0.0 || most < 0.0,
                part,
                part_low,
                part_high,
            }
        })
        .collect()
}

/// Second minus first with limits: the squared distances of each rate to its own limits are added up (Zou and Donner 2008), with t on the
/// degrees of freedom of the difference. Where batches have plants of both, twice the product of the distances by their correlation is taken
/// off, as the variance of a difference has it.
fn tied_apart(
    (first, one): (f64, Judged),
    (second, two): (f64, Judged),
    tie: Option<Tie>,
    confidence: f64,
) -> (f64, f64, f64, f64) {
    let df = tie.map_or_else(|| together(one, two).1, |tie| tie.df);
    let ends = |value: f64, known: Judged| limits(value, Judged { df, ..known }, confidence);
    let ((low_one, high_one), (low_two, high_two)) = (ends(first, one), ends(second, two));
    let value = second - first;
    let far = |here: f64, there: f64| match tie {
        None => here.hypot(there),
        Some(tie) => (here * here + there * there - 2.0 * tie.correlation * here * there).max(0.0).sqrt(),
    };
    let low = value - far(second - low_two, high_one - first);
    let high = value + far(high_two - second, first - low_one);
    (value, low.max(-1.0), high.min(1.0), df)
}

/// Limits of a step's part: how it moves with each take of either side, with t.
fn part_limits(
    [one, two]: [&Side<'_>; 2],
    step: usize,
    (part, method): (f64, SplitMethod),
    shared: Option<&Shared>,
    confidence: f64,
) -> (f64, f64) {
    let (before, after) = (&one.takes.takes, &two.takes.takes);
    let of = |before: &[f64], after: &[f64]| {
        let found = match method {
            SplitMethod::LogarithmicMean => split(before, after),
            SplitMethod::AllOrders => by_orders(before, after),
        };
        found.parts.get(step).copied().unwrap_or_default()
    };
    let moved = |takes: &[f64], place: usize, by: f64| -> Vec<f64> {
        takes.iter().enumerate().map(|(at, take)| if at == place { take + by } else { *take }).collect()
    };
    let slopes = |first: bool| -> Vec<f64> {
        (0..before.len())
            .map(|place| {
                let at = |by: f64| {
                    if first { of(&moved(before, place, by), after) } else { of(before, &moved(after, place, by)) }
                };
                (at(MOVED) - at(-MOVED)) / (2.0 * MOVED)
            })
            .collect()
    };
    let slopes = [slopes(true), slopes(false)];
    let rates = [one, two].map(|side| (side.takes.product(), side.takes.started()));
    let (variance, df) = if let Some(shared) = shared {
        let tie = shared.tie(&slopes, rates);
        (tie.variance, tie.df)
    } else {
        let [first, second] = &slopes;
        let known =
            |side: &Side<'_>, slopes: &[f64]| side.takes.combined(slopes, side.takes.product(), side.takes.started());
        together(known(one, first), known(two, second))
    };
    let reach = student_t::quantile(f64::midpoint(1.0, confidence), df) * variance.sqrt();
    (part - reach, part + reach)
}
