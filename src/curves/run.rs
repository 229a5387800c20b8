//! From the trays of each curve to its answers.

use super::averaged::take;
use super::axis::On;
use super::bays::Slope;
use super::best::find;
use super::bootstrap::{Drawing, bootstrap};
use super::candidates::{Asked, Curve, Judge, Member, fit_all};
use super::counts::Counts;
use super::curve::{Unit, parameters};
use super::figures::{Line, OneCurve, Parameter, ShapeFit, ShapeOut, StrengthCurve, StrengthLevel};
use super::input::{CurveInput, CurveTrays};
use super::kept::FittedCurves;
use super::outcomes::noun;
use super::shape::Shape;
use crate::control::Control;
use crate::error::{CurveError, Result};
use crate::math::regression::isotonic;
use crate::math::special::ln_choose;
use crate::rates::{
    Arm, IntervalMethod, PLANNING_ICC, TraySpread, interval_effective, tray_spread, tray_spread_within,
};

/// The curves of an input, fitted, with what they share.
#[derive(Debug)]
pub(super) struct Ready {
    pub(super) curves: Vec<(Counts, Curve)>,
    pub(super) spread: Option<TraySpread>,
    pub(super) assumed: bool,
    pub(super) judge: Judge,
}

/// Fits every curve of the input.
pub(super) fn fitted(input: &CurveInput, asked: Asked, control: &Control) -> Result<Ready> {
    let options = &input.options;
    let plain: Vec<Counts> =
        input.groups.iter().map(|group| Counts::new(&group.trays, None, options.zero_scale)).collect();
    let arms: Vec<Arm> = plain.iter().flat_map(|counts| counts.arms.clone()).collect();
    let mut places: Vec<Vec<u32>> = Vec::with_capacity(arms.len());
    let mut blocks = 0;
    for counts in &plain {
        places.extend(counts.places(blocks));
        blocks += counts.n_blocks() as u32;
    }
    let found = match (input.counted, input.blocks.is_some()) {
        (true, true) => tray_spread_within(&arms, &places),
        (true, false) => tray_spread(&arms),
        (false, _) => None,
    };
    let assumed = input.counted && found.is_none();
    let known = TraySpread {
        icc: PLANNING_ICC,
        df: f64::INFINITY,
        dispersion: None,
        dispersion_df: 0.0,
        icc_floor: PLANNING_ICC,
        events: 0.0,
    };
    let spread = found.or(assumed.then_some(known));
    let shared = found.map(|spread| spread.df);
    let (law, mut all) = (options.trays, 0.0);
    let mut curves = Vec::with_capacity(plain.len());
    for (group, plain) in input.groups.iter().zip(plain) {
        control.step()?;
        let counts = Counts::new(&group.trays, spread.as_ref(), options.zero_scale).under(law, spread.as_ref());
        let own = shown(&counts, &group.name(&options.within), (law, shared))?;
        all += own.unwrap_or(0.0);
        let df = if law.is_law() { own } else { shared };
        let n_obs =
            if input.counted { plain.units() } else { plain.cuttings() } as f64 + 1.0 - counts.n_blocks() as f64;
        let asked = if counts.all_alike() { Asked::One(Shape::Flat) } else { asked };
        let judge = Judge { df, n_obs, level_variance: 0.0 };
        let mut curve = fit_all(counts.effective(), judge, asked, options.link, control)?;
        let own = |member: &Member| member.weight * member.fitted.form.shape.parameters() as f64;
        let parameters: f64 = curve.members.iter().map(own).sum();
        curve.judge.level_variance = curve.members.first().map_or(0.0, |lead| {
            let slope = Slope::of(&lead.fitted, &curve.data);
            input.over_places(curves.len(), (&judge, parameters), (slope, curve.data.mean_take().1))
        });
        curves.push((counts, curve));
    }
    let df = if law.is_law() { Some(all) } else { shared };
    Ok(Ready { curves, spread: found, assumed, judge: Judge { df, n_obs: 0.0, level_variance: 0.0 } })
}

/// Degrees of freedom of the spread between a curve's own trays under a law, refused where its trays cannot show it.
fn shown(counts: &Counts, name: &str, (law, shared): (CurveTrays, Option<f64>)) -> Result<Option<f64>> {
    let not = |why: &str| CurveError::LawNotShown { trays: law.name(), place: name.to_owned(), why: why.to_owned() };
    let taken = counts.strengths.len() + counts.n_blocks() - 1;
    let left = (counts.units() as usize).saturating_sub(taken) as f64;
    match law {
        CurveTrays::Dispersion if shared.is_none() => Err(not("no strength has two trays").into()),
        CurveTrays::Auto | CurveTrays::Ignore | CurveTrays::Dispersion => Ok(None),
        CurveTrays::BetaBinomial | CurveTrays::Random if left < 1.0 => Err(not("no strength has two trays").into()),
        CurveTrays::BetaBinomial | CurveTrays::Random if !counts.has_pairs() => {
            Err(not("every tray holds a single cutting").into())
        }
        CurveTrays::BetaBinomial | CurveTrays::Random => Ok(Some(left)),
    }
}

/// Finds the best strengths of fitted curves, and all else that is told of them.
pub(super) fn figures(fitted: &FittedCurves, control: &Control) -> Result<StrengthCurve> {
    let (input, ready, wanted) = (fitted.input(), fitted.ready(), fitted.wanted());
    let options = &input.options;
    let mut curves = Vec::with_capacity(ready.curves.len());
    for (at, ((counts, curve, group), placed)) in fitted.each().zip(fitted.placed(control)?).enumerate() {
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
pub(super) fn named_blocks(counts: &Counts, input: &CurveInput) -> Vec<String> {
    let name = |code: &u32| {
        let blocks = input.blocks.as_ref()?;
        Some(format!("{} {}", blocks.column, blocks.levels.get(*code as usize)?))
    };
    counts.codes.iter().filter_map(name).collect()
}

/// All shapes of a curve; `rate` is what the rates are called, in names and units of parameters.
pub(super) fn shape_fits(curve: &Curve, (rate, unit): (&str, &str), blocks: Vec<String>) -> Vec<ShapeFit> {
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

pub(super) fn strengths(counts: &Counts, curve: &Curve, level: f64) -> Result<Vec<StrengthLevel>> {
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
        let (conf_low, conf_high) = interval_effective(rooted, stuck, IntervalMethod::Wilson, critical)?;
        rows.push(StrengthLevel {
            strength: one.strength,
            n_units: arm.stuck.len() as u64,
            rooted: arm.rooted.iter().sum(),
            stuck: arm.stuck.iter().sum(),
            value: arm.rate(),
            low: conf_low,
            high: conf_high,
            fitted: members.iter().map(|(member, w)| w * member.fitted.rate(data, one.strength)).sum(),
            monotone: monotone.get(at).copied().unwrap_or(f64::NAN),
            one_hump: hump.get(at).copied().unwrap_or(f64::NAN),
        });
    }
    Ok(rows)
}

/// Points at which a curve is drawn.
const DRAWN: usize = 120;

pub(super) fn line(curve: &Curve, level: f64) -> Line {
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
    use crate::curves::invented;

    /// What curves of blocks and random trays cost, counted in steps of searches and not in time; before conditions were followed along their tangent
    /// it was more than a million.
    #[test]
    fn curves_of_blocks_and_random_trays_take_few_steps() {
        for number in 0..4 {
            let control = Control::new();
            let input = invented::trial(number, CurveTrays::Random, 2);
            figures(&FittedCurves::new(input, &control).unwrap(), &control).unwrap();
            assert!(control.done() < 100_000, "trial {number}: {} steps", control.done());
        }
    }
}
