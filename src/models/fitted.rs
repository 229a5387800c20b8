//! Fitting the binomial model and what a fit holds.

use serde::{Deserialize, Serialize};

use crate::answer::Note;
use crate::error::{ModelError, Result};
use crate::math::convergence::{Convergence, DECREMENT, Verdict};
use crate::math::distributions::{chi_squared, fisher_f};
use crate::math::irls::{Link, Point, Solution};
use crate::math::linalg::{dot, quadratic};
use crate::math::roots::brent;
use crate::math::special::ln_choose;
use crate::models::design_matrix::{Aliased, Design};
use crate::models::effective::weighted;
use crate::models::likelihood::{Fit, Profile};
use crate::models::spec::{ModelSpec, TrayMode};
use crate::models::strata::{Source, Strata, Stratum, correlation, find, pearson};
use crate::models::terms::{Data, Frame, PerUnit, Tally};
use crate::models::tray_law::{self, Spread};
use crate::models::{separation, wording};
use crate::trial::{UnitKind, Units};

/// One coefficient on the link scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Coefficient {
    /// `intercept`, `strength 2500`, `strength 2500 x rootstock K17`.
    pub name: String,
    /// The effect it belongs to; none for the intercept.
    pub effect: Option<String>,
    /// Estimate.
    pub value: f64,
    /// Standard error, not yet multiplied by the root of a dispersion.
    pub std_error: f64,
}

/// A fitted binomial model. It keeps its units and specification, so it can be written out, read back and refitted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Model {
    /// Counts it was fitted to.
    pub units: Units,
    /// What was asked for.
    pub spec: ModelSpec,
    /// How trays entered, as it came out.
    pub trays: TrayMode,
    /// True when the Jeffreys prior penalty was used.
    pub penalised: bool,
    /// Cells all rooted or none rooted that made it necessary.
    pub separated: Vec<String>,
    /// Coefficients.
    pub coefficients: Vec<Coefficient>,
    /// Binomial covariance of the coefficients, in rows.
    pub covariance: Vec<Vec<f64>>,
    /// Coefficients without an estimate.
    pub aliased: Vec<Aliased>,
    /// Log-likelihood with binomial coefficients.
    pub loglik: f64,
    /// The same plus the penalty `0.5 ln |I|`.
    pub penalised_loglik: Option<f64>,
    /// Residual deviance.
    pub deviance: f64,
    /// Deviance of the model without effects.
    pub null_deviance: f64,
    /// Pearson statistic.
    pub pearson: f64,
    /// Counts minus rank.
    pub residual_dof: u64,
    /// Error strata.
    pub strata: Strata,
    /// How trays (and whole plots) spread, for the beta-binomial and the random-effects model.
    #[serde(default)]
    pub spread: Vec<Spread>,
    /// Trays (or pooled counts).
    pub n_units: u64,
    /// Cuttings.
    pub n_cuttings: u64,
    /// Record of the fit.
    pub convergence: Convergence,
    /// Cautions.
    pub notes: Vec<Note>,
}

/// The frame, design and solution of a model, rebuilt from its units.
#[derive(Debug, Clone)]
pub(crate) struct Ready {
    pub(crate) frame: Frame,
    pub(crate) design: Design,
    /// Of a penalised fit with its level balanced, for rates.
    pub(crate) solution: Solution,
    /// Of the coefficients, then of the SDs of random effects, if any.
    pub(crate) covariance: Vec<Vec<f64>>,
    /// SDs of random effects above 0: rates are averaged over them.
    pub(crate) deviations: Vec<f64>,
}

impl Model {
    /// Fits `link(p) = X b` to counts `rooted ~ binomial(stuck, p)` by maximum likelihood.
    ///
    /// When cells all rooted or none rooted let the likelihood rise without end, the likelihood times Jeffreys' prior is
    /// maximised instead and the note `separation` names the cells. Where trays are recorded every tray's counts are divided by
    /// its design effect `1 + (m - 1) r`, with one correlation `r` ([`crate::models::TrayCorrelation`]). A recorded block always
    /// enters. On request trays enter otherwise ([`TrayMode`]). Log-likelihood, deviance and Pearson's statistic are those of
    /// the binomial model at the fitted rates.
    ///
    /// # Errors
    /// [`ModelError`] for effects that cannot enter or a fit that does not settle; an unknown name with its nearest.
    ///
    /// # References
    /// McCullagh and Nelder (1989); Firth (1993), Biometrika 80:27-38; Wedderburn (1974), Biometrika 61:439-447.
    ///
    /// ```
    /// use rootling::models::{Model, ModelSpec};
    /// use rootling::trial::{Factor, UnitKind, Units};
    /// let strength = Factor {
    ///     name: "strength".into(), levels: vec!["0".into(), "2500".into()], numbers: None, codes: vec![0, 0, 1, 1],
    /// };
    /// let units = Units {
    ///     kind: UnitKind::Tray, rooted: vec![5, 7, 12, 14], stuck: vec![20; 4], treatments: vec![strength],
    ///     tray: None, block: None, whole_plot: None, season: None, stock_plant: None, covariates: vec![],
    /// };
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// // 26 of 40 against 12 of 40: ln((26 / 14) / (12 / 28))
    /// assert!((model.coefficients[1].value - (26.0 * 28.0 / (14.0 * 12.0_f64)).ln()).abs() < 1e-10);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn fit(units: &Units, spec: &ModelSpec) -> Result<Self> {
        let frame = Frame::new(units, spec)?;
        let design = Design::full(&frame);
        let left = frame.per_unit.stuck.len().saturating_sub(design.rank());
        let counted = spec.trays != TrayMode::Ignore && units.kind == UnitKind::Tray && left > 0;
        if counted && tray_law::is_asked(spec) {
            return tray_law::fit(units, spec, frame);
        }
        let (trays, source) = match spec.trays {
            _ if !counted => (TrayMode::Ignore, Source::Binomial),
            TrayMode::Quasi => (TrayMode::Quasi, Source::Pearson),
            _ => (TrayMode::Effective, Source::Effective(correlation(&frame, &design, units))),
        };
        let frame = if let Source::Effective(known) = source { weighted(frame, known.used()) } else { frame };
        let (solution, penalised, separated) = fit_or_penalise(&frame, &design, spec)?;
        let fit = Fit { design: &design, data: &frame.data, link: spec.link, penalised };
        let strata = find(&fit, &solution, &frame, units, source)?;
        let counts = frame.counts(counted || frame.has_covariate());
        let mut model = assemble(units, spec, &frame, &fit, &solution, &counts);
        (model.strata, model.trays) = (strata, trays);
        model.separated = separated;
        model.notes = wording::notes(&model, &frame);
        wording::verdict(&mut model);
        Ok(model)
    }

    /// Fits the same specification to the same units again.
    ///
    /// # Errors
    /// As [`Model::fit`].
    pub fn refit(&self) -> Result<Self> {
        Self::fit(&self.units, &self.spec)
    }

    /// The coefficient of that name.
    #[must_use]
    pub fn coefficient(&self, name: &str) -> Option<&Coefficient> {
        self.coefficients.iter().find(|coefficient| coefficient.name == name)
    }

    pub(crate) fn ready(&self) -> Result<Ready> {
        if tray_law::is_used(self) {
            return tray_law::ready(self);
        }
        let mut frame = Frame::new(&self.units, &self.spec)?;
        if let Some(known) = self.strata.correlation {
            frame = weighted(frame, known.used());
        }
        let design = Design::full(&frame);
        let fit = Fit { design: &design, data: &frame.data, link: self.spec.link, penalised: self.penalised };
        let mut solution = fit.free()?;
        if self.penalised {
            balance(&mut solution, &frame.data, self.spec.link);
        }
        let covariance = fit.information(&solution.eta).covariance();
        Ok(Ready { frame, design, solution, covariance, deviations: Vec::new() })
    }

    /// Profile (penalised) likelihood limits of a coefficient and the P value of its being 0, on the link scale.
    ///
    /// The fall of twice the log-likelihood is compared with the chi-square quantile on 1 degree of freedom, or divided by
    /// the dispersion with the F quantile. A limit may be infinite. None for a coefficient confounded with whole plots.
    ///
    /// # Errors
    /// When the coefficient is not in the model or the fit at 0 does not settle.
    ///
    /// # References
    /// Venzon and Moolgavkar (1988), Applied Statistics 37:87-94; Heinze and Schemper (2002), Statist. Med. 21:2409-2419.
    pub fn profile(&self, name: &str, level: f64) -> Result<Option<ProfileLimits>> {
        let ready = self.ready()?;
        self.profile_of(&ready, name, level)
    }

    pub(crate) fn profile_of(&self, ready: &Ready, name: &str, level: f64) -> Result<Option<ProfileLimits>> {
        let level = crate::estimate::check_level(level)?;
        let names: Vec<&str> = ready.design.columns.iter().map(|column| column.name.as_str()).collect();
        let unknown = || crate::error::ChoiceError::new("coefficient", name, &names);
        let j = names.iter().position(|known| *known == name).ok_or_else(unknown)?;
        let effect = self.coefficients.get(j).and_then(|coefficient| coefficient.effect.as_deref());
        let error = effect.map_or(Some(self.strata.tray), |effect| self.strata.of(effect));
        let Some(Stratum { dispersion, dof }) = error else { return Ok(None) };
        let mut design = ready.design.clone();
        // The rates of a penalised fit have their level moved, its profile has not.
        let plain = Fit { design: &design, data: &ready.frame.data, link: self.spec.link, penalised: self.penalised };
        let law = tray_law::is_used(self);
        let mut free = if self.penalised && !law { plain.free()? } else { ready.solution.clone() };
        if design.columns.get(j).is_some_and(|column| column.term.is_none()) {
            uncentre(&mut design, &mut free);
        }
        if law {
            return tray_law::profile(self, (&ready.frame, &design), j, level, dof).map(Some);
        }
        let fit = Fit { design: &design, data: &ready.frame.data, link: self.spec.link, penalised: self.penalised };
        let scale = design.scales.get(j).copied().unwrap_or(1.0);
        let std_error = self.coefficients.get(j).map_or(1.0, |coefficient| coefficient.std_error) * scale;
        let Some(mut profile) = Profile::new(fit, &free, j, std_error) else { return Ok(None) };
        let statistic = profile.fall(0.0)? / dispersion;
        let quantile = dof.map_or_else(|| chi_squared::quantile(level, 1.0), |dof| fisher_f::quantile(level, 1.0, dof));
        let low = profile.limit(-1.0, quantile * dispersion) / scale;
        let high = profile.limit(1.0, quantile * dispersion) / scale;
        let p_value = tail(statistic, 1.0, dof);
        Ok(Some(ProfileLimits { low, high, statistic, dof, p_value }))
    }
}

/// Limits and test of one coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileLimits {
    /// Lower limit on the link scale.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Chi-square or F on 1 degree of freedom.
    pub statistic: f64,
    /// Denominator degrees of freedom of the F.
    pub dof: Option<f64>,
    /// Probability of a statistic as large.
    pub p_value: f64,
}

/// Upper tail of a chi-square, or of an F when the error has degrees of freedom.
pub(crate) fn tail(statistic: f64, dof: f64, denominator: Option<f64>) -> f64 {
    match denominator {
        None => chi_squared::sf(statistic, dof),
        Some(denominator) => fisher_f::sf(statistic, dof, denominator),
    }
}

/// Moves the intercept to covariates at 0 instead of at their means.
fn uncentre(design: &mut Design, free: &mut Solution) {
    let shifts = design.shifts.clone();
    for (column, shift) in design.x.iter_mut().zip(&shifts).skip(1) {
        column.iter_mut().for_each(|x| *x += shift);
    }
    let moved: f64 = dot(free.coef.get(1..).unwrap_or_default(), shifts.get(1..).unwrap_or_default());
    if let Some(intercept) = free.coef.first_mut() {
        *intercept -= moved;
    }
}

pub(crate) fn fit_or_penalise(
    frame: &Frame,
    design: &Design,
    spec: &ModelSpec,
) -> Result<(Solution, bool, Vec<String>)> {
    let fit = |penalised| Fit { design, data: &frame.data, link: spec.link, penalised };
    let plain = fit(false).free();
    let separated = match &plain {
        Ok(solution) if solution.runaway.is_empty() && !spec.penalised => return Ok((plain?, false, Vec::new())),
        Ok(solution) => separation::cells(frame, &solution.runaway),
        Err(_) if spec.penalised || at_an_edge(&frame.per_unit) => Vec::new(),
        Err(error) => return Err(error.clone()),
    };
    Ok((fit(true).free()?, true, separated))
}

/// Moves the intercept of a penalised fit until as many cuttings are expected to root as did. The penalty draws all rates towards
/// one half, most where many coefficients share few cuttings; effects are well estimated, their level is not. Where all or none
/// rooted nothing is moved.
///
/// # References
/// Puhr et al. (2017), Statist. Med. 36:2302-2317 (FLIC).
fn balance(solution: &mut Solution, data: &Data, link: Link) {
    let rooted: f64 = data.rooted.iter().sum();
    let share = |shift: f64| {
        let rates = solution.eta.iter().zip(&data.stuck).map(|(eta, m)| m * link.at(eta + shift).mean);
        rates.sum::<f64>() / rooted - 1.0
    };
    if rooted <= 0.0 || rooted >= data.stuck.iter().sum::<f64>() {
        return;
    }
    let Ok(shift) = brent(share, -20.0, 20.0, 1e-12) else { return };
    solution.eta.iter_mut().for_each(|eta| *eta += shift);
    if let Some(intercept) = solution.coef.first_mut() {
        *intercept += shift;
    }
}

fn at_an_edge(data: &PerUnit) -> bool {
    data.rooted.iter().zip(&data.stuck).any(|(y, m)| *y == 0.0 || y == m)
}

pub(crate) fn assemble(
    units: &Units,
    spec: &ModelSpec,
    frame: &Frame,
    fit: &Fit<'_>,
    solution: &Solution,
    counts: &[Tally],
) -> Model {
    let design = fit.design;
    let information = fit.information(&solution.eta);
    let (coefficients, covariance) = user_scale(frame, design, solution, &information.covariance());
    let constants: f64 = counts.iter().map(|one| one.times * ln_choose(one.stuck, one.rooted)).sum();
    let points: Vec<Point> = solution.eta.iter().map(|eta| fit.link.at(*eta)).collect();
    let part = |one: &Tally| {
        let point = points.get(one.row)?;
        Some(one.times * (one.rooted * point.ln_mean + (one.stuck - one.rooted) * point.ln_rest))
    };
    let kernel: f64 = counts.iter().filter_map(part).sum();
    let (saturated, null) = kernels(counts);
    let nobs: f64 = counts.iter().map(|one| one.times).sum();
    let ln_scales: f64 = design.scales.iter().map(|scale| scale.ln()).sum();
    let condition = information.condition();
    Model {
        units: units.clone(),
        spec: spec.clone(),
        trays: TrayMode::Ignore,
        penalised: fit.penalised,
        separated: Vec::new(),
        coefficients,
        covariance,
        aliased: design.aliased(),
        loglik: kernel + constants,
        penalised_loglik: fit
            .penalised
            .then_some(kernel + solution.objective - solution.kernel + constants + ln_scales),
        deviance: (2.0 * (saturated - kernel)).max(0.0),
        null_deviance: (2.0 * (saturated - null)).max(0.0),
        pearson: pearson(counts, fit.link, &solution.eta),
        residual_dof: (nobs as u64).saturating_sub(design.rank() as u64),
        strata: Strata { tray: Stratum::BINOMIAL, raw_dispersion: None, whole_plots: None, correlation: None },
        spread: Vec::new(),
        n_units: frame.per_unit.stuck.len() as u64,
        n_cuttings: units.stuck.iter().sum(),
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
    }
}

/// Coefficients and covariance per unit of the user's covariates, the intercept at covariates 0.
pub(crate) fn user_scale(
    frame: &Frame,
    design: &Design,
    solution: &Solution,
    v: &[Vec<f64>],
) -> (Vec<Coefficient>, Vec<Vec<f64>>) {
    let p = design.rank();
    let transform: Vec<Vec<f64>> = (0..p)
        .map(|j| {
            let mut row = vec![0.0; p];
            if j == 0 {
                row = design.shifts.iter().map(|shift| -shift).collect();
            }
            if let (Some(entry), Some(scale)) = (row.get_mut(j), design.scales.get(j)) {
                *entry = 1.0 / scale;
            }
            row
        })
        .collect();
    let half: Vec<Vec<f64>> = transform.iter().map(|row| v.iter().map(|v| dot(v, row)).collect()).collect();
    let covariance: Vec<Vec<f64>> =
        half.iter().map(|h: &Vec<f64>| transform.iter().map(|row| dot(h, row)).collect()).collect();
    let effect = |term: Option<usize>| term.and_then(|term| frame.terms.get(term)).map(|term| term.name.clone());
    let coefficients = design.columns.iter().zip(&transform).map(|(column, row)| Coefficient {
        name: column.name.clone(),
        effect: effect(column.term),
        value: dot(row, &solution.coef),
        std_error: quadratic(v, row).sqrt(),
    });
    (coefficients.collect(), covariance)
}

/// Log-likelihood kernels of the saturated model and of one common rate.
fn kernels(counts: &[Tally]) -> (f64, f64) {
    let part = |one: &Tally, rate: f64| {
        let term = |n: f64, p: f64| if n > 0.0 { n * p.ln() } else { 0.0 };
        one.times * (term(one.rooted, rate) + term(one.stuck - one.rooted, 1.0 - rate))
    };
    let sum = |of: fn(&Tally) -> f64| counts.iter().map(|one| one.times * of(one)).sum::<f64>();
    let rate = sum(|one| one.rooted) / sum(|one| one.stuck);
    let saturated = counts.iter().map(|one| part(one, one.rooted / one.stuck)).sum();
    (saturated, counts.iter().map(|one| part(one, rate)).sum())
}

/// The error when an odds ratio is asked of a link without odds.
pub(crate) fn needs_logit(model: &Model) -> Result<()> {
    if model.spec.link == crate::models::Link::Logit {
        return Ok(());
    }
    Err(ModelError::NotOdds { link: model.spec.link.name().to_owned() }.into())
}
