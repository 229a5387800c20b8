//! The beta-binomial model by maximum likelihood.

use ndarray::Array2;

use super::beta_likelihood::Likelihood;
use super::hill::Hill;
use super::rho::{Rho, RhoStatus};
use super::rows::Rows;
use crate::control::Control;
use crate::error::{ModelError, Result};
use crate::estimate::check_level;
use crate::math::dense::rows::{corner, to_rows};
use crate::math::dense::{Cholesky, quadratic};
use crate::math::distributions::chi_squared;
use crate::math::search::{Along, Maximum, Objective, Profile, Turned, fall_without, maximise};

/// What to fit.
#[derive(Debug, Clone, Copy)]
pub struct BetaBinomialSpec<'a> {
    /// Rows; every row is one tray.
    pub rows: Rows<'a>,
    /// Which rho a row takes, `0 .. k - 1`; empty for one common rho.
    pub rho_of: &'a [usize],
    /// Add Jeffreys' penalty `0.5 ln |X' W X|` of the binomial information, for separated data.
    pub penalised: bool,
}

/// A beta-binomial fit.
#[derive(Debug, Clone)]
pub struct BetaBinomialFit {
    /// Coefficients on the link scale.
    pub coef: Vec<f64>,
    /// Their covariance from the observed information with rho estimated; with a penalty at the penalised estimate.
    pub covariance: Array2<f64>,
    /// One rho, or one per level.
    pub rho: Vec<Rho>,
    /// Log-likelihood with binomial coefficients.
    pub loglik: f64,
    /// The same plus the penalty, if one was asked for.
    pub penalised_loglik: Option<f64>,
    /// Log-likelihood of the binomial model (rho 0), with binomial coefficients.
    pub binomial_loglik: f64,
    /// Rows whose fitted rate runs to 0 or 1 without end.
    pub separated: Vec<usize>,
    /// Newton steps.
    pub iterations: u64,
    /// True when the tolerance was met.
    pub converged: bool,
    /// Largest entry of the gradient at the end.
    pub gradient_max: f64,
    objective: Likelihood,
    top: Maximum,
    free: Vec<usize>,
}

impl BetaBinomialFit {
    /// Fits `y ~ beta-binomial(m, p, rho)`, `link(p) = X b`, by maximum likelihood.
    ///
    /// A tray's rate follows a beta law with mean `p` and `rho = 1 / (1 + a + b)`, so `var y = m p (1 - p) (1 + (m - 1) rho)`:
    /// `P(y) = C(m, y) prod_{j<y} (p + j t) prod_{j<m-y} (1 - p + j t) / prod_{j<m} (1 + j t)`, `t = rho / (1 - rho)`. The
    /// likelihood is maximised over `b` and `s = sqrt t`, in which rho 0 is an ordinary point. The logs of the products and
    /// their derivatives are sums that keep their digits down to rho 0. Cost is linear in the rows.
    ///
    /// Do not use it where two or more layers of grouping matter (bays and trays): it knows trays only.
    ///
    /// # Errors
    /// Counts, lengths or a design that cannot be fitted; a search that does not settle; an interruption.
    ///
    /// # References
    /// Skellam (1948), JRSS B 10:257-261; Crowder (1978), Applied Statistics 27:34-37; Griffiths (1973), Biometrics 29:637-648.
    ///
    /// ```
    /// use rootling::control::Control;
    /// use rootling::math::regression::Link;
    /// use rootling::models::mixed::{BetaBinomialFit, BetaBinomialSpec, RhoStatus, Rows};
    /// let x = [vec![1.0; 6], vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0]];
    /// let (rooted, stuck) = ([2.0, 9.0, 4.0, 10.0, 17.0, 11.0], [20.0; 6]);
    /// let rows = Rows { x: &x, rooted: &rooted, stuck: &stuck, offset: &[], copies: &[], link: Link::Logit };
    /// let spec = BetaBinomialSpec { rows, rho_of: &[], penalised: false };
    /// let fit = BetaBinomialFit::new(&spec, &Control::new())?;
    /// assert!(fit.converged && fit.rho[0].status == RhoStatus::Estimated);
    /// assert!(fit.rho[0].value > 0.0 && fit.loglik > fit.binomial_loglik);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn new(spec: &BetaBinomialSpec<'_>, control: &Control) -> Result<Self> {
        let table = spec.rows.table()?;
        if !spec.rho_of.is_empty() && spec.rho_of.len() != table.rows() {
            return Err(ModelError::Misaligned { column: "rho_of".to_owned(), units: table.rows() }.into());
        }
        let (binomial, mut start) = spec.rows.binomial(&table, spec.penalised, control)?;
        let p = table.p;
        let pearson = table.pearson(&binomial.eta);
        let mut objective = Likelihood::new(table, spec.rho_of, spec.penalised);
        let statuses = objective.statuses();
        start.extend(objective.starts(&pearson, &statuses));
        let mut free: Vec<usize> = (0..p + objective.n_rho).collect();
        free.retain(|j| *j < p || statuses.get(j - p) == Some(&RhoStatus::Estimated));
        let top = maximise(&mut objective, &start, &free, control)?;
        let (top, free, statuses) = objective.settle(top, free, statuses, control)?;
        let scores = objective.scores(&binomial.coef);
        let binomial_loglik = binomial.kernel + objective.constant;
        Ok(Self::assemble(objective, top, free, (&statuses, &scores), binomial_loglik, binomial.runaway))
    }

    fn assemble(
        objective: Likelihood,
        top: Maximum,
        free: Vec<usize>,
        (statuses, scores): (&[RhoStatus], &[f64]),
        binomial_loglik: f64,
        separated: Vec<usize>,
    ) -> Self {
        let p = objective.table.p;
        let covariance = covariance(&top.local.hessian, &free);
        let place = |j: usize| free.iter().position(|k| *k == j);
        let rho = statuses.iter().zip(scores).enumerate().map(|(g, (status, score))| {
            let s = top.at.get(p + g).copied().unwrap_or(0.0).abs();
            let value = if *status == RhoStatus::AtOne { 1.0 } else { s * s / (1.0 + s * s) };
            let variance = place(p + g).and_then(|k| covariance.get(k).and_then(|row| row.get(k)));
            // d rho / d s = 2 s / (1 + s^2)^2
            let slope = 2.0 * s / (1.0 + s * s).powi(2);
            let se = variance.filter(|_| *status == RhoStatus::Estimated).map(|v| slope * v.sqrt());
            Rho { value, se, status: *status, score: *score }
        });
        let rho = rho.collect();
        let penalty = objective.penalty.as_ref().map(|penalty| penalty.value(&objective.table, &top.at));
        let gradient = free.iter().filter_map(|j| top.local.gradient.get(*j));
        Self {
            coef: top.at.iter().take(p).copied().collect(),
            covariance: corner(&covariance, p),
            rho,
            loglik: top.local.value - penalty.unwrap_or(0.0),
            penalised_loglik: penalty.map(|_| top.local.value),
            binomial_loglik,
            separated,
            iterations: top.iterations,
            converged: top.converged,
            gradient_max: gradient.fold(0.0_f64, |a, b| a.max(b.abs())),
            objective,
            top,
            free,
        }
    }

    /// Standard errors of the coefficients.
    #[must_use]
    pub fn se(&self) -> Vec<f64> {
        self.covariance.diag().iter().map(|v| v.sqrt()).collect()
    }

    /// Log-likelihood with binomial coefficients (penalty included, if any) at other parameter values, each rho in `0 .. 1`.
    #[must_use]
    pub fn loglik_at(&self, coef: &[f64], rho: &[f64]) -> f64 {
        let at: Vec<f64> = coef.iter().copied().chain(rho.iter().map(|rho| (rho / (1.0 - rho)).sqrt())).collect();
        self.objective.clone().value(&at)
    }

    /// Where the rho that the data can place between 0 and 1 are among the parameters.
    fn estimable(&self) -> Vec<usize> {
        let open = |rho: &Rho| matches!(rho.status, RhoStatus::Estimated | RhoStatus::AtZero);
        let p = self.objective.table.p;
        self.rho.iter().enumerate().filter(|(_, rho)| open(rho)).map(|(g, _)| p + g).collect()
    }

    /// Twice the fall of the (penalised) log-likelihood when the coefficients at `held` are 0 and the rest is fitted anew, every rho
    /// included. The penalty stays that of the whole design.
    ///
    /// # Errors
    /// When the constrained fit does not settle.
    pub fn fall_without(&self, held: &[usize], control: &Control) -> Result<f64> {
        let mut objective = self.objective.clone();
        fall_without(&mut objective, &self.top, (held, &self.free, &self.estimable()), control)
    }

    /// Profile-likelihood limits of coefficient `j` at a confidence level: where twice the log-likelihood has fallen by the
    /// chi-square quantile on 1 degree of freedom. Infinite where it never falls that far.
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
        let mut objective = self.objective.clone();
        let mut profile =
            Profile::new(&mut objective, &self.top, j, &self.free, pace, control).lifting(&self.estimable());
        Ok((profile.limit(f64::NEG_INFINITY, cutoff)?, profile.limit(f64::INFINITY, cutoff)?))
    }

    /// Profile-likelihood limits of a combination of the coefficients where twice the log-likelihood has fallen by `cutoff`, and twice its
    /// fall where the combination is 0. None for a combination of nothing.
    ///
    /// # Errors
    /// When a constrained fit does not settle.
    pub(crate) fn along(&self, direction: &[f64], cutoff: f64, control: &Control) -> Result<Option<Along>> {
        let Some(mut turned) = Turned::new(self.objective.clone(), direction) else { return Ok(None) };
        let pace = quadratic(&to_rows(&self.covariance), direction).sqrt();
        Along::of(&mut turned, (&self.top, &self.free, &self.estimable()), (pace, cutoff), control).map(Some)
    }

    /// The log-likelihood as a function of the coefficients and each rho that the data can tell.
    pub(crate) fn hill(&self) -> Hill {
        Hill::of_beta(self.objective.clone(), &self.top, &self.estimable())
    }

    /// Profile-likelihood limits of rho number `g`. The lower limit is 0 when the fall there is within the cutoff. At a rho of 0
    /// the upper limit uses the same chi-square quantile, which is on the safe side.
    ///
    /// # Errors
    /// As [`BetaBinomialFit::coef_limits`].
    pub fn rho_limits(&self, g: usize, level: f64, control: &Control) -> Result<(f64, f64)> {
        let cutoff = chi_squared::quantile(check_level(level)?, 1.0);
        let Some(rho) = self.rho.get(g).filter(|rho| rho.status != RhoStatus::NotEstimable) else {
            return Ok((0.0, 1.0));
        };
        let j = self.objective.table.p + g;
        let mut objective = self.objective.clone();
        let mut top = self.top.clone();
        let s = (rho.value / (1.0 - rho.value)).sqrt();
        let at_one = rho.status == RhoStatus::AtOne;
        // Nothing is lost between rho 1 and a rho this near to it beside any cutoff in use.
        let s = if at_one { NEAR_ONE } else { s };
        if let Some(entry) = top.at.get_mut(j) {
            *entry = s;
        }
        let pace = match rho.se {
            Some(se) if s > 0.05 => se * (1.0 + s * s).powi(2) / (2.0 * s),
            _ if at_one => 0.05 * NEAR_ONE,
            _ => 0.1,
        };
        let pace = pace.clamp(0.02, 50.0);
        let mut profile = Profile::new(&mut objective, &top, j, &self.free, pace, control).lifting(&self.estimable());
        let back = |s: f64| if s.is_finite() { s * s / (1.0 + s * s) } else { 1.0 };
        let low = if rho.status == RhoStatus::AtZero { 0.0 } else { back(profile.limit(0.0, cutoff)?) };
        let high = if at_one { 1.0 } else { back(profile.limit(f64::INFINITY, cutoff)?) };
        Ok((low, high))
    }
}

/// Square root of `rho / (1 - rho)` that stands for rho 1 in the profile.
const NEAR_ONE: f64 = 1e3;

/// `(-H)^-1` of the free coordinates; entries are NaN when it cannot be inverted.
pub(super) fn covariance(hessian: &[Vec<f64>], free: &[usize]) -> Vec<Vec<f64>> {
    let minus: Vec<Vec<f64>> = free
        .iter()
        .filter_map(|i| hessian.get(*i))
        .map(|row| free.iter().filter_map(|j| row.get(*j)).map(|x| -x).collect())
        .collect();
    Cholesky::new(&minus).map_or_else(|| vec![vec![f64::NAN; free.len()]; free.len()], |l| l.inverse())
}
