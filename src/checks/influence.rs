//! What one tray does to the estimates: one step from the fit, and the fit without it.

use std::sync::Arc;

use rayon::prelude::*;

use super::view::{View, Views};
use crate::control::Control;
use crate::error::{Error, Result};
use crate::math::dense::dot;
use crate::models::{Frame, Model, Ready};
use crate::trial::Value;

/// A change of the expected rates when a tray is left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Change {
    /// The largest change of an expected rate, as a proportion with its sign.
    pub(super) rate: f64,
    /// Row of the model's data whose rate changes so.
    pub(super) row: usize,
}

/// Beyond this many combinations only the tray's own rate is looked at.
const MOST_ROWS: usize = 1000;

/// Distance of all coefficients, `e^2 h / (variance k (1 - h)^2)` with `k` coefficients.
///
/// # References
/// Cook (1977), Technometrics 19:15-18; Williams (1987), Applied Statistics 36:181-191.
pub(super) fn distance(view: &View, rank: usize) -> Option<f64> {
    let left = 1.0 - view.hat;
    (left > 1e-9 && view.variance > 0.0)
        .then(|| view.off().powi(2) / view.variance * view.hat / (left * left * rank as f64))
}

/// One step of the fit without the tray: `b - V x s / (1 - h)` with its score `s`.
///
/// # References
/// Pregibon (1981), Annals of Statistics 9:705-724.
pub(super) fn one_step(model: &Model, ready: &Ready, views: &Views, view: &View) -> Option<Change> {
    let left = 1.0 - view.hat;
    if left <= 1e-9 || view.variance <= 0.0 {
        return None;
    }
    let x = views.row(view.row);
    let score = view.slope * view.off() / view.variance;
    let step: Vec<f64> = views.covariance.iter().map(|row| -dot(row, &x) * score / left).collect();
    let eta = &ready.solution.eta;
    let mut largest: Option<Change> = None;
    for row in rows_looked_at(eta.len(), view.row) {
        let eta = eta.get(row)?;
        let moved = dot(&step, &views.row(row));
        keep_larger(&mut largest, rate(model, ready, eta + moved) - rate(model, ready, *eta), row);
    }
    largest
}

fn keep_larger(largest: &mut Option<Change>, rate: f64, row: usize) {
    if rate.is_finite() && largest.is_none_or(|known| rate.abs() > known.rate.abs()) {
        *largest = Some(Change { rate, row });
    }
}

fn rows_looked_at(rows: usize, own: usize) -> std::ops::Range<usize> {
    if rows <= MOST_ROWS { 0..rows } else { own..own + 1 }
}

/// The rate over all trays.
fn rate(model: &Model, ready: &Ready, eta: f64) -> f64 {
    let total = ready.total_deviation();
    if total > 0.0 {
        crate::models::mixed::marginal_rate(model.spec.link, eta, total).rate
    } else {
        model.spec.link.at(eta).mean
    }
}

/// The fit without each tray, and the largest change of an expected rate; none where a rate cannot be given without it.
///
/// # Errors
/// When the user stops.
pub(super) fn refits(model: &Model, ready: &Ready, views: &Views, control: &Control) -> Result<Vec<Option<Change>>> {
    views.trays.par_iter().map(|view| without(model, ready, view, control)).collect()
}

fn without(model: &Model, ready: &Ready, view: &View, control: &Control) -> Result<Option<Change>> {
    control.step()?;
    let mut left = model.clone();
    let units = Arc::make_mut(&mut left.units);
    for counts in [&mut units.rooted, &mut units.stuck] {
        if let Some(count) = counts.get_mut(view.unit) {
            *count = 0;
        }
    }
    // A fit that fails without the tray is no error of the model: its change is then not known.
    let refit = match left.ready() {
        Ok(refit) => refit,
        Err(Error::Interrupted) => return Err(Error::Interrupted),
        Err(_) => return Ok(None),
    };
    let mut largest = None;
    for row in rows_looked_at(ready.solution.eta.len(), view.row) {
        let Some(eta) = ready.solution.eta.get(row) else { continue };
        let Some(moved) = predictor(ready, &refit, row) else { return Ok(None) };
        keep_larger(&mut largest, rate(&left, &refit, moved) - rate(model, ready, *eta), row);
    }
    Ok(largest)
}

/// The linear predictor of a row of one fit in another fit of the same model.
fn predictor(from: &Ready, to: &Ready, row: usize) -> Option<f64> {
    let values = translate(&from.frame, &to.frame, &from.values_of(row))?;
    Some(to.at_values(&values, Some(from.offset_of(row)))?.1)
}

/// The same values by the codes and scales of another frame; none where a level is not in it.
fn translate(from: &Frame, to: &Frame, values: &[Value]) -> Option<Vec<Value>> {
    let one = |(at, value): (usize, &Value)| {
        let (old, new) = (from.variables.get(at)?, to.variables.get(at)?);
        Some(match value {
            Value::Level(level) => {
                let label = old.levels.get(*level)?;
                Value::Level(new.levels.iter().position(|known| known == label)?)
            }
            Value::Number(z) => Value::Number((z * old.scale + old.centre - new.centre) / new.scale),
        })
    };
    values.iter().enumerate().map(one).collect()
}
