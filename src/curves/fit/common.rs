//! The form in which curves are compared.

use super::candidates::{Curve, Member, criterion};
use super::data::Data;
use super::joint::{Apart, Joint};
use super::judge::Judge;
use super::one_shape::{ALONG, FULL, Fitted, fit};
use crate::control::Control;
use crate::curves::shape::{Form, Shape};
use crate::error::{CurveError, Result};

/// Forms whose sum of criteria is larger than the smallest by no more describe the curves apart nearly as well as any.
const SUPPORTED: f64 = 4.0;

/// The data of all curves as if they were one, blocks and laws of the trays left aside.
pub(crate) fn pooled(data: &[Data]) -> Option<Data> {
    let axis = data.first()?.axis;
    Some(Data { axis, levels: data.iter().flat_map(|data| data.levels.clone()).collect(), beside: None })
}

/// The form to compare the curves in, `data` are theirs on one axis: of the forms that describe them apart nearly as well as any, that which
/// describes curves alike but for height best.
///
/// What fits best apart must not be chosen: tests of the curves being alike would find the alternative chosen to suit it, and alarm too often.
/// Nor what fits best alike among all: where forms do differ, a form that suits none of the curves might hide it.
///
/// # References
/// Burnham KP, Anderson DR (2002), Model selection and multimodel inference, section 2.6 (differences of the criterion that leave support).
pub(crate) fn common(curves: &[&Curve], data: &[Data], judge: &Judge, control: &Control) -> Result<Form> {
    let forms = supported(curves);
    let none = || CurveError::NoCommonShape { curves: curves.len() };
    let &(first, _) = forms.first().ok_or_else(none)?;
    // A shape that was asked for stands; Cedergreen's curves have no common form at different heights.
    if forms.len() == 1 || first.shape == Shape::Cedergreen {
        return Ok(first);
    }
    let n_obs = curves.iter().map(|curve| curve.judge.n_obs).sum();
    let judge = Judge { n_obs, ..*judge };
    let data: Vec<Data> = data.iter().map(counted).collect();
    let mut best = (first, f64::INFINITY);
    for (form, _) in forms {
        let here = alike(form, &data, &judge, control)?;
        if here < best.1 {
            best = (form, here);
        }
    }
    Ok(best.0)
}

/// The forms fitted to every curve whose sum of criteria is nearly the smallest, the smallest first.
fn supported(curves: &[&Curve]) -> Vec<(Form, f64)> {
    let Some(first) = curves.first() else { return Vec::new() };
    let total = |form: Form| -> Option<f64> {
        let own =
            |curve: &&Curve| curve.members.iter().find(|member| member.fitted.form == form).map(|member| member.aicc);
        curves.iter().map(own).sum()
    };
    // Cedergreen's stimulation has a scale of its own, so its curves have no common form at different places.
    let placed = |member: &&Member| member.fitted.form.shape != Shape::Cedergreen;
    let some_placed = first.members.iter().any(|member| placed(&member));
    let usable = first.members.iter().filter(|member| !some_placed || placed(member));
    let mut sums: Vec<(Form, f64)> =
        usable.filter_map(|member| total(member.fitted.form).map(|sum| (member.fitted.form, sum))).collect();
    sums.sort_by(|a, b| a.1.total_cmp(&b.1));
    let least = sums.first().map_or(0.0, |one| one.1);
    sums.retain(|one| one.1 <= least + SUPPORTED);
    sums
}

/// Laws of the trays make steps dear, and shift hardly how forms stand to each other: forms are told apart on effective counts.
fn counted(data: &Data) -> Data {
    let beside = data.beside.clone().filter(|beside| !beside.has_law());
    Data { beside, ..data.clone() }
}

/// The criterion of one form at different heights.
fn alike(form: Form, data: &[Data], judge: &Judge, control: &Control) -> Result<f64> {
    let mut fits: Vec<Fitted> = data.iter().map(|data| fit(form, data, None, ALONG, control)).collect::<Result<_>>()?;
    if let Some(one) = pooled(data) {
        fits.push(fit(form, &one, None, FULL, control)?);
    }
    let starts: Vec<&Fitted> = fits.iter().collect();
    let top = match Joint::new((form, Apart::Heights), data) {
        Some(mut joint) => joint.fit(&starts, control)?,
        None => None,
    };
    let parameters = form.shape.parameters() + data.len() - 1;
    Ok(top.map_or(f64::INFINITY, |top| criterion(top.local.value, parameters, judge)))
}
