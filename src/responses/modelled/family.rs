//! Contrasts of adjusted means, judged one by one and together.

use super::levels::{Levels, label, level_of};
use super::model::{Fits, Modelled};
use super::numbers::{MeanContrast, MeanContrasts};
use super::options::{MeanContrastOptions, MeanLevelOptions, MeanModelSpec};
use crate::control::Control;
use crate::effects::{
    Adjust, Adjustment, Direction, Family, Pattern, SingleStep, adjusted_p, along_a_line, single_step,
};
use crate::error::{CountError, EffectError, Result};
use crate::estimate::check_level;
use crate::math::distributions::multivariate::Precision;
use crate::math::distributions::{normal, student_t};
use crate::math::regression::{UnitContrast, ratio_limits};
use crate::trial::Trial;

/// Contrasts of one family at most.
const MOST: usize = 1_000;

/// One contrast before it is judged: its name, its slice, and weights of levels.
struct Line {
    comparison: String,
    within: Option<usize>,
    weights: Vec<f64>,
    /// The two levels, where it is of two.
    pair: Option<(usize, usize)>,
}

/// Works out a family of contrasts.
pub(super) fn contrasts(
    trial: &Trial,
    spec: &MeanModelSpec,
    by: &str,
    options: &MeanContrastOptions,
    control: &Control,
) -> Result<MeanContrasts> {
    let model = Modelled::of(trial, spec)?;
    asked(trial, &model, by, options, control)
}

/// The same of a model at hand.
pub(super) fn asked(
    trial: &Trial,
    model: &Modelled<'_>,
    by: &str,
    options: &MeanContrastOptions,
    control: &Control,
) -> Result<MeanContrasts> {
    let confidence = check_level(options.confidence.unwrap_or(model.confidence))?;
    if let Some(margin) = options.margin.filter(|margin| !(margin.is_finite() && *margin > 0.0)) {
        let problem = CountError::OutOfRange { name: "margin", value: margin, low: 0.0, high: f64::INFINITY };
        return Err(problem.into());
    }
    let levels = MeanLevelOptions {
        within: options.within.clone(),
        at: options.at.clone(),
        average: options.average.clone(),
        confidence: Some(confidence),
    };
    let question = Levels::of(model, by, &levels)?;
    let against = against(trial, model, question.by, options)?;
    let lines = lines(model, &question, against, options)?;
    let fits = model.fits();
    let mut rows = Vec::new();
    let mut found: Vec<Option<(usize, Vec<f64>)>> = Vec::new();
    for line in &lines {
        control.step()?;
        let weights = over_cells(model, &question, line);
        let (row, judged) = one(&fits, &question, line, weights.clone(), confidence);
        found.push(judged.then_some((rows.len(), weights)));
        rows.push(row);
    }
    let tested: Vec<(usize, Vec<f64>)> = found.into_iter().flatten().collect();
    together(&fits, &mut rows, &tested, options, confidence, control)?;
    for row in &mut rows {
        let ends = row.low.zip(row.high);
        row.not_ruled_out = ends.map(|(low, high)| low.abs().max(high.abs()));
        row.within_margin = options.margin.zip(ends).map(|(margin, (low, high))| -margin < low && high < margin);
    }
    Ok(MeanContrasts {
        model: model.spec.clone(),
        response: model.gathered.measured.response.clone(),
        mean_of: model.of,
        by: by.to_owned(),
        within: options.within.clone(),
        against: against.map(|level| label(model, question.by, level)),
        together: options.together,
        confidence,
        margin: options.margin,
        n_tests: tested.len() as u64,
        units: model.strata.iter().map(|one| one.unit.clone()).collect(),
        contrasts: rows,
        primary: model.primary,
        n_left_out: model.n_left_out,
    })
}

fn against(trial: &Trial, model: &Modelled<'_>, by: usize, options: &MeanContrastOptions) -> Result<Option<usize>> {
    let name = model.grid.factors.get(by).map_or("", |one| one.name.as_str());
    let control = || trial.controls().get(name).cloned();
    let wanted = match (&options.against, &options.pattern) {
        (Some(level), _) if level == "control" => Some(control().unwrap_or_else(|| level.clone())),
        (Some(level), _) => Some(level.clone()),
        (None, Pattern::Control) => Some(control().unwrap_or_else(|| label(model, by, 0))),
        (None, _) => None,
    };
    wanted.map(|level| level_of(model, by, &level)).transpose()
}

fn lines(
    model: &Modelled<'_>,
    question: &Levels,
    against: Option<usize>,
    options: &MeanContrastOptions,
) -> Result<Vec<Line>> {
    let (by, width) = (question.by, model.grid.width(question.by));
    let factor = model.grid.factors.get(by).map_or("", |one| one.name.as_str());
    let pair = |second: usize, first: usize, within: Option<usize>| {
        let mut weights = vec![0.0; width];
        weights.get_mut(second).into_iter().for_each(|one| *one = 1.0);
        weights.get_mut(first).into_iter().for_each(|one| *one = -1.0);
        let comparison = format!("{factor} {} against {}", label(model, by, second), label(model, by, first));
        Line { comparison, within, weights, pair: Some((first, second)) }
    };
    let mut found = Vec::new();
    for within in question.slices(model) {
        match (&options.pattern, against) {
            (_, Some(first)) => {
                found.extend((0..width).filter(|level| *level != first).map(|second| pair(second, first, within)));
            }
            (Pattern::Steps, None) => found.extend((1..width).map(|second| pair(second, second - 1, within))),
            (Pattern::Trend, None) => found.push(trend(model, by, within)),
            (Pattern::Weights(lists), None) => {
                for (name, given) in lists {
                    let mut weights = vec![0.0; width];
                    for (level, weight) in given {
                        weights.get_mut(level_of(model, by, level)?).into_iter().for_each(|one| *one = *weight);
                    }
                    let (up, sum): (f64, f64) = (weights.iter().filter(|one| **one > 0.0).sum(), weights.iter().sum());
                    if !(up > 0.0 && up.is_finite()) {
                        return Err(EffectError::NoWeights { name: name.clone() }.into());
                    }
                    if sum.abs() > 1e-9 * up {
                        return Err(EffectError::Weights { name: name.clone(), sum }.into());
                    }
                    weights.iter_mut().for_each(|one| *one /= up);
                    found.push(Line { comparison: name.clone(), within, weights, pair: None });
                }
            }
            _ => {
                for first in 0..width {
                    found.extend((first + 1..width).map(|second| pair(second, first, within)));
                }
            }
        }
    }
    if found.len() > MOST {
        return Err(EffectError::TooMany { count: found.len(), most: MOST }.into());
    }
    Ok(found)
}

/// The change from the lowest to the highest level along a straight line through the means, by numbers or, of names, by their order.
fn trend(model: &Modelled<'_>, by: usize, within: Option<usize>) -> Line {
    let factor = model.grid.factors.get(by);
    let codes = model.grid.codes.get(by).cloned().unwrap_or_default();
    let known = factor.and_then(|one| one.numbers.as_ref());
    let numbers: Option<Vec<f64>> =
        known.and_then(|numbers| codes.iter().map(|code| numbers.get(*code as usize).copied()).collect());
    let numbers = numbers.unwrap_or_else(|| (0..codes.len()).map(|at| at as f64).collect());
    let ends = (0..numbers.len()).fold((0, 0), |(low, high), at| {
        let value = |at: usize| numbers.get(at).copied().unwrap_or_default();
        (if value(at) < value(low) { at } else { low }, if value(at) > value(high) { at } else { high })
    });
    let name = factor.map_or("", |one| one.name.as_str());
    let (low, high) = (label(model, by, ends.0), label(model, by, ends.1));
    Line {
        comparison: format!("{name} {high} against {low}, along a straight line"),
        within,
        weights: along_a_line(&numbers),
        pair: None,
    }
}

fn over_cells(model: &Modelled<'_>, question: &Levels, line: &Line) -> Vec<f64> {
    let mut sum = vec![0.0; model.grid.len()];
    for (level, weight) in line.weights.iter().enumerate().filter(|(_, weight)| **weight != 0.0) {
        let own = question.weights(model, level, line.within);
        sum.iter_mut().zip(own).for_each(|(sum, own)| *sum += weight * own);
    }
    sum
}

/// A contrast by itself, and whether it could be judged.
fn one(fits: &Fits<'_>, question: &Levels, line: &Line, weights: Vec<f64>, confidence: f64) -> (MeanContrast, bool) {
    let model = fits.model;
    let mut row = MeanContrast {
        comparison: line.comparison.clone(),
        within: question.within.zip(line.within).map(|(at, level)| label(model, at, level)),
        value: fits.value(&weights),
        ..MeanContrast::default()
    };
    let Some(found) = fits.contrast(&weights).filter(|found| found.df > 0.0) else {
        row.why = Some(why(model, row.value));
        return (row, false);
    };
    let statistic = found.value / found.variance.sqrt();
    row.se = Some(found.variance.sqrt());
    row.statistic = Some(statistic);
    row.df = Some(found.df);
    row.p = Some(student_t::two_sided(statistic, found.df));
    if let Some((first, second)) = line.pair {
        let t = student_t::quantile(f64::midpoint(1.0, confidence), found.df);
        let sides = [first, second].map(|level| question.weights(model, level, line.within));
        ratio(fits, &sides, found, t, &mut row);
    }
    (row, true)
}

/// The second mean over the first, by the part of the variance of the difference that each makes.
fn ratio(fits: &Fits<'_>, sides: &[Vec<f64>; 2], found: UnitContrast, t: f64, row: &mut MeanContrast) {
    let values = [fits.value(&sides[0]), fits.value(&sides[1])];
    let (Some(first), Some(second)) = (values[0], values[1]) else { return };
    if first <= 0.0 || second <= 0.0 {
        return;
    }
    let own = sides.each_ref().map(|one| fits.contrast(one).map_or(0.0, |one| one.variance));
    let sum = own[0] + own[1];
    if sum <= 0.0 {
        return;
    }
    // What both means share (places, plots) cancels in the difference and hardly matters for the ratio.
    let side =
        |value: f64, variance: f64| UnitContrast { value, variance: found.variance * variance / sum, df: found.df };
    let (low, high) = ratio_limits(side(first, own[0]), side(second, own[1]), t);
    (row.ratio, row.ratio_low, row.ratio_high) = (Some(second / first), low, high);
}

fn why(model: &Modelled<'_>, value: Option<f64>) -> String {
    if let Some(why) = model.strata.iter().find_map(|one| one.why.clone()) {
        return why;
    }
    if value.is_none() {
        return "it asks for combinations that were not tried, or that lie in one place each".to_owned();
    }
    let units: Vec<String> =
        model.strata.iter().map(|one| crate::report::plural(&one.unit.replace('_', " "))).collect();
    format!("nothing is left over to tell how {} of like treatment differ", units.join(" or "))
}

/// Adjusted P values and limits that hold together.
fn together(
    fits: &Fits<'_>,
    rows: &mut [MeanContrast],
    tested: &[(usize, Vec<f64>)],
    options: &MeanContrastOptions,
    confidence: f64,
    control: &Control,
) -> Result<()> {
    let p: Vec<f64> = tested.iter().filter_map(|(at, _)| rows.get(*at)?.p).collect();
    let (adjusted, inside) = match options.together {
        Adjust::List(list) => (adjusted_p(&p, list, control)?, list.interval_level(confidence, p.len())),
        Adjust::Joint if tested.len() < 2 => (p.clone(), confidence),
        Adjust::Joint => {
            let weights: Vec<Vec<f64>> = tested.iter().map(|(_, weights)| weights.clone()).collect();
            match joint(fits, &weights, &p, (confidence, options.seed), control)? {
                Some(found) => found,
                None => {
                    (adjusted_p(&p, Adjustment::Holm, control)?, Adjustment::Holm.interval_level(confidence, p.len()))
                }
            }
        }
        other => {
            let instead = "their variances are not one and the same; use together=\"joint\" or \"holm\"";
            let first = match other {
                Adjust::TukeyKramer => "together=\"tukey-kramer\"",
                Adjust::Dunnett => "together=\"dunnett\"",
                _ => "together=\"scheffe\"",
            };
            return Err(EffectError::NotTogether { first, second: "contrasts of means", instead }.into());
        }
    };
    for ((at, _), p) in tested.iter().zip(adjusted) {
        let Some(row) = rows.get_mut(*at) else { continue };
        row.p_adjusted = Some(p);
        if let Some(((value, se), df)) = row.value.zip(row.se).zip(row.df) {
            let half = student_t::quantile(f64::midpoint(1.0, inside), df) * se;
            (row.low, row.high) = (Some(value - half), Some(value + half));
        }
    }
    Ok(())
}

/// P values by the joint normal law of the scores that t values of the same P have, and the confidence of each interval.
fn joint(
    fits: &Fits<'_>,
    weights: &[Vec<f64>],
    p: &[f64],
    (confidence, seed): (f64, u64),
    control: &Control,
) -> Result<Option<(Vec<f64>, f64)>> {
    let Some(covariance) = fits.covariance(weights) else { return Ok(None) };
    let diagonal: Vec<f64> =
        covariance.iter().enumerate().filter_map(|(at, row)| row.get(at)).map(|v| v.sqrt()).collect();
    if diagonal.iter().any(|sd| !(sd.is_finite() && *sd > 0.0)) {
        return Ok(None);
    }
    let scale = |(row, sd): (&Vec<f64>, &f64)| -> Vec<f64> {
        row.iter().zip(&diagonal).map(|(v, other)| v / (sd * other)).collect()
    };
    let correlation: Vec<Vec<f64>> = covariance.iter().zip(&diagonal).map(scale).collect();
    let scores: Vec<f64> = p.iter().map(|p| -normal::quantile(0.5 * p.max(f64::MIN_POSITIVE))).collect();
    let family =
        Family { estimates: &scores, covariance: &correlation, df: f64::INFINITY, direction: Direction::Either };
    let precision = Precision { seed, ..Precision::default() };
    let found = single_step(&family, SingleStep::Joint, confidence, &precision, control)?;
    let adjusted = found.rows.iter().zip(p).map(|(row, p)| row.p.max(*p)).collect();
    Ok(Some((adjusted, 1.0 - 2.0 * normal::sf(found.critical))))
}
