//! All checks of a fitted model together.

use super::calibration::{groups, hosmer_lemeshow};
use super::goodness::{dispersion, goodness_of_fit, single_cuttings};
use super::influence::{Change, distance, one_step, refits};
use super::link_check::link_check;
use super::numbers::{CheckOptions, Checks, TrayCheck};
use super::residuals::{quantile_plot, residuals};
use super::view::{View, Views, name, treatment};
use super::words;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::{CountError, Result};
use crate::math::rng::stream;
use crate::models::{Model, Ready};
use crate::trial::{UnitKind, unit_called};

/// Without being asked, the model is fitted without each tray for this many trays at most.
pub(super) const MOST_REFITS: usize = 300;

/// What [`Model::checks`] tells.
pub(super) fn checks(model: &Model, options: &CheckOptions, control: &Control) -> Result<Answer<Checks>> {
    if !(3..=100).contains(&options.groups) {
        let value = options.groups as f64;
        return Err(CountError::OutOfRange { name: "groups", value, low: 3.0, high: 100.0 }.into());
    }
    let ready = model.ready()?;
    let views = Views::new(model, &ready);
    let refitted = options.refit.unwrap_or(views.trays.len() <= MOST_REFITS);
    let refits = if refitted { refits(model, &ready, &views, control)? } else { vec![None; views.trays.len()] };
    let mut trays = Vec::with_capacity(views.trays.len());
    for (view, refit) in views.trays.iter().zip(refits) {
        control.step()?;
        trays.push(check(model, &ready, &views, (view, refit), options.seed));
    }
    let rank = ready.design.rank();
    let quantiles: Vec<f64> = trays.iter().map(|tray: &TrayCheck| tray.quantile_residual).collect();
    let calibration = groups(&views.trays, options.groups);
    let single = single_cuttings(&views.trays);
    let figures = Checks {
        goodness_of_fit: goodness_of_fit(&views.trays, rank, model.spec.link),
        dispersion: dispersion(model, &views.trays, rank),
        hosmer_lemeshow: if single { hosmer_lemeshow(&calibration) } else { None },
        link_check: link_check(model, &ready)?,
        calibration,
        quantile_plot: quantile_plot(&quantiles),
        trays,
        seed: options.seed,
        refitted,
        unit: if model.units.kind == UnitKind::Tray { unit_called(&model.units) } else { "count".to_owned() },
    };
    Ok(words::answer(model, figures, options))
}

fn check(model: &Model, ready: &Ready, views: &Views, (view, refit): (&View, Option<Change>), seed: u64) -> TrayCheck {
    let found = residuals(view, model.spec.link, &mut stream(seed, view.unit as u64));
    let step = one_step(model, ready, views, view);
    // What rounding leaves is no change, and names no rate.
    let real = |change: &Change| change.rate.abs() > ROUNDING;
    let told = |change: Change| if real(&change) { change.rate } else { 0.0 };
    TrayCheck {
        tray: name(model, view.unit),
        treatment: treatment(model, view.unit),
        rooted: view.rooted as u64,
        stuck: view.stuck as u64,
        expected: view.stuck * view.mean,
        quantile_residual: found.quantile,
        pearson_residual: found.pearson,
        standardised_residual: found.standardised,
        deviance_residual: found.deviance,
        leverage: view.hat,
        distance: distance(view, ready.design.rank()),
        one_step_change: step.map(told),
        refit_change: refit.map(told),
        changes: refit.or(step).filter(real).map(|change| combination(ready, change.row)),
        p: found.p,
    }
}

/// Changes of a rate below this come from rounding.
const ROUNDING: f64 = 1e-9;

/// "strength 5000, rootstock K12" of a row of the data.
fn combination(ready: &Ready, row: usize) -> String {
    let values = ready.values_of(row);
    let parts = ready.frame.variables.iter().zip(&values);
    let parts: Vec<String> =
        parts.map(|(variable, value)| format!("{} {}", variable.name, variable.label(*value))).collect();
    parts.join(", ")
}
