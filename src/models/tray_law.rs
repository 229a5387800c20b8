//! Models in which trays follow a law of their own: beta-binomial, or normal effects on the link scale.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::{chi_squared, fisher_f};
use crate::math::irls::Solution;
use crate::math::linalg::add_scaled;
use crate::math::restriction::Restriction;
use crate::models::design_matrix::Design;
use crate::models::fitted::{Model, Ready, assemble, fit_or_penalise, tail};
use crate::models::frame::{Frame, Tally, level_of};
use crate::models::likelihood::Fit;
use crate::models::mixed::{
    BetaBinomialFit, BetaBinomialSpec, DeviationStatus, Integration, Method, RandomInterceptFit, RandomInterceptSpec,
    RhoStatus, Rows, latent_icc,
};
use crate::models::profile_limits::ProfileLimits;
use crate::models::spec::{ModelSpec, TrayMode};
use crate::models::strata::{Strata, Stratum, WholePlots, split_plot};
use crate::models::user_scale::user_scale;
use crate::models::wording;
use crate::trial::Units;

/// How one layer of the design spreads around its treatments.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// "tray" or the column of the whole plots.
    pub of: String,
    /// "rho" (beta-binomial: correlation of two cuttings of one tray) or "standard deviation" (random effect, link scale).
    pub measure: String,
    /// Estimate; 0 when nothing beyond chance is seen.
    pub value: f64,
    /// From the observed information; none at a bound.
    pub std_error: Option<f64>,
    /// Lower profile limit.
    pub conf_low: f64,
    /// Upper profile limit; none when there is none.
    pub conf_high: Option<f64>,
    /// Share of this layer in the variance of cuttings' tolerances, `s^2 / (sum of s^2 + v)`, for random effects. It is not the
    /// beta-binomial rho.
    pub latent_icc: Option<f64>,
    /// Score statistic of rho at 0, for the beta-binomial: far below 0 trays are more alike than chance makes them.
    pub score: Option<f64>,
}

/// True when such a law is asked for.
pub(crate) fn is_asked(spec: &ModelSpec) -> bool {
    matches!(spec.trays, TrayMode::BetaBinomial | TrayMode::Random)
}

/// True when a fitted model has one.
pub(crate) fn is_used(model: &Model) -> bool {
    matches!(model.trays, TrayMode::BetaBinomial | TrayMode::Random)
}

/// Either engine's fit.
enum Law {
    Beta(Box<BetaBinomialFit>),
    Random(Box<RandomInterceptFit>),
}

/// What the law is fitted to beside the design: one count per tray, and the trays' whole plots where they have an effect.
struct Trays<'a> {
    frame: &'a Frame,
    spec: &'a ModelSpec,
    penalised: bool,
    plots: Option<Vec<usize>>,
}

impl Trays<'_> {
    fn law(&self, x: &[Vec<f64>]) -> Result<Law> {
        // Trays alike in everything are fitted once, unless they lie in whole plots.
        let per_unit = &self.frame.per_unit;
        let one = |((rooted, stuck), row): ((&f64, &f64), &usize)| Tally {
            rooted: *rooted,
            stuck: *stuck,
            row: *row,
            times: 1.0,
        };
        let counts: Vec<Tally> = if self.plots.is_some() {
            per_unit.rooted.iter().zip(&per_unit.stuck).zip(&per_unit.row).map(one).collect()
        } else {
            self.frame.counts(true)
        };
        let spread = |column: &Vec<f64>| counts.iter().filter_map(|one| column.get(one.row).copied()).collect();
        let x: Vec<Vec<f64>> = x.iter().map(spread).collect();
        let rooted: Vec<f64> = counts.iter().map(|one| one.rooted).collect();
        let stuck: Vec<f64> = counts.iter().map(|one| one.stuck).collect();
        let offset: Vec<f64> = counts.iter().filter_map(|one| self.frame.data.offset.get(one.row).copied()).collect();
        let copies: Vec<f64> = counts.iter().map(|one| one.times).collect();
        let rows =
            Rows { x: &x, rooted: &rooted, stuck: &stuck, offset: &offset, copies: &copies, link: self.spec.link };
        let (penalised, control) = (self.penalised, Control::new());
        if self.spec.trays == TrayMode::BetaBinomial {
            let spec = BetaBinomialSpec { rows, rho_of: &[], penalised };
            return Ok(Law::Beta(Box::new(BetaBinomialFit::new(&spec, &control)?)));
        }
        let trays: Vec<usize> = (0..stuck.len()).collect();
        let mut groupings: Vec<&[usize]> = vec![&trays];
        groupings.extend(self.plots.as_deref());
        let spec = RandomInterceptSpec { rows, groupings: &groupings, method: Method::Auto, penalised };
        Ok(Law::Random(Box::new(RandomInterceptFit::new(&spec, &control)?)))
    }
}

/// The whole plots of the trays, when they are recorded, are no effect of the model, and hold more than one tray somewhere.
fn plots(frame: &Frame, units: &Units) -> Option<Vec<usize>> {
    let whole = units.whole_plot.as_ref().filter(|whole| frame.variables.iter().all(|v| v.name != whole.name))?;
    let with = frame.with_factor(whole)?;
    let codes: Vec<usize> = with.variables.last()?.values.iter().map(level_of).collect();
    let levels = codes.iter().max().map_or(0, |most| most + 1);
    (levels < codes.len()).then_some(codes)
}

/// Degrees of freedom: trays minus coefficients; whole plots minus what their effects and the block take of them.
fn strata(frame: &Frame, units: &Units, rank: usize, random: bool) -> Strata {
    let left = frame.per_unit.stuck.len().saturating_sub(rank);
    let tray = Stratum { dispersion: 1.0, dof: Some(left as f64) };
    let whole_plots = split_plot(frame, units).map(|(with, constant)| {
        let order: Vec<usize> = (1..with.terms.len()).chain([0]).collect();
        let free = Design::new(&with, &order, &with.data).of_term(0).len();
        // A law of trays alone cannot judge what was laid out on whole plots.
        let error = (random && free > 0).then_some(Stratum { dispersion: 1.0, dof: Some(free as f64) });
        let effects =
            constant.iter().filter_map(|index| frame.terms.get(*index)).map(|term| term.name.clone()).collect();
        WholePlots { name: units.whole_plot.as_ref().map(|w| w.name.clone()).unwrap_or_default(), effects, error }
    });
    let tray = match &whole_plots {
        Some(WholePlots { error: Some(error), .. }) => {
            let between = error.dof.unwrap_or(0.0);
            Stratum { dof: Some((left as f64 - between).max(1.0)), ..tray }
        }
        _ => tray,
    };
    Strata { tray, raw_dispersion: None, whole_plots, correlation: None }
}

/// Fits the law asked for.
pub(crate) fn fit(units: &Arc<Units>, spec: &ModelSpec, frame: Frame) -> Result<Model> {
    let design = Design::full(&frame);
    let (solution, penalised, separated) = fit_or_penalise(&frame, &design, spec)?;
    let strata = strata(&frame, units, design.rank(), spec.trays == TrayMode::Random);
    let trays = Trays { frame: &frame, spec, penalised, plots: random_plots(&frame, units, &strata) };
    let law = trays.law(&design.x())?;
    let fit = Fit { design: &design, data: &frame.data, link: spec.link, penalised };
    let whole = trays.plots.as_ref().and(units.whole_plot.as_ref()).map(|whole| whole.name.clone());
    let mut model = assemble(units, spec, &frame, (&fit, &solution), true)?;
    model.strata = strata;
    let ln_scales: f64 = design.scales.iter().map(|scale| scale.ln()).sum();
    let with_law = Solution { coef: law.coef().to_vec(), ..solution };
    let covariance = law.covariance();
    (model.coefficients, model.covariance) = user_scale(&frame, &design, &with_law, &covariance);
    (model.loglik, model.penalised_loglik) = law.logliks();
    model.penalised_loglik = model.penalised_loglik.map(|value| value + ln_scales);
    law.record(&mut model);
    model.spread = law.spread(spec, whole)?;
    (model.trays, model.separated) = (spec.trays, separated);
    model.notes = wording::notes(&model, &frame);
    wording::verdict(&mut model);
    Ok(model)
}

/// Whole plots have random effects unless they cannot be told from the effects laid out on them.
fn random_plots(frame: &Frame, units: &Units, strata: &Strata) -> Option<Vec<usize>> {
    let confounded = strata.whole_plots.as_ref().is_some_and(|whole| whole.error.is_none());
    if confounded { None } else { plots(frame, units) }
}

fn trays_of<'a>(model: &'a Model, frame: &'a Frame) -> Trays<'a> {
    let plots = random_plots(frame, &model.units, &model.strata);
    Trays { frame, spec: &model.spec, penalised: model.penalised, plots }
}

/// Frame, design and solution, rebuilt.
pub(crate) fn ready(model: &Model, frame: Frame) -> Result<Ready> {
    let design = Design::full(&frame);
    let law = trays_of(model, &frame).law(&design.x())?;
    let fit = Fit { design: &design, data: &frame.data, link: model.spec.link, penalised: model.penalised };
    let coef = law.coef().to_vec();
    let mut eta = design.matrix.times(&coef);
    add_scaled(&mut eta, 1.0, &frame.data.offset);
    let solution = Solution { coef, eta, ..fit.free()? };
    let (covariance, deviations) = law.joint();
    let offset = frame.mean_offset();
    Ok(Ready { frame, design, solution, covariance, deviations, offset, robust: None })
}

/// Limits and test of a combination of the design's coefficients.
pub(crate) fn profile(
    model: &Model,
    ready: &Ready,
    direction: &[f64],
    level: f64,
    dof: Option<f64>,
) -> Result<ProfileLimits> {
    let held = Restriction::along(direction, 0.0);
    let at = held.tied_at().unwrap_or(0);
    let share = direction.get(at).copied().unwrap_or(1.0);
    // The columns of the others without their share in the combination: its coefficient then is the combination over that share.
    let mut x = ready.design.x();
    let kept = x.get(at).cloned().unwrap_or_default();
    x = held.columns(x);
    x.insert(at.min(x.len()), kept);
    let law = trays_of(model, &ready.frame).law(&x)?;
    let cutoff = dof.map_or_else(|| chi_squared::quantile(level, 1.0), |dof| fisher_f::quantile(level, 1.0, dof));
    let (a, b) = law.limits(at, cutoff)?;
    let (low, high) = ((a * share).min(b * share), (a * share).max(b * share));
    let statistic = law.fall_without(&[at])?;
    Ok(ProfileLimits { low, high, statistic, dof, p_value: tail(statistic, 1.0, dof) })
}

/// Twice the fall of the log-likelihood when the columns `held` leave the design.
pub(crate) fn fall_without(model: &Model, frame: &Frame, design: &Design, held: &[usize]) -> Result<f64> {
    trays_of(model, frame).law(&design.x())?.fall_without(held)
}

impl Law {
    fn coef(&self) -> &[f64] {
        match self {
            Self::Beta(fit) => &fit.coef,
            Self::Random(fit) => &fit.coef,
        }
    }

    fn covariance(&self) -> Vec<Vec<f64>> {
        match self {
            Self::Beta(fit) => fit.covariance.clone(),
            Self::Random(fit) => fit.covariance.clone(),
        }
    }

    /// Covariance with the SDs of random effects, and those SDs. A beta-binomial mean needs no averaging.
    fn joint(&self) -> (Vec<Vec<f64>>, Vec<f64>) {
        match self {
            Self::Beta(fit) => (fit.covariance.clone(), Vec::new()),
            Self::Random(fit) => fit.joint(),
        }
    }

    fn logliks(&self) -> (f64, Option<f64>) {
        match self {
            Self::Beta(fit) => (fit.loglik, fit.penalised_loglik),
            Self::Random(fit) => (fit.loglik, fit.penalised_loglik),
        }
    }

    fn limits(&self, j: usize, cutoff: f64) -> Result<(f64, f64)> {
        match self {
            Self::Beta(fit) => fit.coef_limits_at(j, cutoff, &Control::new()),
            Self::Random(fit) => fit.coef_limits_at(j, cutoff, &Control::new()),
        }
    }

    fn fall_without(&self, held: &[usize]) -> Result<f64> {
        match self {
            Self::Beta(fit) => fit.fall_without(held, &Control::new()),
            Self::Random(fit) => fit.fall_without(held, &Control::new()),
        }
    }

    fn record(&self, model: &mut Model) {
        let (iterations, converged, gradient) = match self {
            Self::Beta(fit) => (fit.iterations, fit.converged, fit.gradient_max),
            Self::Random(fit) => {
                let settled = !matches!(fit.integration, Integration::Quadrature { settled: false, .. });
                (fit.iterations, fit.converged && settled, fit.gradient_max)
            }
        };
        let record = &mut model.convergence;
        (record.iterations, record.converged, record.gradient_max) = (iterations, converged, gradient);
    }

    fn spread(&self, spec: &ModelSpec, whole: Option<String>) -> Result<Vec<Spread>> {
        let control = Control::new();
        match self {
            Self::Beta(fit) => {
                let Some(rho) = fit.rho.first() else { return Ok(Vec::new()) };
                let (conf_low, high) = fit.rho_limits(0, spec.level, &control)?;
                Ok(vec![Spread {
                    of: "tray".to_owned(),
                    measure: "rho".to_owned(),
                    value: rho.value,
                    std_error: rho.std_error,
                    conf_low,
                    conf_high: (rho.status != RhoStatus::NotEstimable).then_some(high),
                    latent_icc: None,
                    score: Some(rho.score),
                }])
            }
            Self::Random(fit) => {
                let total: f64 = fit.deviations.iter().map(|d| d.value * d.value).sum();
                let names = std::iter::once("tray".to_owned()).chain(whole);
                let one = |(g, (of, d)): (usize, (String, &crate::models::mixed::Deviation))| {
                    let (conf_low, high) = fit.deviation_limits(g, spec.level, &control)?;
                    let known = d.status != DeviationStatus::NotEstimable && high.is_finite();
                    Ok(Spread {
                        of,
                        measure: "standard deviation".to_owned(),
                        value: d.value,
                        std_error: d.std_error,
                        conf_low,
                        conf_high: known.then_some(high),
                        latent_icc: Some(latent_icc(spec.link, d.value * d.value, total)),
                        score: None,
                    })
                };
                names.zip(&fit.deviations).enumerate().map(one).collect()
            }
        }
    }
}
