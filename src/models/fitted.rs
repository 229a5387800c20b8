//! Fitting the binomial model to a trial's units.

use std::sync::Arc;

use super::outcomes::beside_deaths;
use crate::control::Control;
use crate::error::{Error, ModelError, Result};
use crate::models::design::{Design, Fit};
use crate::models::enter::{Frame, ModelSpec, TrayMode};
use crate::models::errors::{Above, Source, TrayCorrelation, find, weighted};
use crate::models::fit::{assemble, fit_or_penalise, law_fit as tray_law, robust};
use crate::models::kept::{Model, Solved, criteria};
use crate::models::words::wording;
use crate::trial::{Outcome, Prepared, Trial, UnitKind, Units};

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
    /// `McCullagh` and Nelder (1989); Firth (1993), Biometrika 80:27-38; Wedderburn (1974), Biometrika 61:439-447; Williams (1982), Applied Statistics 31:144-148.
    ///
    /// ```
    /// use rootling::models::{Model, ModelSpec};
    /// use rootling::trial::{Factor, UnitKind, Units};
    /// let strength = Factor {
    ///     name: "strength".into(), levels: vec!["0".into(), "2500".into()], numbers: None, codes: vec![0, 0, 1, 1],
    /// };
    /// let units = Units {
    ///     kind: UnitKind::Tray, rooted: vec![5, 7, 12, 14], stuck: vec![20; 4], treatments: vec![strength],
    ///     tray: None, block: None, whole_plot: None, season: None, earlier: None, stock_plant: None, covariates: vec![],
    /// };
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// // 26 of 40 against 12 of 40: ln((26 / 14) / (12 / 28))
    /// approx::assert_abs_diff_eq!(model.coefficients[1].value, (26.0 * 28.0 / (14.0 * 12.0_f64)).ln(), epsilon = 1e-10);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn fit(units: &Units, spec: &ModelSpec) -> Result<Self> {
        Self::fit_until(&Arc::new(units.clone()), spec, &Arc::new(Control::new()))
    }

    /// [`Model::fit`] to shared units, until the control is stopped.
    ///
    /// # Errors
    /// As [`Model::fit`]; when asked to stop.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let control = std::sync::Arc::new(Control::new());
    /// let model = Model::fit_until(trial.shared_units(), &ModelSpec::of(&["strength"]), &control)?;
    /// assert_eq!(model.n_units, 4);
    /// control.stop();
    /// assert!(Model::fit_until(trial.shared_units(), &ModelSpec::of(&["strength"]), &control).is_err());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn fit_until(units: &Arc<Units>, spec: &ModelSpec, control: &Arc<Control>) -> Result<Self> {
        Self::of_prepared(&Arc::new(Prepared::new(units)), spec, control)
    }

    fn of_prepared(prepared: &Arc<Prepared>, spec: &ModelSpec, control: &Arc<Control>) -> Result<Self> {
        let mut model = Self::of_frame(Frame::of(prepared, spec, control)?, prepared.units(), spec)?;
        model.beside.prepare(prepared);
        Ok(model)
    }

    fn of_frame(frame: Frame, units: &Arc<Units>, spec: &ModelSpec) -> Result<Self> {
        let design = Design::full(&frame);
        let left = frame.per_unit.stuck.len().saturating_sub(design.rank());
        let counted = spec.trays != TrayMode::Ignore && units.kind == UnitKind::Tray && left > 0;
        tray_law::check(units, spec)?;
        robust::check(units, spec, &frame)?;
        if counted && tray_law::is_asked(spec) {
            let (model, solved) = tray_law::fit(units, spec, frame)?;
            return Ok(model.told(solved));
        }
        let (trays, source) = match spec.trays {
            _ if !counted => (TrayMode::Ignore, Source::Binomial),
            TrayMode::Dispersion | TrayMode::Robust => (TrayMode::Dispersion, Source::Pearson),
            _ => (TrayMode::Effective, Source::Effective(TrayCorrelation::of(&frame, &design))),
        };
        let above = if trays == TrayMode::Effective { Above::of(&frame, &design) } else { None };
        let source = above.as_ref().map_or(source, |above| Source::Effective(above.tray()));
        let frame = if let Source::Effective(known) = source { weighted(frame, known.used()) } else { frame };
        let (solution, penalised, separated) = fit_or_penalise(&frame, &design, spec)?;
        let fit = Fit { design: &design, data: &frame.data, link: spec.link, penalised };
        let mut strata = find(&fit, &solution, &frame, units, source)?;
        if let Some(above) = above {
            strata.stand_above(above);
        }
        let apart = counted || frame.has_covariate();
        let mut model = assemble(units, spec, &frame, (&fit, &solution), apart)?;
        strata.confined.clone_from(&frame.placing.confined);
        (model.strata, model.trays) = (strata, trays);
        model.separated = separated;
        if counted && spec.trays == TrayMode::Robust {
            robust::apply(&mut model, &frame, &design, &solution)?;
        }
        Ok(model.told(Solved { frame, design, solution, law: None }))
    }

    /// The model with its words and criteria, and with the fit that it keeps.
    fn told(mut self, solved: Solved) -> Self {
        self.notes = wording::notes(&self, &solved.frame);
        wording::verdict(&mut self);
        self.criteria = criteria(&self);
        self.keep(solved);
        self
    }

    /// What [`Trial::model`] fits.
    pub(super) fn of_trial(trial: &Trial, spec: &ModelSpec, control: &Arc<Control>) -> Result<Self> {
        let asked = |name: &String| spec.effects.contains(name);
        let mut spec = spec.clone();
        spec.controls = trial.controls().clone().into_iter().filter(|(name, _)| asked(name)).collect();
        spec.ordered = trial.options().level_order.keys().filter(|name| asked(name)).cloned().collect();
        spec.strength = trial
            .options()
            .strength_treatment()
            .filter(|name| spec.effects.iter().any(|e| e == name))
            .map(str::to_owned);
        spec.spoken = spec.strength.as_deref().map(|name| trial.options().spoken(name));
        let stock = trial.options().stock_plant.as_ref().filter(|_| trial.shared_units().stock_plant.is_none());
        if let Some(column) = stock.filter(|name| spec.random.contains(name)) {
            return Err(ModelError::RandomVaries { column: column.clone() }.into());
        }
        if let Some(column) = stock.filter(|name| spec.robust_by.as_ref() == Some(name)) {
            return Err(ModelError::RobustVaries { column: column.clone() }.into());
        }
        let named = |error| match error {
            Error::Model(ModelError::Weight { column, value, unit, .. }) => {
                ModelError::Weight { column, value, unit, row: trial.row(unit) }.into()
            }
            Error::Model(ModelError::CovariateNotFinite { effect, value, unit, .. }) => {
                ModelError::CovariateNotFinite { effect, value, unit, row: trial.row(unit) }.into()
            }
            other => other,
        };
        spec.reached = trial.reached().cloned();
        let prepared = match spec.outcome {
            Outcome::Take => trial.prepared(),
            other => Arc::new(Prepared::new(&Arc::new(trial.units_of(other)?))),
        };
        let mut model = Self::of_prepared(&prepared, &spec, control).map_err(named)?;
        model.notes.splice(0..0, trial.deaths_note(spec.outcome).into_iter().chain(beside_deaths(trial, &spec)));
        if let Some(reached) = trial.reached() {
            model.notes.iter_mut().for_each(|note| note.text = reached.said(&note.text));
        }
        model.data_fingerprint = Some(trial.fingerprint().to_owned());
        Ok(model)
    }

    /// True where [`Trial::model`] ends within a fraction of a second: few units, few levels, no law of the trays.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert!(Model::ends_soon(&trial, &ModelSpec::of(&["strength"])));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn ends_soon(trial: &Trial, spec: &ModelSpec) -> bool {
        let units = trial.units();
        let levels = |name: &String| units.factor(name).map_or(1, |factor| factor.levels.len());
        let places: usize = units.block.iter().chain(&units.whole_plot).map(|factor| factor.levels.len()).sum();
        let plain = spec.interactions.is_empty() && spec.polynomials.is_empty() && spec.trays != TrayMode::Robust;
        let small = units.len() <= 4096 && places + spec.effects.iter().map(levels).sum::<usize>() <= 64;
        plain && small && !tray_law::is_asked(spec)
    }

    /// Fits the same specification to the same units again.
    ///
    /// # Errors
    /// As [`Model::fit`].
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = std::sync::Arc::new(Control::new());
    /// # let model = trial.model(&ModelSpec::of(&["strength"]), &control)?;
    /// assert_eq!(model.refit()?.coefficients, model.coefficients);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn refit(&self) -> Result<Self> {
        let data_fingerprint = self.data_fingerprint.clone();
        Ok(Self { data_fingerprint, ..Self::fit(&self.units, &self.spec)? })
    }
}
