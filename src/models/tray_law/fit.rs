//! The fit of a law of the trays, as a model.

use std::sync::Arc;

use super::law::Law;
use super::spreads::spreads;
use super::trays::Trays;
use crate::error::{ModelError, Result};
use crate::math::dense::add_scaled;
use crate::math::regression::Solution;
use crate::models::assembled::assemble;
use crate::models::criteria::criteria;
use crate::models::design_matrix::Design;
use crate::models::frame::Frame;
use crate::models::likelihood::Fit;
use crate::models::model::Model;
use crate::models::penalise::fit_or_penalise;
use crate::models::ready::Solved;
use crate::models::spec::{ModelSpec, TrayMode};
use crate::models::user_scale::user_scale;
use crate::models::wording;
use crate::trial::{UnitKind, Units};

/// True when such a law is asked for.
pub(in crate::models) fn is_asked(spec: &ModelSpec) -> bool {
    matches!(spec.trays, TrayMode::BetaBinomial | TrayMode::Random)
}

/// Random effects of named groupings need trays.
pub(in crate::models) fn check(units: &Units, spec: &ModelSpec) -> Result<()> {
    let named = !spec.random.is_empty() && units.kind == UnitKind::Pooled;
    if named { Err(ModelError::RandomWithoutTrays.into()) } else { Ok(()) }
}

/// Fits the law asked for.
pub(in crate::models) fn fit(units: &Arc<Units>, spec: &ModelSpec, frame: Frame) -> Result<Model> {
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
    model.notes = wording::notes(&model, &frame);
    wording::verdict(&mut model);
    model.criteria = criteria(&model);
    drop(trays);
    model.keep(solved(frame, design, solution, law));
    Ok(model)
}

/// A law with its coefficients as those of the solution.
pub(super) fn solved(frame: Frame, design: Design, binomial: Solution, law: Law) -> Solved {
    let coef = law.coef().to_vec();
    let mut eta = design.matrix.times(&coef);
    add_scaled(&mut eta, 1.0, &frame.data.offset);
    Solved { frame, design, solution: Solution { coef, eta, ..binomial }, law: Some(law) }
}
