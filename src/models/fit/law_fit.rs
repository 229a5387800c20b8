//! The fit of a law of the trays, as a model.

use std::sync::Arc;

use super::assembled::assemble;
use super::penalise::fit_or_penalise;
use crate::error::{ModelError, Result};
use crate::math::dense::add_scaled;
use crate::math::regression::Solution;
use crate::models::design::{Design, Fit, user_scale};
use crate::models::enter::{Frame, ModelSpec, TrayMode};
use crate::models::kept::{Model, Solved};
use crate::models::laws::tray_law::{Law, Trays, spreads};
use crate::trial::{UnitKind, Units};

/// True when such a law is asked for.
pub(crate) fn is_asked(spec: &ModelSpec) -> bool {
    matches!(spec.trays, TrayMode::BetaBinomial | TrayMode::Random)
}

/// Random effects of named groupings need trays.
pub(crate) fn check(units: &Units, spec: &ModelSpec) -> Result<()> {
    let named = !spec.random.is_empty() && units.kind == UnitKind::Pooled;
    if named { Err(ModelError::RandomWithoutTrays.into()) } else { Ok(()) }
}

/// Fits the law asked for: the model without its words, and the fit that it is to keep.
pub(crate) fn fit(units: &Arc<Units>, spec: &ModelSpec, frame: Frame) -> Result<(Model, Solved)> {
    let design = Design::full(&frame);
    let (solution, penalised, separated) = fit_or_penalise(&frame, &design, spec)?;
    let (trays, mut strata) = Trays::new(&frame, units, spec, penalised, design.rank())?;
    let law = trays.law(&design.x())?;
    let fit = Fit { design: &design, data: &frame.data, link: spec.link, penalised };
    let mut model = assemble(units, spec, &frame, (&fit, &solution), true)?;
    strata.confined.clone_from(&frame.placing.confined);
    model.strata = strata;
    let ln_scales: f64 = design.scales.iter().map(|scale| scale.ln()).sum();
    let with_law = Solution { coef: law.coef().to_vec(), ..solution.clone() };
    let covariance = law.covariance();
    (model.coefficients, model.covariance) = user_scale(&frame, &design, &with_law, &covariance);
    (model.loglik, model.penalised_loglik) = law.logliks();
    model.penalised_loglik = model.penalised_loglik.map(|value| value + ln_scales);
    let record = &mut model.convergence;
    (record.iterations, record.converged, record.gradient_max) = law.search();
    let mut record = law.law_record(trays.in_words());
    record.equal_icc = trays.equal_icc(&law, &design.x())?;
    model.law = Some(record);
    model.spread = spreads(&law, &trays, &model.strata, spec.confidence)?;
    (model.trays, model.separated) = (spec.trays, separated);
    drop(trays);
    Ok((model, solved(frame, design, solution, law)))
}

/// A law with its coefficients as those of the solution.
pub(crate) fn solved(frame: Frame, design: Design, binomial: Solution, law: Law) -> Solved {
    let coef = law.coef().to_vec();
    let mut eta = design.matrix.times(&coef);
    add_scaled(&mut eta, 1.0, &frame.data.offset);
    Solved { frame, design, solution: Solution { coef, eta, ..binomial }, law: Some(law) }
}
