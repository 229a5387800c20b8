//! Contrasts of a fitted model.

use super::answer::answer;
use super::asked::{Around, Asked};
use super::family::Family;
use super::goal::Scale;
use super::numbers::{Contrast, Contrasts};
use super::options::ContrastOptions;
use super::solve::{Row, Solved, Work};
use crate::answer::Answer;
use crate::control::Control;
use crate::effects::averaging::Averaging;
use crate::effects::judged_by::comparison_error;
use crate::effects::resolve::Names;
use crate::error::{EffectError, Result};
use crate::estimate::check_level;
use crate::models::{Model, Ready, Stratum, is_used};
use crate::trial::answer_of_units;

/// What [`Model::contrasts`] tells.
pub(crate) fn contrasts(
    model: &Model,
    by: &str,
    options: &ContrastOptions,
    control: &Control,
) -> Result<Answer<Contrasts>> {
    let ready = model.ready()?;
    let asked = ask(model, &ready, by, options, (true, control))?;
    Ok(answer_of_units(&model.units, answer(model, &ready, asked)))
}

/// The figures of a question; limits only where wanted.
pub(crate) fn ask(
    model: &Model,
    ready: &Ready,
    by: &str,
    options: &ContrastOptions,
    (limits, control): (bool, &Control),
) -> Result<Asked> {
    check_level(options.confidence)?;
    check_margin(options)?;
    let adjust = options.together;
    let names = Names { model, ready };
    let asked = std::iter::once(by).chain(options.within.as_deref()).chain(options.changing_with.as_deref());
    let asked: Vec<usize> = asked.map(|name| Ok(names.factor(name)?.0)).collect::<Result<_>>()?;
    let averaging = Averaging::new(names, &options.at, &options.average)?.for_levels(ready, &asked);
    let family = Family::new(names, by, options, &averaging)?;
    let error = stratum(model, by, options);
    let work = Work { model, ready, family: &family, options, adjust, error, control };
    let solved = work.solve(limits)?;
    let figures = figures(by, options, &family, &solved, error);
    let around = Around {
        adjust,
        curve: family.curve,
        scaled: family.scaled,
        mixed: averaging.notes(),
        weighted: family.members.iter().any(|member| member.parts() > 2),
        averaged: family.averages(),
        reached: solved.reached,
        by_covariance: solved.by_covariance && is_used(model),
        options: options.clone(),
        confounded: error.is_none(),
        outcome: model.spec.outcome,
    };
    Ok(Asked { figures, around })
}

fn check_margin(options: &ContrastOptions) -> Result<()> {
    let Some(value) = options.margin else { return Ok(()) };
    let (fits, wanted) = match options.scale {
        Scale::Points => {
            (value > 0.0 && value < 1.0, "a proportion above 0 and below 1; 0.1 stands for 10 trees per 100")
        }
        _ => (value > 1.0 && value.is_finite(), "a factor above 1; 1.25 stands for a ratio between 0.8 and 1.25"),
    };
    if fits { Ok(()) } else { Err(EffectError::Margin { value, wanted }.into()) }
}

/// The error the contrasts are measured against.
fn stratum(model: &Model, by: &str, options: &ContrastOptions) -> Option<Stratum> {
    let Some(other) = &options.changing_with else { return comparison_error(model, by) };
    // Differences of differences between whole plots and within them are measured between trays.
    match (model.strata.on_whole_plots(by), model.strata.on_whole_plots(other)) {
        (true, false) => comparison_error(model, other),
        _ => comparison_error(model, by),
    }
}

const NO_LIMIT: &str = "no fit was found with the contrast held at its limit";

/// Why a contrast has no estimate or no test.
fn why(row: Option<&Row>, error: Option<Stratum>) -> Option<&'static str> {
    match (row, error) {
        (None, _) => Some("it needs a combination of levels that was not tried"),
        (_, None) => Some("its effect cannot be told apart from that of the places it was laid out on"),
        (Some(row), _) => row.why,
    }
}

fn figures(by: &str, options: &ContrastOptions, family: &Family, solved: &Solved, error: Option<Stratum>) -> Contrasts {
    let found = |(index, member): (usize, &super::family::Member)| {
        let row = solved.rows.iter().find(|row| row.member == index);
        let end = |value: Option<f64>| value.filter(|value| !value.is_nan());
        let low = end(row.and_then(|row| row.limits).map(|limits| limits.0));
        let high = end(row.and_then(|row| row.limits).map(|limits| limits.1));
        let size = |value: f64| if options.scale == Scale::Points { value.abs() } else { value.max(1.0 / value) };
        let not_ruled_out = low.zip(high).map(|(low, high)| size(low).max(size(high)));
        let limits = row.and_then(|row| row.limits);
        Contrast {
            comparison: member.comparison.clone(),
            within: member.within.clone(),
            value: row.map(|row| row.value),
            se: row.and_then(|row| row.se),
            low,
            high,
            statistic: row.and_then(|row| row.statistic),
            df: row.and_then(|row| row.df),
            p: row.and_then(|row| row.p),
            p_adjusted: row.and_then(|row| row.p_adjusted),
            not_ruled_out,
            within_margin: options
                .margin
                .and_then(|margin| limits.map(|_| not_ruled_out.is_some_and(|most| most < margin))),
            why: why(row, error)
                .or_else(|| (limits.is_some() && not_ruled_out.is_none()).then_some(NO_LIMIT))
                .map(str::to_owned),
        }
    };
    let fewest = solved.rows.iter().filter_map(|row| row.df).reduce(f64::min);
    Contrasts {
        by: by.to_owned(),
        within: options.within.clone(),
        changing_with: options.changing_with.clone(),
        against: family.against.clone(),
        scale: options.scale,
        together: options.together,
        confidence: options.confidence,
        df: fewest.or_else(|| error.and_then(|error| error.df)),
        critical: solved.critical,
        margin: options.margin,
        n_tests: solved.rows.iter().filter(|row| row.p_adjusted.is_some()).count() as u64,
        contrasts: family.members.iter().enumerate().map(found).collect(),
    }
}
