//! Do the curves differ, in form or only in place, and by how much?

use super::numbers::{Compared, Shift};
use crate::control::Control;
use crate::curves::fit::{Apart, Curve, Data, FULL, Fitted, Joint, Judge, Slope, common, fit, pooled};
use crate::curves::input::CurveBays;
use crate::curves::shape::{Axis, Form, Shape};
use crate::error::{CurveError, Result};
use crate::estimate::{TestName, TestResult};

/// What a comparison is judged by.
#[derive(Debug, Clone, Copy)]
pub(crate) struct JudgedBy<'a> {
    /// Trays.
    pub(crate) judge: &'a Judge,
    /// Bays, where these carry the level.
    pub(crate) bays: Option<&'a CurveBays>,
    pub(crate) confidence: f64,
}

/// All curves in one form: each on its own, and all as one.
struct Forms<'a> {
    form: Form,
    data: &'a [Data],
    /// The curves' own fits, then that of all together.
    starts: Vec<&'a Fitted>,
    /// Log-likelihoods of curves of their own, and of one curve.
    apart: f64,
    as_one: f64,
}

impl Forms<'_> {
    fn others(&self) -> f64 {
        self.data.len() as f64 - 1.0
    }
}

fn tested(judge: &Judge, method: TestName, ratio: f64, df: f64) -> TestResult {
    let ratio = ratio.max(0.0);
    TestResult {
        method,
        statistic: Some(if judge.df.is_some() { ratio / df } else { ratio }),
        df: Some(df),
        error_df: judge.df,
        p: judge.tail(ratio, df),
    }
}

/// Compares the curves.
pub(crate) fn compare(
    curves: &[&Curve],
    names: &[String],
    shift: Option<f64>,
    by: &JudgedBy<'_>,
    control: &Control,
) -> Result<Compared> {
    if curves.len() < 2 {
        return Err(CurveError::OneCurve.into());
    }
    let mut strengths: Vec<f64> =
        curves.iter().flat_map(|curve| &curve.data.levels).map(|level| level.strength).collect();
    strengths.sort_unstable_by(f64::total_cmp);
    strengths.dedup();
    let axis = Axis::new(&strengths, shift);
    let data: Vec<Data> = curves.iter().map(|curve| curve.data.on(axis)).collect();
    let form = common(curves, &data, by.judge, control)?;
    let shape = form.shape;
    let own: Vec<Fitted> = data.iter().map(|data| fit(form, data, None, FULL, control)).collect::<Result<_>>()?;
    let all = pooled(&data).ok_or(CurveError::OneCurve)?;
    let one = fit(form, &all, None, FULL, control)?;
    let starts: Vec<&Fitted> = own.iter().chain([&one]).collect();
    // Blocks and spreads stay those of each curve where one curve is fitted to all.
    let as_one = match Joint::new((form, Apart::Places), &data) {
        Some(mut joint) if data.iter().any(|data| data.beside.is_some()) => joint.at_one_place(&starts, control)?,
        _ => one.loglik,
    };
    let apart: f64 = own.iter().map(|fitted| fitted.loglik).sum();
    let forms = Forms { form, data: &data, starts, apart, as_one };
    let mut compared = Compared { shape, tests: Vec::new(), distances: Vec::new(), heights: Vec::new() };
    if by.bays.is_none() {
        places(&forms, (names, &axis), by, &mut compared, control)?;
    }
    heights(&forms, names, by, &mut compared, control)?;
    Ok(compared)
}

/// Curves of one form at different places.
fn places(
    forms: &Forms<'_>,
    (names, axis): (&[String], &Axis),
    by: &JudgedBy<'_>,
    compared: &mut Compared,
    control: &Control,
) -> Result<()> {
    let (shape, others) = (compared.shape, forms.others());
    let k = shape.parameters() as f64;
    // Flat curves have no place to differ in.
    let placed = !matches!(shape, Shape::Flat | Shape::Cedergreen);
    let mut joint = Joint::new((forms.form, Apart::Places), forms.data).filter(|_| placed);
    let together = match &mut joint {
        Some(joint) => joint.fit(&forms.starts, control)?,
        None => None,
    };
    if let Some(top) = &together {
        if k > 1.0 {
            compared.tests.push(tested(
                by.judge,
                TestName::SameForm,
                2.0 * (forms.apart - top.local.value),
                (k - 1.0) * others,
            ));
        }
        compared.tests.push(tested(by.judge, TestName::SameCurve, 2.0 * (top.local.value - forms.as_one), others));
    }
    compared.tests.push(tested(by.judge, TestName::NoDifference, 2.0 * (forms.apart - forms.as_one), k * others));
    if let (Some(joint), Some(top)) = (&mut joint, &together) {
        for curve in 1..forms.data.len() {
            let (low, high) = joint.limits(top, curve, by.judge.critical(by.confidence), control)?;
            let value = top.at.get(joint.distance(curve)).copied().unwrap_or(f64::NAN);
            compared.distances.push(shift_of(forms.form, axis, (names, curve), [value, low, high]));
        }
    }
    Ok(())
}

/// Curves of one form, and so of one best strength, at different heights.
fn heights(
    forms: &Forms<'_>,
    names: &[String],
    by: &JudgedBy<'_>,
    compared: &mut Compared,
    control: &Control,
) -> Result<()> {
    // Cedergreen's curves are compared as a whole only.
    let placed = compared.shape != Shape::Cedergreen;
    let joint = Joint::new((forms.form, Apart::Heights), forms.data).filter(|_| placed);
    let Some(mut joint) = joint else { return Ok(()) };
    let Some(top) = joint.fit(&forms.starts, control)? else { return Ok(()) };
    let (k, others) = (compared.shape.parameters() as f64, forms.others());
    if k > 1.0 {
        let ratio = 2.0 * (forms.apart - top.local.value);
        compared.tests.push(tested(by.judge, TestName::SameButForHeight, ratio, (k - 1.0) * others));
    }
    let height = |curve: usize| match curve {
        0 => 0.0,
        _ => top.at.get(joint.distance(curve)).copied().unwrap_or(f64::NAN),
    };
    let levels: Vec<f64> = (0..forms.data.len()).map(height).collect();
    let slopes: Vec<Slope> = forms.starts.iter().zip(forms.data).map(|(own, data)| Slope::of(own, data)).collect();
    match by.bays {
        None => {
            compared.tests.push(tested(by.judge, TestName::SameHeight, 2.0 * (top.local.value - forms.as_one), others));
        }
        Some(bays) if bays.judge_levels() => {
            let Some((statistic, df, p)) = bays.test(&levels, &bays.against_first(&slopes)) else {
                return Ok(());
            };
            compared.tests.push(TestResult {
                method: TestName::SameHeight,
                statistic: Some(statistic),
                df: Some(df),
                error_df: Some(bays.df),
                p,
            });
        }
        Some(_) => return Ok(()),
    }
    for (curve, value) in levels.iter().enumerate().skip(1) {
        let (low, high) = match by.bays {
            None => joint.limits(&top, curve, by.judge.critical(by.confidence), control)?,
            Some(bays) => {
                let own = bays.against_first(&slopes).get(curve - 1).and_then(|row| row.get(curve - 1)).copied();
                let reach = bays.reach(own.unwrap_or(f64::NAN), by.confidence);
                (value - reach, value + reach)
            }
        };
        let name = |at: usize| names.get(at).cloned().unwrap_or_default();
        compared.heights.push(Shift {
            curve: name(curve),
            against: name(0),
            measure: "odds ratio at every strength".to_owned(),
            value: value.exp(),
            low: low.exp(),
            high: high.exp(),
        });
    }
    Ok(())
}

/// A distance between curves in words that fit its scale.
fn shift_of(form: Form, axis: &Axis, (names, curve): (&[String], usize), [value, low, high]: [f64; 3]) -> Shift {
    let name = |at: usize| names.get(at).cloned().unwrap_or_default();
    let (measure, value, low, high) = match form.shape.location() {
        // A curve that lies further right needs more for the same take.
        Some((_, false)) => ("relative potency", (-value).exp(), (-high).exp(), (-low).exp()),
        Some((_, true)) => {
            let span = axis.scale(form.on).span;
            ("shift on log(1 + d/d0)", value * span, low * span, high * span)
        }
        None => ("odds ratio", value.exp(), low.exp(), high.exp()),
    };
    Shift { curve: name(curve), against: name(0), measure: measure.to_owned(), value, low, high }
}
