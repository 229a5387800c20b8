//! What a model is asked for.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::error::{ChoiceError, ModelError, Result};
use crate::estimate::check_level;
use crate::math::regression::Link;
use crate::report::Spoken;
use crate::trial::{Outcome, Reached};

/// How differences between trays of one treatment enter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TrayMode {
    /// [`TrayMode::Effective`] where trays are recorded and leave degrees of freedom, [`TrayMode::Ignore`] otherwise.
    #[default]
    Auto,
    /// Counts divided by their trays' design effects; score tests by F and t on the trays' degrees of freedom.
    Effective,
    /// A dispersion from the spread between trays; F and t on the trays' degrees of freedom.
    Dispersion,
    /// A beta law of the trays' rates with one correlation, by maximum likelihood.
    BetaBinomial,
    /// Normal tray effects (and whole-plot effects, where they are recorded) on the link scale, by maximum likelihood.
    Random,
    /// The binomial fit with a covariance that allows for any correlation inside trays, or inside whole plots where they are recorded.
    Robust,
    /// Cuttings as if independent: asked for, and marked.
    Ignore,
}

choice!(
    TrayMode, "use of trays":
    Auto = "auto",
    Effective = "effective",
    Dispersion = "dispersion",
    BetaBinomial = "beta-binomial",
    Random = "random",
    Robust = "robust",
    Ignore = "ignore",
);

/// Effects, interactions, link and the treatment of trays.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct ModelSpec {
    /// Treatment factors, other recorded columns or covariates.
    pub effects: Vec<String>,
    /// Sets of effects that interact; those of fewer effects inside a set enter with it.
    pub interactions: Vec<Vec<String>>,
    /// Link.
    pub link: Link,
    /// Tray mode.
    pub trays: TrayMode,
    /// Recorded columns whose levels have random effects beside the trays and the whole plots, for [`TrayMode::Random`].
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub random: Vec<String>,
    /// Recorded column each of whose levels has a correlation within trays of its own, for [`TrayMode::BetaBinomial`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub correlation_by: Option<String>,
    /// Recorded column whose levels are the clusters, for [`TrayMode::Robust`]; whole plots, and trays without them, otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub robust_by: Option<String>,
    /// Use the Jeffreys prior penalty even without separation.
    pub penalised: bool,
    /// Reference level per effect; its control otherwise, and without one the first level.
    pub reference: BTreeMap<String, String>,
    /// The control level per effect, as the trial knows it.
    pub controls: BTreeMap<String, String>,
    /// Effects whose levels were declared in an order, as the trial knows it. The levels stand in that order everywhere.
    pub ordered: Vec<String>,
    /// The effect whose levels are strengths of a growth regulator, as the trial declares it: answers about it carry the caution.
    pub strength: Option<String>,
    /// How the levels of that effect are said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spoken: Option<Spoken>,
    /// What is counted: the take, survival, or rooting among survivors.
    pub outcome: Outcome,
    /// The grade that is reached or not, where that is counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reached: Option<Reached>,
    /// Effects that enter as numbers though their column has levels.
    pub numeric: Vec<String>,
    /// Highest power per effect that enters as a polynomial; it enters as a number.
    pub polynomials: BTreeMap<String, u32>,
    /// Covariate that is added to the linear predictor with coefficient 1.
    pub offset: Option<String>,
    /// Covariate of prior weights. A unit's log-likelihood is multiplied by its weight, so its rate has variance
    /// `p (1 - p) / (weight m)`; with weight 0 it takes no part.
    pub weights: Option<String>,
    /// Confidence level, between 0 and 1.
    pub confidence: f64,
}

impl Default for ModelSpec {
    fn default() -> Self {
        Self {
            effects: Vec::new(),
            interactions: Vec::new(),
            link: Link::Logit,
            trays: TrayMode::Auto,
            random: Vec::new(),
            correlation_by: None,
            robust_by: None,
            penalised: false,
            reference: BTreeMap::new(),
            controls: BTreeMap::new(),
            ordered: Vec::new(),
            strength: None,
            spoken: None,
            outcome: Outcome::Take,
            reached: None,
            numeric: Vec::new(),
            polynomials: BTreeMap::new(),
            offset: None,
            weights: None,
            confidence: 0.95,
        }
    }
}

impl ModelSpec {
    /// A model of these effects with everything else at its default.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert_eq!(ModelSpec::of(&["strength", "rootstock"]).effects, ["strength", "rootstock"]);
    /// ```
    pub fn of<S: AsRef<str>>(effects: &[S]) -> Self {
        Self { effects: effects.iter().map(|name| name.as_ref().to_owned()).collect(), ..Self::default() }
    }

    /// Checks that effects are named once, interactions are made of them, references and polynomials are of them, and the
    /// level is one.
    ///
    /// # Errors
    /// [`ModelError::NoEffects`], [`ModelError::Repeated`], [`ModelError::InteractionWithoutMain`],
    /// [`ModelError::WeightsUnderLaw`], [`ModelError::RandomNeedsMode`], [`ModelError::IccNeedsMode`], [`ModelError::RobustNeedsMode`], an unknown effect with its nearest, or a level outside (0, 1).
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert!(ModelSpec::of(&["strength"]).check().is_ok());
    /// assert!(ModelSpec::of(&["strength", "strength"]).check().is_err());
    /// ```
    pub fn check(&self) -> Result<()> {
        check_level(self.confidence)?;
        if self.effects.is_empty() {
            return Err(ModelError::NoEffects.into());
        }
        once(&self.effects)?;
        for name in self.reference.keys().chain(self.polynomials.keys()).chain(&self.numeric) {
            if !self.effects.contains(name) {
                return Err(ChoiceError::new("effect of the model", name, &self.effects).into());
            }
        }
        if self.weights.is_some() && matches!(self.trays, TrayMode::BetaBinomial | TrayMode::Random) {
            return Err(ModelError::WeightsUnderLaw.into());
        }
        if !self.random.is_empty() && self.trays != TrayMode::Random {
            return Err(ModelError::RandomNeedsMode.into());
        }
        if self.correlation_by.is_some() && self.trays != TrayMode::BetaBinomial {
            return Err(ModelError::IccNeedsMode.into());
        }
        if self.robust_by.is_some() && self.trays != TrayMode::Robust {
            return Err(ModelError::RobustNeedsMode.into());
        }
        once(&self.random)?;
        let mut seen: Vec<Vec<&String>> = Vec::new();
        for interaction in &self.interactions {
            once(interaction)?;
            if let Some(missing) = interaction.iter().find(|name| !self.effects.contains(name)) {
                let (interaction, missing) = (interaction.join(" x "), missing.clone());
                return Err(ModelError::InteractionWithoutMain { interaction, missing }.into());
            }
            let mut parts: Vec<&String> = interaction.iter().collect();
            parts.sort();
            if seen.contains(&parts) || interaction.len() < 2 {
                return Err(ModelError::Repeated { effect: interaction.join(" x ") }.into());
            }
            seen.push(parts);
        }
        Ok(())
    }
}

impl ModelSpec {
    /// True when a column has a part in the model of its own, so that a recorded block of that name is no additive effect.
    pub(crate) fn names(&self, column: &String) -> bool {
        self.effects.contains(column) || self.random.contains(column) || self.robust_by.as_ref() == Some(column)
    }
}

fn once(names: &[String]) -> Result<()> {
    for (index, name) in names.iter().enumerate() {
        if names.iter().take(index).any(|other| other == name) {
            return Err(ModelError::Repeated { effect: name.clone() }.into());
        }
    }
    Ok(())
}
