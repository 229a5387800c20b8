//! A model from its solution: likelihoods, deviances, Pearson's statistic and the record of the fit.

use std::sync::Arc;

use crate::error::Result;
use crate::math::regression::{Link, Point, Solution};
use crate::math::search::{Convergence, DECREMENT, Verdict};
use crate::models::design::{Fit, singular, user_scale};
use crate::models::enter::{Frame, ModelSpec, Tally, TrayMode};
use crate::models::errors::{Strata, pearson};
use crate::models::kept::{Beside, Model};
use crate::trial::{Units, at_rate};

/// The model of a solution; `apart` counts every unit for itself, also those alike in all variables.
pub(crate) fn assemble(
    units: &Arc<Units>,
    spec: &ModelSpec,
    frame: &Frame,
    (fit, solution): (&Fit<'_>, &Solution),
    apart: bool,
) -> Result<Model> {
    let design = fit.design;
    let information = solution.information.as_ref().ok_or_else(singular)?;
    let (coefficients, covariance) = user_scale(frame, design, solution, information.covariance());
    // Those of the units, also where units are joined: models of the same units can then be compared.
    let constants = frame.constants(apart);
    let mut null = common_rate(frame);
    if !frame.data.offset.is_empty() {
        let plain = Fit { penalised: false, ..*fit };
        null = plain.without(&(1..design.rank()).collect::<Vec<_>>())?.kernel;
    }
    // The counts as they are, also where effective counts were fitted.
    let kernel = if frame.divided { kernel(frame, fit.link, &solution.eta, apart) } else { solution.kernel };
    let nobs = if apart { frame.per_unit.stuck.len() } else { frame.data.stuck.len() };
    let ln_scales: f64 = design.scales.iter().map(|scale| scale.ln()).sum();
    let condition = information.condition();
    let penalised_loglik = kernel + solution.objective - solution.kernel + constants.binomial + ln_scales;
    Ok(Model {
        units: Arc::clone(units),
        spec: spec.clone(),
        trays: TrayMode::Ignore,
        penalised: fit.penalised,
        separated: Vec::new(),
        coefficients,
        covariance,
        inseparable: design.inseparable(),
        loglik: kernel + constants.binomial,
        penalised_loglik: fit.penalised.then_some(penalised_loglik),
        deviance: (2.0 * (constants.saturated - kernel)).max(0.0),
        deviance_without_effects: (2.0 * (constants.saturated - null)).max(0.0),
        pearson: pearson(frame.tallies(apart), fit.link, &solution.eta),
        error_df: nobs.saturating_sub(design.rank()) as u64,
        criteria: None,
        strata: Strata::binomial(),
        spread: Vec::new(),
        law: None,
        n_units: frame.per_unit.stuck.len() as u64,
        n_cuttings: frame.per_unit.stuck.iter().sum::<f64>() as u64,
        convergence: Convergence {
            iterations: solution.iterations,
            converged: solution.converged,
            tolerance: DECREMENT,
            start: vec![0.0; design.rank()],
            gradient_max: solution.gradient_max,
            condition: if condition.is_finite() { condition } else { f64::MAX },
            rank: design.rank() as u64,
            verdict: Verdict::Fitted,
            reason: None,
        },
        notes: Vec::new(),
        data_fingerprint: None,
        beside: Beside::default(),
    })
}

/// Log-likelihood kernel of the counts at a linear predictor per row.
fn kernel(frame: &Frame, link: Link, eta: &[f64], apart: bool) -> f64 {
    let part = |one: &Tally, point: &Point| {
        one.times * (one.rooted * point.ln_mean + (one.stuck - one.rooted) * point.ln_rest)
    };
    if !apart || frame.is_apart() {
        return frame.tallies(apart).filter_map(|one| Some(part(&one, &link.at(*eta.get(one.row)?)))).sum();
    }
    // Many units to a row: its rate is worked out once.
    let points: Vec<Point> = eta.iter().map(|eta| link.at(*eta)).collect();
    frame.tallies(apart).filter_map(|one| Some(part(&one, points.get(one.row)?))).sum()
}

/// Log-likelihood kernel of one common rate.
fn common_rate(frame: &Frame) -> f64 {
    let sum = |of: fn(&Tally) -> f64| frame.tallies(true).map(|one| one.times * of(&one)).sum::<f64>();
    let (rooted, stuck) = (sum(|one| one.rooted), sum(|one| one.stuck));
    at_rate(rooted, stuck, rooted / stuck)
}
