//! Shares and means of groups with their limits.

use rayon::prelude::*;

use super::fitted::{Fitted, share};
use super::numbers::{ColumnEffect, EffectOn, GroupOfCounts};
use super::rows::{Held, Pattern, Rows, TOGETHER};
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::{normal, student_t};
use crate::math::regression::counts::{Expected, Zeros};
use crate::math::search::root_until;
use crate::rates::{IntervalMethod, interval};

/// A number with its limits.
#[derive(Debug, Clone, Copy, Default)]
struct Limited {
    value: f64,
    low: Option<f64>,
    high: Option<f64>,
}

impl Limited {
    /// By a function whose inverse is `back`: symmetric where numbers are `through` it.
    fn by(value: f64, at: f64, reach: Option<f64>, back: impl Fn(f64) -> f64) -> Self {
        let (low, high) = (reach.map(|reach| back(at - reach)), reach.map(|reach| back(at + reach)));
        Self { value, low, high }
    }
}

/// How far limits reach in standard errors: of shares, and of means. Where a spread is fitted it is known from few cuttings by too little, so
/// means go by t on the cuttings behind them less the numbers fitted, and variances are raised by as much; none where nothing is left.
#[derive(Debug, Clone, Copy)]
struct Reach {
    share: f64,
    mean: Option<f64>,
}

impl Reach {
    fn of(rows: &Rows<'_>, fitted: &Fitted, confidence: f64) -> Self {
        let tail = f64::midpoint(1.0, confidence);
        let share = normal::quantile(tail);
        if !fitted.law.is_wide() {
            return Self { share, mean: Some(share) };
        }
        let all = matches!(fitted.law.zeros(), Zeros::Plain | Zeros::Added);
        let behind = rows.held.iter().zip(&fitted.places).filter(|(_, place)| place.is_some());
        let cuttings: u64 = behind.map(|(held, _)| if all { held.cuttings } else { held.any }).sum();
        let numbers = fitted.fit.as_ref().map_or(0, |fit| fit.count.len());
        let left = cuttings as f64 - numbers as f64;
        let mean = (left >= 1.0).then(|| student_t::quantile(tail, left) * (cuttings as f64 / left).sqrt());
        Self { share, mean }
    }
}

/// Averages over rows, with slopes by all coefficients.
struct Averages {
    any: f64,
    mean: f64,
    any_slopes: Vec<f64>,
    mean_slopes: Vec<f64>,
}

/// Every group.
pub(super) fn groups(
    rows: &Rows<'_>,
    fitted: &Fitted,
    confidence: f64,
    control: &Control,
) -> Result<Vec<GroupOfCounts>> {
    let reach = Reach::of(rows, fitted, confidence);
    let mut found = Vec::new();
    for (group, (held, level)) in rows.held.iter().zip(rows.levels).enumerate() {
        let averages = averages(rows, fitted, group);
        let [value, any, of_any] = match (fitted.counted, &averages) {
            (true, _) => counted(*held, averages.as_ref(), fitted, (confidence, reach), control)?,
            (false, Some(averages)) => by_law(averages, fitted, reach),
            (false, None) => alone(*held, fitted, confidence, control)?,
        };
        let known = held.any > 0 || !fitted.counted;
        found.push(GroupOfCounts {
            group: level.clone(),
            value: value.value,
            low: value.low,
            high: value.high,
            any: any.value,
            any_low: any.low,
            any_high: any.high,
            of_any: known.then_some(of_any.value).filter(|value| value.is_finite()),
            of_any_low: of_any.low,
            of_any_high: of_any.high,
            n_cuttings: held.cuttings,
            n_any: held.any,
            total: held.total,
            ..GroupOfCounts::default()
        });
    }
    Ok(found)
}

/// Averages of a group over the rows that its means are of; none where it stands apart.
fn averages(rows: &Rows<'_>, fitted: &Fitted, group: usize) -> Option<Averages> {
    let place = fitted.places.get(group).copied().flatten()?;
    fitted.fit.as_ref()?;
    let part = |patterns: &[Pattern]| sums(rows, fitted, (group, place), patterns);
    let parts: Vec<(f64, Averages)> = rows.patterns.par_chunks(TOGETHER).map(part).collect();
    let cuttings: f64 = parts.iter().map(|part| part.0).sum();
    let mut found = Averages::new(fitted);
    for (_, part) in &parts {
        found.any += part.any / cuttings;
        found.mean += part.mean / cuttings;
        let both = [(&mut found.any_slopes, &part.any_slopes), (&mut found.mean_slopes, &part.mean_slopes)];
        for (sums, more) in both {
            sums.iter_mut().zip(more).for_each(|(sum, one)| *sum += one / cuttings);
        }
    }
    Some(found)
}

impl Averages {
    fn new(fitted: &Fitted) -> Self {
        let size = fitted.fit.as_ref().map_or(0, |fit| fit.count.len() + fit.zero.len() + 1);
        Self { any: 0.0, mean: 0.0, any_slopes: vec![0.0; size], mean_slopes: vec![0.0; size] }
    }
}

/// Sums of a group over some patterns, and their cuttings.
fn sums(rows: &Rows<'_>, fitted: &Fitted, (group, place): (usize, usize), patterns: &[Pattern]) -> (f64, Averages) {
    let mut found = Averages::new(fitted);
    let (start, size) = (fitted.fit.as_ref().map_or(0, |fit| fit.count.len()), found.any_slopes.len());
    let mut cuttings = 0.0;
    for one in patterns.iter().filter(|one| rows.adjusted || one.group == group) {
        let Some(expected) = fitted.expected(group, &one.columns, one.offset) else { continue };
        let weight = one.cuttings;
        cuttings += weight;
        found.any += weight * expected.any;
        found.mean += weight * expected.mean;
        let both = [(&mut found.any_slopes, expected.any_slopes), (&mut found.mean_slopes, expected.mean_slopes)];
        for (sums, slopes) in both {
            add_slopes(sums, slopes.map(|slope| weight * slope), [start, size - 1], place, &one.columns);
        }
    }
    (cuttings, found)
}

/// Slopes by the predictors of a row as slopes by coefficients: its group's, those of its columns, and the spread.
fn add_slopes(
    sums: &mut [f64],
    [count, zero, wide]: [f64; 3],
    [start, last]: [usize; 2],
    place: usize,
    columns: &[f64],
) {
    let (first, rest) = sums.split_at_mut(start.min(sums.len()));
    let (second, spread) = rest.split_at_mut((last - start).min(rest.len()));
    for (part, by) in [(first, count), (second, zero)] {
        part.get_mut(place).into_iter().for_each(|slot| *slot += by);
        part.iter_mut().rev().zip(columns.iter().rev()).for_each(|(slot, x)| *slot += by * x);
    }
    spread.first_mut().into_iter().for_each(|slot| *slot += wide);
}

/// Variance of what moves by these slopes; none where the information is singular.
fn variance(fitted: &Fitted, slopes: &[f64]) -> Option<f64> {
    let covariance = &fitted.fit.as_ref()?.covariance;
    if covariance.is_empty() {
        return None;
    }
    let along = |row: &Vec<f64>| row.iter().zip(slopes).map(|(v, b)| v * b).sum::<f64>();
    let sum: f64 = covariance.iter().zip(slopes).map(|(row, b)| b * along(row)).sum();
    (sum >= 0.0 && sum.is_finite()).then_some(sum)
}

/// Mean, share and mean of those that have any by the law, with limits from the slopes.
fn by_law(found: &Averages, fitted: &Fitted, reach: Reach) -> [Limited; 3] {
    let se = |slopes: &[f64]| variance(fitted, slopes).zip(reach.mean).map(|(v, reach)| reach * v.sqrt());
    let mean = Limited::by(found.mean, found.mean.ln(), se(&found.mean_slopes).map(|se| se / found.mean), f64::exp);
    let odds = (found.any / (1.0 - found.any)).ln();
    let moved = variance(fitted, &found.any_slopes);
    let moved = moved.map(|v| reach.share * v.sqrt() / (found.any * (1.0 - found.any)));
    let any = match fitted.law.zeros() {
        Zeros::Truncated => Limited { value: 1.0, low: None, high: None },
        _ => Limited::by(found.any, odds, moved, |x| 1.0 / (1.0 + (-x).exp())),
    };
    let of_any = found.mean / found.any;
    let slopes: Vec<f64> =
        found.mean_slopes.iter().zip(&found.any_slopes).map(|(m, a)| (m - of_any * a) / found.any).collect();
    [mean, any, above_one(of_any, se(&slopes))]
}

/// A mean of counts of 1 or more: symmetric on the logarithm of what it has more than 1.
fn above_one(value: f64, reach: Option<f64>) -> Limited {
    let more = value - 1.0;
    Limited::by(value, more.ln(), reach.map(|reach| reach / more), |x| 1.0 + x.exp())
}

/// A hurdle without columns: the share as counted with Wilson's limits, the mean of those that have any by the law, and their product with
/// limits put together from both, which share no cutting's doubt.
fn counted(
    held: Held,
    averages: Option<&Averages>,
    fitted: &Fitted,
    (confidence, reach): (f64, Reach),
    control: &Control,
) -> Result<[Limited; 3]> {
    let share = interval(share(held), IntervalMethod::Wilson, confidence)?;
    let any = Limited { value: share.value, low: Some(share.low), high: Some(share.high) };
    if held.any == 0 {
        let value = Limited { value: 0.0, low: Some(0.0), high: None };
        return Ok([value, any, Limited { value: f64::NAN, low: None, high: None }]);
    }
    let of_any = match averages {
        Some(found) => {
            let se = variance(fitted, &found.mean_slopes).zip(reach.mean);
            above_one(found.mean, se.map(|(v, reach)| reach * v.sqrt()))
        }
        None => {
            Limited { value: 1.0, low: Some(1.0), high: Some(most_of_ones(held.any, fitted, confidence, control)?) }
        }
    };
    Ok([product(any, of_any), any, of_any])
}

/// Limits of a product from those of its parts, on logarithms (Zou and Donner).
fn product(one: Limited, other: Limited) -> Limited {
    let value = one.value * other.value;
    let off = |part: Limited, end: Option<f64>| end.map(|end| (end / part.value).ln());
    let together = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| a.hypot(b));
    let low = together(off(one, one.low), off(other, other.low));
    let high = together(off(one, one.high), off(other, other.high));
    Limited { value, low: low.map(|off| value * (-off).exp()), high: high.map(|off| value * off.exp()) }
}

/// The largest mean of those that have any at which all of them would have one in no fewer than so many of trials.
fn most_of_ones(any: u64, fitted: &Fitted, confidence: f64, control: &Control) -> Result<f64> {
    let ln_one = (0.5 * (1.0 - confidence)).ln() / any as f64;
    let spread = fitted.spread();
    let at = |eta: f64| crate::math::regression::counts::probabilities(Zeros::Truncated, eta, 0.0, spread, 1);
    let off = |eta: f64| ln_one - at(eta).get(1).map_or(0.0, |p| p.ln());
    let eta = root_until(control, off, (0.0, 0.5), 1e-10)?;
    Ok(Expected::at(Zeros::Truncated, eta, 0.0, spread).mean)
}

/// A group that stands apart of a law without a hurdle: none has any, or all have one.
fn alone(held: Held, fitted: &Fitted, confidence: f64, control: &Control) -> Result<[Limited; 3]> {
    if fitted.law.zeros() == Zeros::Truncated {
        let high = most_of_ones(held.any, fitted, confidence, control)?;
        let mean = Limited { value: 1.0, low: Some(1.0), high: Some(high) };
        return Ok([mean, Limited { value: 1.0, low: None, high: None }, mean]);
    }
    // P(0) of the largest mean at which none would have any in no fewer than so many of trials.
    let ln_none = (0.5 * (1.0 - confidence)).ln() / held.cuttings as f64;
    let spread = fitted.spread();
    let high = if spread > 0.0 { (-spread * ln_none).exp_m1() / spread } else { -ln_none };
    let value = Limited { value: 0.0, low: Some(0.0), high: Some(high) };
    let any = Limited { value: 0.0, low: Some(0.0), high: Some(-ln_none.exp_m1()) };
    Ok([value, any, Limited { value: f64::NAN, low: None, high: None }])
}

/// What columns beside the groups do.
pub(super) fn effects(rows: &Rows<'_>, fitted: &Fitted, confidence: f64) -> Vec<ColumnEffect> {
    let Some(fit) = &fitted.fit else { return Vec::new() };
    let reach = Reach::of(rows, fitted, confidence);
    let on_zero = if fitted.law.zeros() == Zeros::Added { EffectOn::AddedZero } else { EffectOn::Any };
    let (first, second) = (fit.count.len(), fit.zero.len());
    let parts = [(&fit.zero, first, on_zero, second), (&fit.count, 0, EffectOn::Count, first)];
    let mut found = Vec::new();
    for (at, column) in rows.columns.iter().enumerate() {
        for (part, start, on, size) in parts {
            let place = (size + at).checked_sub(rows.columns.len());
            let Some((place, slope)) = place.and_then(|place| Some((place, *part.get(place)?))) else { continue };
            let se = fit.se.get(start + place).copied().flatten();
            let reach = if on == EffectOn::Count { reach.mean } else { Some(reach.share) };
            let limit = |sign: f64| se.zip(reach).map(|(se, reach)| (slope + sign * reach * se).exp());
            found.push(ColumnEffect {
                column: column.name.clone(),
                level: column.level.as_ref().map(|one| one.0.clone()),
                against: column.level.as_ref().map(|one| one.1.clone()),
                on,
                value: slope.exp(),
                low: limit(-1.0),
                high: limit(1.0),
            });
        }
    }
    found
}
