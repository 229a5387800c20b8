//! Models in which trays follow a law of their own: beta-binomial, or normal effects on the link scale.

mod law;
mod layers;
mod strata;
mod trays;
mod words;

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::error::{ModelError, Result};
use crate::math::distributions::{chi_squared, fisher_f};
use crate::math::irls::Solution;
use crate::math::linalg::add_scaled;
use crate::math::profile::Along;
use crate::models::assembled::assemble;
use crate::models::criteria::criteria;
use crate::models::design_matrix::Design;
use crate::models::fitted::{Model, fit_or_penalise, tail};
use crate::models::frame::Frame;
use crate::models::likelihood::Fit;
use crate::models::profile_limits::ProfileLimits;
use crate::models::ready::{Ready, Solved};
use crate::models::spec::{ModelSpec, TrayMode};
use crate::models::user_scale::user_scale;
use crate::models::wording;
use crate::trial::{UnitKind, Units};
pub(crate) use law::Law;
pub(crate) use layers::Layer;
pub(crate) use trays::Trays;
pub(super) use words::{fitted_text, notes};

/// How one layer of the design spreads around its treatments.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// "tray" or the column of the grouping.
    pub of: String,
    /// The level it belongs to, where trays of each level have their own.
    #[serde(default)]
    pub level: Option<String>,
    /// "rho" (beta-binomial: correlation of two cuttings of one tray) or "standard deviation" (random effect, link scale).
    pub measure: String,
    /// Estimate; 0 when nothing beyond chance is seen.
    pub value: f64,
    /// From the observed information; none at a bound.
    pub se: Option<f64>,
    /// Lower profile limit.
    pub low: f64,
    /// Upper profile limit; none when there is none.
    pub high: Option<f64>,
    /// Share of this layer in the variance of cuttings' tolerances, `s^2 / (sum of s^2 + v)`, for random effects. It is not the
    /// beta-binomial rho.
    pub latent_icc: Option<f64>,
    /// Score statistic of rho at 0, for the beta-binomial: far below 0 trays are more alike than chance makes them.
    pub score: Option<f64>,
    /// Trays, or levels of the grouping.
    #[serde(default)]
    pub n_levels: u64,
    /// Degrees of freedom that effects laid out on this layer are tested on.
    #[serde(default)]
    pub df: Option<f64>,
}

/// How a law of the trays was fitted.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LawRecord {
    /// Which groupings have random effects and how they lie in each other.
    pub layout: Option<String>,
    /// "adaptive Gauss-Hermite quadrature" or "Laplace's approximation", for random effects.
    pub integration: Option<String>,
    /// Nodes per group of the only or outer grouping, and per tray within it.
    pub nodes: Vec<u64>,
    /// Do more nodes change the log-likelihood by less than 1e-8? Not known for Laplace's approximation.
    pub settled: Option<bool>,
    /// Are the correlations of all levels equal? For beta-binomial models with a correlation per level.
    pub equal_icc: Option<EqualIcc>,
}

/// The likelihood-ratio test that trays of all levels have one correlation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EqualIcc {
    /// The column.
    pub by: String,
    /// Twice the rise of the log-likelihood over the model with one correlation.
    pub statistic: f64,
    /// Correlations beyond the first that the data can tell.
    pub df: f64,
    /// Upper tail of chi-square.
    pub p: f64,
}

/// True when such a law is asked for.
pub(crate) fn is_asked(spec: &ModelSpec) -> bool {
    matches!(spec.trays, TrayMode::BetaBinomial | TrayMode::Random)
}

/// True when a fitted model has one.
pub(crate) fn is_used(model: &Model) -> bool {
    matches!(model.trays, TrayMode::BetaBinomial | TrayMode::Random)
}

/// Random effects of named groupings need trays.
pub(crate) fn check(units: &Units, spec: &ModelSpec) -> Result<()> {
    let named = !spec.random.is_empty() && units.kind == UnitKind::Pooled;
    if named { Err(ModelError::RandomWithoutTrays.into()) } else { Ok(()) }
}

/// Fits the law asked for.
pub(crate) fn fit(units: &Arc<Units>, spec: &ModelSpec, frame: Frame) -> Result<Model> {
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
    law.record(&mut model);
    let mut record = law.law_record(trays.in_words());
    record.equal_icc = trays.equal_icc(&law, &design.x())?;
    model.law = Some(record);
    model.spread = law.spread(&trays, &model.strata, spec.confidence)?;
    (model.trays, model.separated) = (spec.trays, separated);
    model.notes = wording::notes(&model, &frame);
    wording::verdict(&mut model);
    model.criteria = criteria(&model);
    drop(trays);
    model.keep(solved(frame, design, solution, law));
    Ok(model)
}

fn trays_of<'a>(model: &'a Model, frame: &'a Frame) -> Result<Trays<'a>> {
    Trays::again(model, frame)
}

/// The fit of a law anew.
pub(super) fn solved_again(model: &Model, frame: Frame) -> Result<Solved> {
    let design = Design::full(&frame);
    let law = trays_of(model, &frame)?.law(&design.x())?;
    let fit = Fit { design: &design, data: &frame.data, link: model.spec.link, penalised: model.penalised };
    let solution = fit.free()?;
    Ok(solved(frame, design, solution, law))
}

/// A law with its coefficients as those of the solution.
fn solved(frame: Frame, design: Design, binomial: Solution, law: Law) -> Solved {
    let coef = law.coef().to_vec();
    let mut eta = design.matrix.times(&coef);
    add_scaled(&mut eta, 1.0, &frame.data.offset);
    Solved { frame, design, solution: Solution { coef, eta, ..binomial }, law: Some(law) }
}

/// Limits and test of a combination of the design's coefficients.
pub(crate) fn profile(
    model: &Model,
    ready: &Ready,
    direction: &[f64],
    level: f64,
    df: Option<f64>,
) -> Result<ProfileLimits> {
    let cutoff = df.map_or_else(|| chi_squared::quantile(level, 1.0), |df| fisher_f::quantile(level, 1.0, df));
    let Along { low, high, fall } = match &ready.law {
        Some(law) => law.along(direction, cutoff, &ready.frame.control)?,
        None => {
            trays_of(model, &ready.frame)?.law(&ready.design.x())?.along(direction, cutoff, &ready.frame.control)?
        }
    };
    Ok(ProfileLimits { low, high, statistic: fall, df, p: tail(fall, 1.0, df) })
}

/// Twice the fall of the log-likelihood when the columns `held` leave the design.
pub(crate) fn fall_without(model: &Model, frame: &Frame, design: &Design, held: &[usize]) -> Result<f64> {
    let (trays, x) = (trays_of(model, frame)?, design.x());
    if model.penalised || design.rank() as u64 != model.convergence.rank {
        return trays.law(&x)?.fall_without(held, &frame.control);
    }
    // The columns span those of the model, whose log-likelihood is known.
    let kept: Vec<Vec<f64>> =
        x.into_iter().enumerate().filter(|(j, _)| !held.contains(j)).map(|(_, column)| column).collect();
    let (reached, _) = trays.law(&kept)?.logliks();
    Ok((2.0 * (model.loglik - reached)).max(0.0))
}
