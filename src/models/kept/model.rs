//! A fitted model: its record, and what stands beside it.

use std::sync::{Arc, Mutex, OnceLock};

use ndarray::Array2;
use serde::{Deserialize, Serialize};

use super::criteria_of::Criteria;
use super::ready::{Ready, Solved};
use crate::answer::Note;
use crate::control::Control;
use crate::error::{ModelError, Result};
use crate::math::dense::rows;
use crate::math::search::Convergence;
use crate::models::design::{Coefficient, Inseparable};
use crate::models::enter::{ModelSpec, TrayMode};
use crate::models::errors::Strata;
use crate::models::laws::{LawRecord, Spread};
use crate::trial::{Prepared, Units};

/// A fitted binomial model. It keeps its units and specification, so it can be written out, read back and refitted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Model {
    /// Counts it was fitted to.
    #[serde(with = "shared")]
    #[cfg_attr(test, schemars(with = "Units"))]
    pub units: Arc<Units>,
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
    /// Binomial covariance of the coefficients; records hold its rows.
    #[serde(with = "rows")]
    #[cfg_attr(test, schemars(with = "Vec<Vec<f64>>"))]
    pub covariance: Array2<f64>,
    /// Coefficients without an estimate.
    pub inseparable: Vec<Inseparable>,
    /// Log-likelihood with the binomial coefficients of the units.
    pub loglik: f64,
    /// The same plus the penalty `0.5 ln |I|`.
    pub penalised_loglik: Option<f64>,
    /// Residual deviance.
    pub deviance: f64,
    /// Deviance of the model without effects.
    pub deviance_without_effects: f64,
    /// Pearson statistic.
    pub pearson: f64,
    /// Counts minus rank.
    pub error_df: u64,
    /// AIC, `AICc` and BIC; none with a dispersion or a penalty, where there is no likelihood at its maximum.
    #[serde(default)]
    pub criteria: Option<Criteria>,
    /// Error strata.
    pub strata: Strata,
    /// How trays (and whole plots) spread, for the beta-binomial and the random-effects model.
    #[serde(default)]
    pub spread: Vec<Spread>,
    /// How the law of the trays was fitted, for the same models.
    #[serde(default)]
    pub law: Option<LawRecord>,
    /// Trays (or pooled counts).
    pub n_units: u64,
    /// Cuttings.
    pub n_cuttings: u64,
    /// Record of the fit.
    pub convergence: Convergence,
    /// Cautions.
    pub notes: Vec<Note>,
    /// Fingerprint of the data it was fitted to, where these are a trial's.
    #[serde(skip)]
    pub data_fingerprint: Option<String>,
    /// Who may stop long work with this model, and what was kept for it.
    #[serde(skip)]
    pub(crate) beside: Beside,
}

/// What stands beside a model: a control that long work with it looks at, what was worked out of its units once, and its fit. It is no part
/// of the model: all are equal, and none is written out.
#[derive(Debug, Clone, Default)]
pub(crate) struct Beside {
    pub(crate) control: Arc<Control>,
    pub(crate) prepared: Option<Arc<Prepared>>,
    pub(crate) kept: Option<Arc<Kept>>,
}

impl PartialEq for Beside {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Beside {
    pub(crate) fn prepare(&mut self, prepared: &Arc<Prepared>) {
        self.prepared = Some(Arc::clone(prepared));
    }

    pub(super) fn watch(&mut self, control: &Arc<Control>) {
        self.control = Arc::clone(control);
    }
}

/// The fit of a model, and of which model: one whose open fields were changed has another fit.
#[derive(Debug)]
pub(crate) struct Kept {
    pub(crate) units: Arc<Units>,
    pub(crate) spec: ModelSpec,
    pub(crate) penalised: bool,
    pub(crate) strata: Strata,
    /// Until a question is asked.
    pub(crate) solved: Mutex<Option<Solved>>,
    pub(crate) ready: OnceLock<Ready>,
}

impl Kept {
    pub(crate) fn is_of(&self, model: &Model) -> bool {
        Arc::ptr_eq(&self.units, &model.units)
            && self.penalised == model.penalised
            && self.spec == model.spec
            && self.strata == model.strata
    }
}

impl Model {
    /// The coefficient of that name.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = std::sync::Arc::new(Control::new());
    /// # let model = trial.model(&ModelSpec::of(&["strength"]), &control)?;
    /// let first = &model.coefficients[0];
    /// assert_eq!(model.coefficient(&first.name), Some(first));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn coefficient(&self, name: &str) -> Option<&Coefficient> {
        self.coefficients.iter().find(|coefficient| coefficient.name == name)
    }

    /// The same model, whose effect tests, limits and rates end when the control is stopped.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = std::sync::Arc::new(Control::new());
    /// # let model = trial.model(&ModelSpec::of(&["strength"]), &control)?;
    /// let stop = std::sync::Arc::new(Control::new());
    /// let watched = model.watched(&stop);
    /// assert_eq!(watched, model); // the same model
    /// assert!(watched.what_matters(None).is_ok());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn watched(&self, control: &Arc<Control>) -> Self {
        let mut same = self.clone();
        same.beside.watch(control);
        same
    }

    /// The same record with no units in it.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = std::sync::Arc::new(Control::new());
    /// # let model = trial.model(&ModelSpec::of(&["strength"]), &control)?;
    /// assert_eq!(model.without_counts().units.len(), 0);
    /// assert_eq!(model.without_counts().coefficients, model.coefficients);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn without_counts(&self) -> Self {
        let none = Units {
            kind: self.units.kind,
            rooted: Vec::new(),
            stuck: Vec::new(),
            treatments: Vec::new(),
            tray: None,
            block: None,
            whole_plot: None,
            season: None,
            earlier: None,
            stock_plant: None,
            covariates: Vec::new(),
        };
        Self { units: Arc::new(none), ..self.clone() }
    }
}

/// True when the model has such a covariance.
pub(crate) fn is_robust(model: &Model) -> bool {
    model.trays == TrayMode::Robust
}

/// True when a fitted model has one.
pub(crate) fn is_used(model: &Model) -> bool {
    matches!(model.trays, TrayMode::BetaBinomial | TrayMode::Random)
}

/// The error when an odds ratio is asked of a link without odds.
pub(crate) fn needs_logit(model: &Model) -> Result<()> {
    if model.spec.link == crate::math::regression::Link::Logit {
        return Ok(());
    }
    Err(ModelError::NotOdds { link: model.spec.link.in_words().to_owned() }.into())
}

/// Shared units are written out and read as units.
mod shared {
    use std::sync::Arc;

    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use crate::trial::Units;

    pub(super) fn serialize<S: Serializer>(units: &Arc<Units>, serializer: S) -> Result<S::Ok, S::Error> {
        units.as_ref().serialize(serializer)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Arc<Units>, D::Error> {
        Units::deserialize(deserializer).map(Arc::new)
    }
}
