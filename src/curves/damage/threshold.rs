//! Where deaths begin to rise with the strength: trials that record rooted, alive without roots and dead.
//!
//! The likelihood of the three outcomes is that of dead among stuck times that of rooted among survivors, so the two steps are
//! fitted apart and together are the fit of all three.

use super::numbers::{DamageCurve, DamageOptions, DamageThreshold, Threshold};
use crate::control::Control;
use crate::curves::find::{Goal, goal_limits, lowest, take_counted};
use crate::curves::fit::{Counts, Curve, Level, Ready, fitted};
use crate::curves::input::{CurveGroup, CurveInput, gather};
use crate::curves::shape::{Asked, Shape};
use crate::curves::told::{OneCurve, line, named_blocks, shape_fits, strengths};
use crate::error::Result;
use crate::estimate::{TestName, TestResult};
use crate::rates::{IntervalMethod, interval_effective};
use crate::trial::Units;
use crate::units::Strength;

/// The deaths of units in the place of what rooted.
pub(super) fn deaths_of(units: &Units, dead: &[u64]) -> Units {
    Units { rooted: dead.to_vec(), ..units.clone() }
}

/// Where deaths have risen along each curve, by its levels, and nothing else of them.
pub(super) fn located_damage(
    units: &Units,
    dead: &[u64],
    strength: Option<&Strength>,
    options: &DamageOptions,
    control: &Control,
) -> Result<Vec<(Vec<String>, Threshold)>> {
    let input = gather(&deaths_of(units, dead), strength, &options.curve)?;
    let ready = fitted(&input, Asked::Deaths, control)?;
    let one = |((_, curve), group): (&(Counts, Curve), &CurveGroup)| {
        Ok((group.levels.clone(), threshold(curve, options.rise, input.options.confidence, control)?))
    };
    ready.curves.iter().zip(&input.groups).map(one).collect()
}

pub(super) fn of_deaths(
    input: &CurveInput,
    (taken, survivors): (&CurveInput, Vec<OneCurve>),
    options: &DamageOptions,
    control: &Control,
) -> Result<DamageThreshold> {
    let ready = fitted(input, Asked::Deaths, control)?;
    let level = input.options.confidence;
    let Ready { curves: all, judge, .. } = &ready;
    let mut curves = Vec::with_capacity(all.len());
    for ((counts, curve), group) in all.iter().zip(&input.groups) {
        let rooted = taken.groups.iter().find(|other| other.levels == group.levels);
        let rooted = rooted.map(|other| rooted_at(counts, other)).unwrap_or_default();
        let members = curve.counting();
        let at = |one: Option<&Level>| {
            let found = one.map(|one| take_counted(curve, &members, one, level));
            found.map_or([f64::NAN; 3], |found| [found.value, found.low, found.high])
        };
        let tested = &curve.data.levels;
        curves.push(DamageCurve {
            levels: group.levels.clone(),
            name: group.name(&input.options.within),
            n_units: counts.units(),
            n_cuttings: counts.cuttings(),
            threshold: threshold(curve, options.rise, level, control)?,
            lowest: at(tested.first()),
            highest: at(tested.last()),
            possible_rise: largest_rise(curve, level)?,
            test: differ(curve, control)?,
            strengths: strengths(counts, curve, level)?,
            shapes: shape_fits(curve, ("death rate", &input.unit), named_blocks(counts, input)),
            line: line(curve, level),
            survivors: survivors.iter().find(|one| one.levels == group.levels).cloned(),
            rooted,
        });
    }
    Ok(DamageThreshold { input: input.clone(), rise: options.rise, curves, df: judge.df, confidence: level })
}

fn rooted_at(counts: &Counts, taken: &CurveGroup) -> Vec<u64> {
    let at = |strength: &f64| {
        let own = taken.trays.iter().filter(|tray| tray.strength.total_cmp(strength).is_eq());
        own.map(|tray| tray.rooted).sum()
    };
    counts.strengths.iter().map(at).collect()
}

/// Strengths from which on there is a curve.
pub(super) const FOR_A_CURVE: usize = 3;

impl Threshold {
    /// No place; below `low` deaths have not risen by that much.
    fn nowhere(low: f64) -> Self {
        Self {
            value: None,
            low,
            high: f64::INFINITY,
            located: false,
            by_form: false,
            no_room: false,
            from_first: false,
        }
    }
}

pub(super) fn threshold(curve: &Curve, rise: f64, level: f64, control: &Control) -> Result<Threshold> {
    let members = curve.counting();
    let axis = &curve.data.axis;
    if no_room(curve, rise) {
        return Ok(Threshold { no_room: true, ..Threshold::nowhere(axis.low) });
    }
    if members.iter().all(|(member, _)| member.fitted.form.shape == Shape::Flat) {
        // One rate for all strengths rises nowhere, however few cuttings it rests on: their own limits tell.
        return Ok(Threshold::nowhere(ruled_out_up_to(curve, rise, level)?));
    }
    let (low, high) = goal_limits(curve, &members, Goal::Above(rise), level, control)?;
    let (low, high) = (low.unwrap_or(axis.low), high.unwrap_or(f64::INFINITY));
    if curve.data.levels.len() < FOR_A_CURVE {
        // Between two strengths nothing was seen: the rise is ruled out at the higher one or nowhere.
        let ruled_out = low >= axis.high * (1.0 - 1e-9);
        return Ok(Threshold::nowhere(if ruled_out { axis.high } else { axis.low }));
    }
    let rate =
        |strength: f64| members.iter().map(|(member, w)| w * member.fitted.rate(&curve.data, strength)).sum::<f64>();
    let value = lowest(rate, rate(axis.low) + rise, axis, (0.0, 1.0));
    let (mut lowest, mut highest) = value.map_or((low, high), |value| (low.min(value), high.max(value)));
    let by_form = value.is_some() && members.iter().any(|(member, _)| member.fitted.is_steepest());
    if by_form {
        let (below, above) = shown_between(curve, rise, level)?;
        (lowest, highest) = (lowest.min(below), highest.max(above));
    }
    let located = value.is_some() && highest.is_finite();
    let first = curve.data.levels.iter().map(|one| one.strength).find(|strength| *strength > 0.0);
    let from_first = axis.low <= 0.0 && value.zip(first).is_some_and(|(value, first)| value <= first || lowest <= 0.0);
    Ok(Threshold { value, low: lowest, high: highest, located, by_form, no_room: false, from_first })
}

/// True where deaths at the lowest strength leave no room for a rise.
fn no_room(curve: &Curve, rise: f64) -> bool {
    curve.data.levels.first().is_some_and(|first| first.rooted / first.stuck + rise > 1.0 + 1e-9)
}

/// The limits of the difference in deaths of every strength from the lowest, by the strengths' own limits: squared distances to both added.
///
/// # References
/// Newcombe RG (1998), Statistics in Medicine 17:873-890 (method 10).
fn rises(curve: &Curve, level: f64) -> Result<Vec<(f64, [f64; 2])>> {
    let critical = curve.judge.critical(level);
    let limits = |one: &Level| -> Result<[f64; 3]> {
        let (low, high) = interval_effective(one.rooted, one.stuck, IntervalMethod::Wilson, critical)?;
        Ok([one.rooted / one.stuck, low, high])
    };
    let Some((first, others)) = curve.data.levels.split_first() else { return Ok(Vec::new()) };
    let from = limits(first)?;
    let one = |other: &Level| -> Result<(f64, [f64; 2])> {
        let own = limits(other)?;
        let rise = own[0] - from[0];
        let (below, above) = ((own[0] - own[1]).hypot(from[2] - from[0]), (own[2] - own[0]).hypot(from[0] - from[1]));
        Ok((other.strength, [rise - below, rise + above]))
    };
    others.iter().map(one).collect()
}

/// The highest strength up to which each strength rules a rise out; the lowest strength where none does.
fn ruled_out_up_to(curve: &Curve, rise: f64, level: f64) -> Result<f64> {
    let out = rises(curve, level)?;
    let ruled = out.iter().take_while(|(_, [_, most])| *most < rise);
    Ok(ruled.last().map_or(curve.data.axis.low, |(strength, _)| *strength))
}

/// The largest rise from the lowest strength that the strengths' own limits leave possible at any other.
fn largest_rise(curve: &Curve, level: f64) -> Result<f64> {
    Ok(rises(curve, level)?.iter().map(|(_, [_, most])| *most).fold(0.0, f64::max))
}

/// The lowest tested strength whose deaths are shown to have risen by `rise`, infinite where none are, behind the highest below it whose deaths
/// are not shown to have risen at all: differences from the lowest strength, squared distances to the limits of both added.
fn shown_between(curve: &Curve, rise: f64, level: f64) -> Result<(f64, f64)> {
    let mut below = curve.data.axis.low;
    for (strength, [least, _]) in rises(curve, level)? {
        if least >= rise {
            return Ok((below, strength));
        }
        if least <= 0.0 {
            below = strength;
        }
    }
    Ok((below, f64::INFINITY))
}

fn differ(curve: &Curve, control: &Control) -> Result<TestResult> {
    let ratio = (2.0 * (curve.free - curve.flat_loglik(control)?)).max(0.0);
    let df = curve.data.levels.len() as f64 - 1.0;
    Ok(TestResult {
        method: TestName::DeathsDiffer,
        statistic: Some(if curve.judge.df.is_some() { ratio / df } else { ratio }),
        df: Some(df),
        error_df: curve.judge.df,
        p: curve.judge.tail(ratio, df),
    })
}
