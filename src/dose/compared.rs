//! Do the curves differ, in form or only in place, and by how much?

use serde::{Deserialize, Serialize};

use super::axis::{Axis, Data};
use super::candidates::{Curve, Judge, Member};
use super::fit::{FULL, Fitted, fit};
use super::joint::Joint;
use super::likelihood::Form;
use super::shape::Shape;
use crate::control::Control;
use crate::error::{DoseError, Result};
use crate::estimate::TestResult;

/// One curve set against the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Shift {
    /// The curve.
    pub curve: String,
    /// The first curve.
    pub against: String,
    /// "relative potency" (strength of the first over strength of this one for the same take), "odds ratio", or "shift on
    /// log(1 + d/d0)".
    pub measure: String,
    /// Estimate.
    pub value: f64,
    /// Lower profile limit.
    pub conf_low: f64,
    /// Upper profile limit.
    pub conf_high: f64,
}

/// Curves compared under one shape.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Compared {
    /// The shape all curves are fitted with.
    pub shape: Shape,
    /// "same form": own parameters against one form at different places. "same curve": different places against one curve.
    /// "no difference": own parameters against one curve.
    pub tests: Vec<TestResult>,
    /// Each curve against the first, where one form is fitted to all.
    pub shifts: Vec<Shift>,
}

/// The form with the smallest sum of criteria among those fitted to every curve.
fn common(curves: &[Curve]) -> Option<Form> {
    let first = curves.first()?;
    let total = |form: Form| -> Option<f64> {
        let own =
            |curve: &Curve| curve.members.iter().find(|member| member.fitted.form == form).map(|member| member.aicc);
        curves.iter().map(own).sum()
    };
    // Cedergreen's stimulation has a scale of its own, so its curves have no common form at different places.
    let placed = |member: &&Member| member.fitted.form.shape != Shape::Cedergreen;
    let some_placed = first.members.iter().any(|member| placed(&member));
    let usable = first.members.iter().filter(|member| !some_placed || placed(member));
    let sums = usable.filter_map(|member| total(member.fitted.form).map(|sum| (member.fitted.form, sum)));
    let least = |best: Option<(Form, f64)>, one: (Form, f64)| match best {
        Some(best) if best.1 <= one.1 => Some(best),
        _ => Some(one),
    };
    sums.fold(None, least).map(|(form, _)| form)
}

/// Compares the curves; they are judged together by `judge`.
pub(super) fn compare(
    curves: &[Curve],
    names: &[String],
    shift: Option<f64>,
    (judge, level): (&Judge, f64),
    control: &Control,
) -> Result<Compared> {
    if curves.len() < 2 {
        return Err(DoseError::OneCurve.into());
    }
    let form = common(curves).ok_or(DoseError::NoCommonShape { curves: curves.len() })?;
    let shape = form.shape;
    let mut strengths: Vec<f64> =
        curves.iter().flat_map(|curve| &curve.data.levels).map(|level| level.strength).collect();
    strengths.sort_unstable_by(f64::total_cmp);
    strengths.dedup();
    let axis = Axis::new(&strengths, shift);
    let data: Vec<Data> = curves.iter().map(|curve| curve.data.on(axis)).collect();
    let own: Vec<Fitted> = data.iter().map(|data| fit(form, data, None, FULL, control)).collect::<Result<_>>()?;
    let pooled = Data { axis, levels: data.iter().flat_map(|data| data.levels.clone()).collect(), beside: None };
    let one = fit(form, &pooled, None, FULL, control)?;
    let starts: Vec<&Fitted> = own.iter().chain([&one]).collect();
    let mut joint = Joint::new(form, &data);
    // Blocks and spreads stay those of each curve where one curve is fitted to all.
    let as_one = match &mut joint {
        Some(joint) if data.iter().any(|data| data.beside.is_some()) => joint.at_one_place(&starts, control)?,
        _ => one.loglik,
    };
    let apart: f64 = own.iter().map(|fitted| fitted.loglik).sum();
    let (k, others) = (shape.parameters() as f64, curves.len() as f64 - 1.0);
    let mut compared = Compared { shape, tests: Vec::new(), shifts: Vec::new() };
    let mut test = |method: &str, ratio: f64, dof: f64| {
        let ratio = ratio.max(0.0);
        compared.tests.push(TestResult {
            method: method.to_owned(),
            statistic: Some(if judge.dof.is_some() { ratio / dof } else { ratio }),
            dof: Some(dof),
            dof_denominator: judge.dof,
            p_value: judge.tail(ratio, dof),
        });
    };
    // Flat curves have no place to differ in.
    let mut joint = joint.filter(|_| !matches!(shape, Shape::Flat | Shape::Cedergreen));
    let together = match &mut joint {
        Some(joint) => joint.fit(&starts, control)?,
        None => None,
    };
    if let Some(top) = &together {
        if k > 1.0 {
            test("same form", 2.0 * (apart - top.local.value), (k - 1.0) * others);
        }
        test("same curve", 2.0 * (top.local.value - as_one), others);
    }
    test("no difference", 2.0 * (apart - as_one), k * others);
    if let (Some(joint), Some(top)) = (&mut joint, &together) {
        for curve in 1..curves.len() {
            let (low, high) = joint.limits(top, curve, judge.critical(level), control)?;
            let value = top.at.get(joint.distance(curve)).copied().unwrap_or(f64::NAN);
            compared.shifts.push(shift_of(form, &axis, (names, curve), [value, low, high]));
        }
    }
    Ok(compared)
}

/// A distance between curves in words that fit its scale.
fn shift_of(form: Form, axis: &Axis, (names, curve): (&[String], usize), [value, low, high]: [f64; 3]) -> Shift {
    let name = |at: usize| names.get(at).cloned().unwrap_or_default();
    let (measure, value, conf_low, conf_high) = match form.shape.location() {
        // A curve that lies further right needs more for the same take.
        Some((_, false)) => ("relative potency", (-value).exp(), (-high).exp(), (-low).exp()),
        Some((_, true)) => {
            let span = axis.scale(form.on).span;
            ("shift on log(1 + d/d0)", value * span, low * span, high * span)
        }
        None => ("odds ratio", value.exp(), low.exp(), high.exp()),
    };
    Shift { curve: name(curve), against: name(0), measure: measure.to_owned(), value, conf_low, conf_high }
}
