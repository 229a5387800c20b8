//! From the trays of each curve to its answers.

use super::averaged::take;
use super::axis::On;
use super::best::{Wanted, find};
use super::bootstrap::{Drawing, bootstrap};
use super::candidates::{Asked, Curve, Judge, Member, fit_all};
use super::counts::Counts;
use super::curve::{Unit, parameters};
use super::figures::{Line, OneCurve, Parameter, ShapeFit, ShapeOut, StrengthCurve, StrengthLevel};
use super::input::{CurveGroup, CurveInput};
use super::shape::Shape;
use crate::control::Control;
use crate::error::Result;
use crate::math::isotonic;
use crate::math::special::ln_choose;
use crate::rates::{Arm, IntervalMethod, PLANNING_ICC, TraySpread, interval_effective, tray_spread};

/// The curves of an input, fitted, with what they share.
pub(super) struct Ready {
    pub(super) curves: Vec<(Counts, Curve)>,
    pub(super) spread: Option<TraySpread>,
    pub(super) assumed: bool,
    pub(super) judge: Judge,
}

fn trays(group: &CurveGroup) -> Vec<(f64, u64, u64)> {
    group.trays.iter().map(|tray| (tray.strength, tray.rooted, tray.stuck)).collect()
}

/// Fits every curve of the input with the shapes its options ask for.
pub(super) fn ready(input: &CurveInput, control: &Control) -> Result<Ready> {
    fitted(input, input.options.check()?, control)
}

/// Fits every curve of the input.
pub(super) fn fitted(input: &CurveInput, asked: Asked, control: &Control) -> Result<Ready> {
    let options = &input.options;
    let plain: Vec<Counts> = input.groups.iter().map(|group| Counts::new(&trays(group), None, options.shift)).collect();
    let arms: Vec<Arm> = plain.iter().flat_map(|counts| counts.arms.clone()).collect();
    let found = if input.counted { tray_spread(&arms) } else { None };
    let assumed = input.counted && found.is_none();
    let known =
        TraySpread { icc: PLANNING_ICC, dof: f64::INFINITY, dispersion: None, icc_floor: PLANNING_ICC, events: 0.0 };
    let spread = found.or(assumed.then_some(known));
    let dof = found.map(|spread| spread.dof);
    let mut curves = Vec::with_capacity(plain.len());
    for (group, plain) in input.groups.iter().zip(plain) {
        control.step()?;
        let counts = Counts::new(&trays(group), spread.as_ref(), options.shift);
        let n_obs = if input.counted { plain.units() } else { plain.cuttings() } as f64;
        let asked = if counts.all_alike() { Asked::One(Shape::Flat) } else { asked };
        let curve = fit_all(counts.effective(), Judge { dof, n_obs }, asked, options.link, control)?;
        curves.push((counts, curve));
    }
    Ok(Ready { curves, spread: found, assumed, judge: Judge { dof, n_obs: 0.0 } })
}

/// Fits the curves and finds their best strengths.
pub(super) fn figures(input: &CurveInput, control: &Control) -> Result<StrengthCurve> {
    let options = &input.options;
    let ready = ready(input, control)?;
    let wanted = Wanted { level: options.level, margin: options.margin, share: options.share };
    let mut curves = Vec::with_capacity(ready.curves.len());
    for (at, ((counts, curve), group)) in ready.curves.iter().zip(&input.groups).enumerate() {
        let mut best = find(curve, &wanted, control)?;
        let drawing = Drawing {
            draws: if counts.all_alike() { 0 } else { options.bootstrap },
            seed: options.seed,
            first: at as u64 * options.bootstrap,
            level: options.level,
            share: options.share,
        };
        best.bootstrap = bootstrap(curve, counts, &drawing, control)?;
        curves.push(OneCurve {
            levels: group.levels.clone(),
            name: group.name(),
            n_units: counts.units(),
            n_cuttings: counts.cuttings(),
            shift: curve.data.axis.scale(On::BASE).shift,
            shapes: shape_fits(curve, &input.unit),
            out: curve.out.iter().map(|(shape, why)| ShapeOut { shape: *shape, why: why.clone() }).collect(),
            strengths: strengths(counts, curve, options.level)?,
            best,
            line: line(curve, options.level),
            all_alike: counts.all_alike(),
        });
    }
    Ok(StrengthCurve {
        input: input.clone(),
        curves,
        spread: ready.spread,
        spread_assumed: ready.assumed,
        dof: ready.judge.dof,
        level: options.level,
    })
}

pub(super) fn shape_fits(curve: &Curve, unit: &str) -> Vec<ShapeFit> {
    let counting = curve.counting();
    let say = |member: &Member| {
        let own = counting.iter().find(|(other, _)| other.fitted.form == member.fitted.form);
        own.map_or(0.0, |(_, say)| *say)
    };
    curve.members.iter().map(|member| ShapeFit { say: say(member), ..shape_fit(member, curve, unit) }).collect()
}

fn shape_fit(member: &Member, curve: &Curve, unit: &str) -> ShapeFit {
    let fitted = &member.fitted;
    let unit = if unit.is_empty() { "unit of strength" } else { unit };
    let in_unit = |kind: Unit| match kind {
        Unit::Rate => "take, 0 to 1".to_owned(),
        Unit::Gain => "take".to_owned(),
        Unit::Strength => unit.to_owned(),
        Unit::RatePerStrength => format!("take per {unit}"),
        Unit::LogOdds => "log odds".to_owned(),
        Unit::PerX => "log odds per unit of log(1 + d/d0)".to_owned(),
        Unit::PerXSquared => "log odds per squared unit of log(1 + d/d0)".to_owned(),
        Unit::PerLog => "per unit of log d".to_owned(),
        Unit::Number => "power".to_owned(),
    };
    let named = parameters(fitted.form, &fitted.theta, &curve.data.axis);
    let coefficients: f64 = curve.data.levels.iter().map(|level| ln_choose(level.stuck, level.rooted)).sum();
    let (verdict, reason) = fitted.verdict();
    ShapeFit {
        shape: fitted.form.shape,
        weight: member.weight,
        say: 0.0,
        aicc: member.aicc,
        loglik: fitted.loglik + coefficients,
        deviance: member.deviance,
        lack_dof: member.lack_dof,
        lack_p_value: member.lack_p,
        parameters: named
            .into_iter()
            .map(|one| Parameter { name: one.name.to_owned(), value: one.value, unit: in_unit(one.unit) })
            .collect(),
        verdict,
        reason,
        iterations: fitted.iterations,
        searches: fitted.followed as u64,
        searches_agreeing: fitted.agreeing as u64,
        gradient_max: fitted.gradient_max(&curve.data),
    }
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
        let (conf_low, conf_high) = interval_effective(one.rooted, one.stuck, IntervalMethod::Wilson, critical)?;
        rows.push(StrengthLevel {
            strength: one.strength,
            n_units: arm.stuck.len() as u64,
            rooted: arm.rooted.iter().sum(),
            stuck: arm.stuck.iter().sum(),
            value: arm.rate(),
            conf_low,
            conf_high,
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
        line.conf_low.push(here.low);
        line.conf_high.push(here.high);
    }
    line
}
