//! From fitted curves to all that is told of them.

use super::figures::{Line, OneCurve, Parameter, ShapeFit, ShapeOut, StrengthCurve, StrengthLevel};
use super::phrases::noun;
use crate::control::Control;
use crate::curves::find::{Drawing, Fits, bootstrap, find, take};
use crate::curves::fit::{Counts, Curve, Member};
use crate::curves::input::CurveInput;
use crate::curves::shape::{On, Unit, parameters};
use crate::error::Result;
use crate::math::regression::isotonic;
use crate::math::special::ln_choose;
use crate::rates::{IntervalMethod, interval_effective};

/// Finds the best strengths of fitted curves, and all else that is told of them.
pub(crate) fn figures(fits: &Fits, control: &Control) -> Result<StrengthCurve> {
    let (input, ready, wanted) = (fits.input(), fits.ready(), fits.wanted());
    let options = &input.options;
    let mut curves = Vec::with_capacity(ready.curves.len());
    for (at, ((counts, curve, group), placed)) in fits.each().zip(fits.placed(control)?).enumerate() {
        let mut best = find(curve, &wanted, placed, control)?;
        let drawing = Drawing {
            draws: if counts.all_alike() { 0 } else { options.draws },
            seed: options.seed,
            first: at as u64 * options.draws,
            confidence: options.confidence,
            share: options.enough,
        };
        best.bootstrap = bootstrap(curve, counts, &drawing, control)?;
        curves.push(OneCurve {
            levels: group.levels.clone(),
            name: group.name(&options.within),
            n_units: counts.units(),
            n_cuttings: counts.cuttings(),
            zero_scale: curve.data.axis.scale(On::BASE).shift,
            df: curve.judge.df,
            shapes: shape_fits(curve, (noun(input.options.outcome), &input.unit), named_blocks(counts, input)),
            out: curve.out.iter().map(|(shape, why)| ShapeOut { shape: *shape, why: why.clone() }).collect(),
            strengths: strengths(counts, curve, options.confidence)?,
            best,
            line: line(curve, options.confidence),
            all_alike: counts.all_alike(),
            lack_p: curve.lack_p(),
        });
    }
    Ok(StrengthCurve {
        input: input.clone(),
        curves,
        spread: ready.spread,
        spread_assumed: ready.assumed,
        df: ready.judge.df,
        confidence: options.confidence,
    })
}

/// The blocks that a curve's trays stand in.
pub(crate) fn named_blocks(counts: &Counts, input: &CurveInput) -> Vec<String> {
    let name = |code: &u32| {
        let blocks = input.blocks.as_ref()?;
        Some(format!("{} {}", blocks.column, blocks.levels.get(*code as usize)?))
    };
    counts.codes.iter().filter_map(name).collect()
}

/// All shapes of a curve; `rate` is what the rates are called, in names and units of parameters.
pub(crate) fn shape_fits(curve: &Curve, (rate, unit): (&str, &str), blocks: Vec<String>) -> Vec<ShapeFit> {
    let counting = curve.counting();
    let say = |member: &Member| {
        let own = counting.iter().find(|(other, _)| other.fitted.form == member.fitted.form);
        own.map_or(0.0, |(_, say)| *say)
    };
    let one = |member: &Member| ShapeFit { say: say(member), ..shape_fit(member, curve, (rate, unit, &blocks)) };
    curve.members.iter().map(one).collect()
}

fn shape_fit(member: &Member, curve: &Curve, (rate, unit, blocks): (&str, &str, &[String])) -> ShapeFit {
    let fitted = &member.fitted;
    let unit = if unit.is_empty() { "unit of strength" } else { unit };
    let in_unit = |kind: Unit| match kind {
        Unit::Rate => format!("{rate}, 0 to 1"),
        Unit::Gain => rate.to_owned(),
        Unit::Strength => unit.to_owned(),
        Unit::RatePerStrength => format!("{rate} per {unit}"),
        Unit::LogOdds => "log odds".to_owned(),
        Unit::PerX => "log odds per unit of log(1 + d/d0)".to_owned(),
        Unit::PerXSquared => "log odds per squared unit of log(1 + d/d0)".to_owned(),
        Unit::PerLog => "per unit of log d".to_owned(),
        Unit::Number => "power".to_owned(),
    };
    let named = parameters(fitted.form, fitted.own(), &curve.data.axis);
    let coefficients: f64 = match &curve.data.beside {
        Some(beside) => beside.constant(),
        None => curve.data.levels.iter().map(|level| ln_choose(level.stuck, level.rooted)).sum(),
    };
    let mut all: Vec<Parameter> = named
        .into_iter()
        .map(|one| Parameter { name: named_for(rate, one.name), value: one.value, unit: in_unit(one.unit) })
        .collect();
    all.extend(beside_parameters(member, curve, blocks));
    let (verdict, reason) = fitted.verdict();
    ShapeFit {
        shape: fitted.form.shape,
        weight: member.weight,
        say: 0.0,
        aicc: member.aicc,
        loglik: fitted.loglik + coefficients,
        deviance: member.deviance,
        lack_df: member.lack_df,
        lack_p: member.lack_p,
        parameters: all,
        verdict,
        reason,
        iterations: fitted.iterations,
        searches: fitted.followed as u64,
        searches_agreeing: fitted.agreeing as u64,
        gradient_max: fitted.gradient_max(&curve.data),
    }
}

/// A parameter's name for what was counted: "survival rate at the top" for "take at the top".
fn named_for(rate: &str, name: &str) -> String {
    name.strip_prefix("take").map_or_else(|| name.to_owned(), |rest| format!("{rate}{rest}"))
}

/// Shifts of blocks and the spread between trays, in plain words.
fn beside_parameters(member: &Member, curve: &Curve, blocks: &[String]) -> Vec<Parameter> {
    let (Some(beside), at) = (&curve.data.beside, member.fitted.beside()) else { return Vec::new() };
    let named = |name: String, value: f64, unit: &str| Parameter { name, value, unit: unit.to_owned() };
    let mut list = Vec::new();
    if beside.shifts() > 0 {
        let shifts = blocks.iter().enumerate();
        list.extend(shifts.map(|(b, name)| named(name.clone(), beside.shift(at, b), "log odds from the average")));
    }
    list.extend(beside.spread_shown(at).map(|value| {
        if beside.is_random() {
            named("standard deviation between trays".to_owned(), value, "log odds")
        } else {
            named("correlation within trays".to_owned(), value, "0 to 1")
        }
    }));
    list
}

pub(crate) fn strengths(counts: &Counts, curve: &Curve, level: f64) -> Result<Vec<StrengthLevel>> {
    let data = &curve.data;
    let (rooted, stuck) = (data.rooted(), data.stuck());
    let (up, down) = (isotonic::rising(&rooted, &stuck), isotonic::falling(&rooted, &stuck));
    let loglik = |rates: &[f64]| isotonic::loglik(&rooted, &stuck, rates);
    let monotone = if loglik(&up) >= loglik(&down) { up } else { down };
    let (hump, _) = isotonic::one_hump(&rooted, &stuck);
    let members = curve.counting();
    let mut rows = Vec::with_capacity(data.levels.len());
    for (at, (arm, one)) in counts.arms.iter().zip(&data.levels).enumerate() {
        let critical = curve.judge.critical(level);
        let share = curve.judge.over_bays(one.rooted / one.stuck, one.stuck) / one.stuck;
        let (rooted, stuck) = (share * one.rooted, share * one.stuck);
        let (low, high) = interval_effective(rooted, stuck, IntervalMethod::Wilson, critical)?;
        rows.push(StrengthLevel {
            strength: one.strength,
            n_units: arm.stuck.len() as u64,
            rooted: arm.rooted.iter().sum(),
            stuck: arm.stuck.iter().sum(),
            value: arm.rate(),
            low,
            high,
            fitted: members.iter().map(|(member, w)| w * member.fitted.rate(data, one.strength)).sum(),
            monotone: monotone.get(at).copied().unwrap_or(f64::NAN),
            one_hump: hump.get(at).copied().unwrap_or(f64::NAN),
        });
    }
    Ok(rows)
}

/// Points at which a curve is drawn.
const DRAWN: usize = 120;

pub(crate) fn line(curve: &Curve, level: f64) -> Line {
    let members = curve.counting();
    let mut line = Line::default();
    for strength in curve.data.axis.grid(DRAWN) {
        let here = take(curve, &members, strength, level);
        line.strength.push(strength);
        line.value.push(here.value);
        line.low.push(here.low);
        line.high.push(here.high);
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curves::find::invented;
    use crate::curves::input::CurveTrays;

    /// What curves of blocks and random trays cost, counted in steps of searches and not in time; before conditions were followed along their tangent
    /// it was more than a million.
    #[test]
    fn curves_of_blocks_and_random_trays_take_few_steps() {
        for number in 0..4 {
            let control = Control::new();
            let input = invented::trial(number, CurveTrays::Random, 2);
            figures(&Fits::new(input, &control).unwrap(), &control).unwrap();
            assert!(control.done() < 100_000, "trial {number}: {} steps", control.done());
        }
    }
}
