//! The binomial model with normal random intercepts on the link scale.

use ndarray::Array2;

use super::beta_binomial::covariance;
use super::engine::{Engine, SETTLED};
use super::hill::Hill;
use super::marginal::marginal_rate;
use super::random_setup::{self, Setup};
use super::random_spec::{DeviationStatus, RandomInterceptSpec};
use super::rows::not_fitted;
use crate::control::Control;
use crate::error::{Error, NumericError, Result};
use crate::estimate::check_level;
use crate::math::dense::quadratic;
use crate::math::dense::rows::{corner, to_rows};
use crate::math::distributions::chi_squared;
use crate::math::regression::Link;
use crate::math::search::{Along, Maximum, Objective, Profile, Turned, fall_without, maximise_refined};

/// How they were integrated out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Integration {
    /// Laplace's approximation.
    Laplace,
    /// Adaptive Gauss-Hermite quadrature.
    Quadrature {
        /// Nodes of the only or outer grouping.
        outer: usize,
        /// Nodes of the inner grouping, if there is one.
        inner: Option<usize>,
        /// True when more nodes change the log-likelihood by less than 1e-8.
        settled: bool,
    },
}

/// The SD of one random intercept on the link scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deviation {
    /// Estimate.
    pub value: f64,
    /// From the observed information; none at 0. The likelihood of an SD is skew: use its profile limits.
    pub se: Option<f64>,
    /// How it was found.
    pub status: DeviationStatus,
}

/// A fitted rate for one design row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedRate {
    /// Rate of a typical tray (all random effects 0), 0 to 1.
    pub conditional: f64,
    /// Rate over all trays (random effects integrated out), 0 to 1.
    pub marginal: f64,
    /// Standard error of the marginal rate (delta method, SDs estimated).
    pub se: f64,
}

/// A fit with random intercepts.
#[derive(Debug, Clone)]
pub struct RandomInterceptFit {
    /// Coefficients on the link scale, conditional on the random effects.
    pub coef: Vec<f64>,
    /// Their covariance from the observed information with the SDs estimated.
    pub covariance: Array2<f64>,
    /// One SD per grouping, in the order given.
    pub deviations: Vec<Deviation>,
    /// Most likely effect of each level per grouping, with the level's code, on the link scale.
    pub effects: Vec<Vec<(usize, f64)>>,
    /// How the random effects were integrated out.
    pub integration: Integration,
    /// Log-likelihood with binomial coefficients.
    pub loglik: f64,
    /// The same plus the penalty, if one was asked for.
    pub penalised_loglik: Option<f64>,
    /// Log-likelihood of the binomial model (all SDs 0), with binomial coefficients.
    pub binomial_loglik: f64,
    /// Rows whose fitted rate runs to 0 or 1 without end.
    pub separated: Vec<usize>,
    /// Newton steps.
    pub iterations: u64,
    /// True when the tolerance was met.
    pub converged: bool,
    /// Largest entry of the gradient at the end.
    pub gradient_max: f64,
    engine: Engine,
    top: Maximum,
    free: Vec<usize>,
    /// Where each grouping's SD is among the parameters.
    places: Vec<usize>,
    joint: Vec<Vec<f64>>,
}

/// SDs below this (variance below 1e-8) are at 0.
const AS_ZERO: f64 = 1e-4;
/// Beyond this an SD is as good as infinite: groups root wholly or not at all.
const FARTHEST: f64 = 8.0;
/// How far the log-likelihood may still move with more nodes while the estimates are on their way.
const ROUGH: f64 = 1e-2;

/// What a search without end means to somebody with trays.
fn unsettled(error: Error) -> Error {
    match error {
        Error::Numeric(NumericError::NotConverged { .. }) => not_fitted(
            "the likelihood rises without end or is flat as groups differ more, which happens where hardly any cutting rooted or failed",
            "use trays=\"auto\" or trays=\"beta-binomial\", or leave a grouping out",
        ),
        other => other,
    }
}

impl RandomInterceptFit {
    /// Fits `y ~ binomial(m, p)`, `link(p) = X b + sum_k s_k u_k`, `u` standard normal, one per level, by maximum likelihood.
    ///
    /// With quadrature the number of nodes is raised until the log-likelihood at the estimates moves by less than 1e-8. An SD at 0 is
    /// reported as 0 and the rest fitted with it there. Cost is linear in the rows.
    ///
    /// Coefficients speak of a typical tray (conditional); for rates over all trays use [`RandomInterceptFit::rate`].
    ///
    /// # Errors
    /// Counts, lengths, groupings or a design that cannot be fitted; quadrature where it is not feasible; an SD that runs to infinity
    /// because every group rooted wholly or not at all; a search that does not settle; an interruption.
    ///
    /// # References
    /// Pinheiro and Chao (2006), JCGS 15:58-81; Breslow and Clayton (1993), JASA 88:9-25; Louis (1982), JRSS B 44:226-233.
    ///
    /// ```
    /// use rootling::control::Control;
    /// use rootling::math::regression::Link;
    /// use rootling::models::mixed::{Method, RandomInterceptFit, RandomInterceptSpec, Rows};
    /// let x = [vec![1.0; 6], vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0]];
    /// let (rooted, stuck) = ([2.0, 9.0, 4.0, 10.0, 17.0, 11.0], [20.0; 6]);
    /// let rows = Rows { x: &x, rooted: &rooted, stuck: &stuck, offset: &[], copies: &[], link: Link::Logit };
    /// let tray = [0, 1, 2, 3, 4, 5];
    /// let spec = RandomInterceptSpec { rows, groupings: &[&tray], method: Method::Auto, penalised: false };
    /// let fit = RandomInterceptFit::new(&spec, &Control::new())?;
    /// assert!(fit.deviations[0].value > 0.3 && fit.loglik > fit.binomial_loglik);
    /// let rate = fit.rate(&[1.0, 0.0]);
    /// // the typical tray roots fewer than the average over trays when both are below one half
    /// assert!(rate.conditional < rate.marginal && rate.marginal < 0.5);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn new(spec: &RandomInterceptSpec<'_>, control: &Control) -> Result<Self> {
        let Setup { mut engine, places, statuses, binomial, coef, binomial_loglik } =
            random_setup::prepare(spec, control)?;
        let p = engine.p();
        let mut free: Vec<usize> = (0..p).collect();
        let estimated = statuses.iter().zip(&places).filter(|(status, _)| **status == DeviationStatus::Estimated);
        free.extend(estimated.map(|(_, place)| *place));
        free.sort_unstable();
        let start = random_setup::start(&mut engine, &coef, &free);
        engine.settle_nodes(&start, ROUGH);
        let mut top = maximise_refined(&mut engine, &start, &free, control).map_err(unsettled)?;
        let mut settled = false;
        for _ in 0..6 {
            let (before, zeros) = (engine.nodes, free.len());
            settled = engine.settle_nodes(&top.at, SETTLED);
            free.retain(|j| *j < p || top.at.get(*j).is_some_and(|s| s.abs() >= AS_ZERO));
            if engine.nodes == before && free.len() == zeros {
                break;
            }
            let at: Vec<f64> =
                top.at.iter().enumerate().map(|(j, x)| if free.contains(&j) { *x } else { 0.0 }).collect();
            let iterations = top.iterations;
            top = maximise_refined(&mut engine, &at, &free, control).map_err(unsettled)?;
            top.iterations += iterations;
        }
        let deviations = random_setup::statuses_after(&statuses, &places, &free);
        let mut fit = Self::assemble(engine, top, free, places, &deviations);
        if let Integration::Quadrature { settled: flag, .. } = &mut fit.integration {
            *flag = settled;
        }
        (fit.binomial_loglik, fit.separated) = (binomial_loglik, binomial.runaway);
        Ok(fit)
    }

    fn assemble(
        mut engine: Engine,
        mut top: Maximum,
        free: Vec<usize>,
        places: Vec<usize>,
        statuses: &[DeviationStatus],
    ) -> Self {
        let p = engine.p();
        if engine.is_laplace() {
            let rough = covariance(&top.local.hessian, &free);
            let mut steps = vec![1e-4; top.at.len()];
            for (k, j) in free.iter().enumerate() {
                let se = rough.get(k).and_then(|row| row.get(k)).map_or(f64::NAN, |v| v.sqrt());
                if let Some(step) = steps.get_mut(*j) {
                    *step = if se.is_finite() { (1e-4 * se).clamp(1e-7, 1e-2) } else { 1e-4 };
                }
            }
            top.local.hessian = engine.exact_hessian(&top.at, &steps);
        }
        let joint = covariance(&top.local.hessian, &free);
        let variance = |j: usize| free.iter().position(|k| *k == j).and_then(|k| joint.get(k)?.get(k)).copied();
        let deviations = statuses.iter().zip(&places).map(|(status, place)| Deviation {
            value: top.at.get(*place).map_or(0.0, |s| s.abs()),
            se: variance(*place).map(f64::sqrt).filter(|_| *status == DeviationStatus::Estimated),
            status: *status,
        });
        let deviations = deviations.collect();
        let effects = places.iter().map(|place| {
            let g = place - p;
            let codes = engine.layout.codes.get(g).cloned().unwrap_or_default();
            codes.into_iter().zip(engine.effects(&top.at, g)).collect()
        });
        let effects = effects.collect();
        let penalty = engine.penalty.as_ref().map(|penalty| penalty.value(&engine.layout.table, &top.at));
        let inner = (engine.groupings() == 2).then_some(engine.nodes.1);
        let integration = if engine.is_laplace() {
            Integration::Laplace
        } else {
            Integration::Quadrature { outer: engine.nodes.0, inner, settled: true }
        };
        let gradient = free.iter().filter_map(|j| top.local.gradient.get(*j));
        Self {
            coef: top.at.iter().take(p).copied().collect(),
            covariance: corner(&joint, p),
            deviations,
            effects,
            integration,
            loglik: top.local.value - penalty.unwrap_or(0.0),
            penalised_loglik: penalty.map(|_| top.local.value),
            binomial_loglik: f64::NAN,
            separated: Vec::new(),
            iterations: top.iterations,
            converged: top.converged,
            gradient_max: gradient.fold(0.0_f64, |a, b| a.max(b.abs())),
            engine,
            top,
            free,
            places,
            joint,
        }
    }

    /// The link.
    pub(crate) fn link(&self) -> Link {
        self.engine.layout.table.link
    }

    /// Standard errors of the coefficients.
    #[must_use]
    pub fn se(&self) -> Vec<f64> {
        self.covariance.diag().iter().map(|v| v.sqrt()).collect()
    }

    /// The rates of a design row without offset: of a typical tray, and over all trays.
    ///
    /// # References
    /// Zeger, Liang and Albert (1988), Biometrics 44:1049-1060.
    #[must_use]
    pub fn rate(&self, row: &[f64]) -> FittedRate {
        let link = self.engine.layout.table.link;
        let p = self.coef.len();
        let eta = crate::math::dense::dot(row, &self.coef);
        let deviation = self.deviations.iter().map(|d| d.value * d.value).sum::<f64>().sqrt();
        let marginal = marginal_rate(link, eta, deviation);
        let by = |j: usize| {
            if j < p {
                marginal.by_eta * row.get(j).copied().unwrap_or(0.0)
            } else {
                // The total SD moves by s_k / total.
                marginal.by_deviation * self.top.at.get(j).copied().unwrap_or(0.0) / deviation
            }
        };
        let slopes: Vec<f64> = self.free.iter().map(|j| by(*j)).collect();
        let se = quadratic(&self.joint, &slopes).sqrt();
        FittedRate { conditional: link.at(eta).mean, marginal: marginal.rate, se }
    }

    /// Where the SDs that the data can tell are among the parameters.
    fn estimable(&self) -> Vec<usize> {
        let known = self.deviations.iter().zip(&self.places);
        known.filter(|(d, _)| d.status != DeviationStatus::NotEstimable).map(|(_, place)| *place).collect()
    }

    /// Twice the fall of the (penalised) log-likelihood when the coefficients at `held` are 0 and the rest is fitted anew, every SD
    /// included. The penalty stays that of the whole design.
    ///
    /// # Errors
    /// When the constrained fit does not settle.
    pub fn fall_without(&self, held: &[usize], control: &Control) -> Result<f64> {
        let mut engine = self.engine.for_limits();
        fall_without(&mut engine, &self.top, (held, &self.free, &self.estimable()), control).map_err(unsettled)
    }

    /// Covariance of the coefficients and of the SDs above 0, in that order, and those SDs.
    pub(crate) fn joint(&self) -> (Vec<Vec<f64>>, Vec<f64>) {
        let p = self.coef.len();
        let sds = self.free.iter().filter(|j| **j >= p).filter_map(|j| self.top.at.get(*j)).map(|s| s.abs());
        (self.joint.clone(), sds.collect())
    }

    /// Profile-likelihood limits of coefficient `j` at a confidence level, the SDs maximised over; infinite where the likelihood
    /// never falls far enough.
    ///
    /// # Errors
    /// A level outside (0, 1), or a constrained fit that does not settle.
    ///
    /// # References
    /// Venzon and Moolgavkar (1988), Applied Statistics 37:87-94.
    pub fn coef_limits(&self, j: usize, level: f64, control: &Control) -> Result<(f64, f64)> {
        self.coef_limits_at(j, chi_squared::quantile(check_level(level)?, 1.0), control)
    }

    /// The same where twice the log-likelihood has fallen by `cutoff`.
    ///
    /// # Errors
    /// When a constrained fit does not settle.
    pub fn coef_limits_at(&self, j: usize, cutoff: f64, control: &Control) -> Result<(f64, f64)> {
        let pace = self.se().get(j).copied().filter(|se| se.is_finite()).unwrap_or(1.0).min(10.0);
        let mut engine = self.engine.for_limits();
        let mut profile = Profile::new(&mut engine, &self.top, j, &self.free, pace, control).lifting(&self.estimable());
        Ok((profile.limit(f64::NEG_INFINITY, cutoff)?, profile.limit(f64::INFINITY, cutoff)?))
    }

    /// Profile-likelihood limits of a combination of the coefficients where twice the log-likelihood has fallen by `cutoff`, and twice its
    /// fall where the combination is 0. None for a combination of nothing.
    ///
    /// # Errors
    /// When a constrained fit does not settle.
    pub(crate) fn along(&self, direction: &[f64], cutoff: f64, control: &Control) -> Result<Option<Along>> {
        let Some(mut turned) = Turned::new(self.engine.for_limits(), direction) else { return Ok(None) };
        let pace = quadratic(&to_rows(&self.covariance), direction).sqrt();
        Along::of(&mut turned, (&self.top, &self.free, &self.estimable()), (pace, cutoff), control)
            .map(Some)
            .map_err(unsettled)
    }

    /// The log-likelihood as a function of the coefficients and the SDs that the data can tell.
    pub(crate) fn hill(&self) -> Hill {
        Hill::of_random(self.engine.for_limits(), &self.top, &self.estimable())
    }

    /// Profile-likelihood limits of the SD of grouping `g`, infinite above 8. The lower limit is 0 when the fall there is within the cutoff; at an SD of 0
    /// the upper limit uses the same chi-square quantile, which is on the safe side.
    ///
    /// # Errors
    /// As [`RandomInterceptFit::coef_limits`].
    pub fn deviation_limits(&self, g: usize, level: f64, control: &Control) -> Result<(f64, f64)> {
        let cutoff = chi_squared::quantile(check_level(level)?, 1.0);
        let (Some(deviation), Some(place)) = (self.deviations.get(g), self.places.get(g)) else {
            return Ok((0.0, f64::INFINITY));
        };
        if deviation.status == DeviationStatus::NotEstimable {
            return Ok((0.0, f64::INFINITY));
        }
        let mut engine = self.engine.for_deviations(&self.top.at, ROUGH);
        let mut top = self.top.clone();
        if let Some(entry) = top.at.get_mut(*place) {
            *entry = deviation.value;
        }
        let pace = deviation.se.filter(|se| se.is_finite()).unwrap_or(0.1).clamp(0.01, 5.0);
        let mut profile = Profile::new(&mut engine, &top, *place, &self.free, pace, control).lifting(&self.estimable());
        let low = if deviation.status == DeviationStatus::AtZero { 0.0 } else { profile.limit(0.0, cutoff)? };
        let high = if deviation.value < FARTHEST { profile.limit(FARTHEST, cutoff)? } else { FARTHEST };
        Ok((low, if high < FARTHEST { high } else { f64::INFINITY }))
    }

    /// Log-likelihood with binomial coefficients (penalty included, if any) at other parameter values, SDs in the order given.
    #[must_use]
    pub fn loglik_at(&self, coef: &[f64], deviations: &[f64]) -> f64 {
        let mut at = self.top.at.clone();
        for (entry, x) in at.iter_mut().zip(coef) {
            *entry = *x;
        }
        for (place, s) in self.places.iter().zip(deviations) {
            if let Some(entry) = at.get_mut(*place) {
                *entry = *s;
            }
        }
        self.engine.clone().value(&at)
    }
}
