//! Which error an effect is measured against: cuttings, trays or whole plots.

use serde::{Deserialize, Serialize};

use super::above::Above;
use super::effective::{TrayCorrelation, weighted};
use super::stratum::{Stratum, WholePlots};
use crate::models::enter::{Confined, Frame};

/// The error strata of a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Strata {
    /// Between trays (or binomial).
    pub tray: Stratum,
    /// Pearson statistic over its degrees of freedom, before it is held at 1.
    pub raw_dispersion: Option<f64>,
    /// Between whole plots, when effects were laid out on them.
    pub whole_plots: Option<WholePlots>,
    /// Groupings of trays with random effects, whole plots included, each with its own error.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub layers: Vec<WholePlots>,
    /// Recorded units above the trays as layers of error, where trays enter as effective cuttings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub above: Option<Above>,
    /// The correlation by which counts became effective counts, where trays enter so.
    #[serde(default)]
    pub correlation: Option<TrayCorrelation>,
    /// Effects that a single one of the places taken out carries.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub confined: Vec<Confined>,
}

impl Strata {
    /// Cuttings as if independent.
    pub(crate) fn binomial() -> Self {
        Self {
            tray: Stratum::BINOMIAL,
            raw_dispersion: None,
            whole_plots: None,
            layers: Vec::new(),
            above: None,
            correlation: None,
            confined: Vec::new(),
        }
    }

    /// What an effect cannot be told apart from: a layer without degrees of freedom beside it, or the one place that carries it.
    pub(crate) fn withheld(&self, effect: &str) -> Option<&str> {
        let confined = self.confined.iter().find(|one| one.effect == effect).map(|one| one.place.as_str());
        confined.or_else(|| self.above.as_ref().and_then(|above| above.hides(effect)))
    }

    /// The error an effect is tested against; none when it is confounded with whole plots.
    #[must_use]
    pub fn of(&self, effect: &str) -> Option<Stratum> {
        if self.withheld(effect).is_some() {
            return None;
        }
        match &self.whole_plots {
            Some(whole) if whole.effects.iter().any(|name| name == effect) && whole.error.is_none() => None,
            Some(whole) if whole.effects.iter().any(|name| name == effect) && self.layers.is_empty() => whole.error,
            _ => {
                let holds = |layer: &&WholePlots| layer.effects.iter().any(|name| name == effect);
                Some(self.fewest(self.layers.iter().filter(holds)))
            }
        }
    }

    /// The error of a rate where groupings of trays have random effects, which all rates share: that of the grouping of fewest degrees
    /// of freedom.
    pub(crate) fn of_rates(&self) -> Option<Stratum> {
        (!self.layers.is_empty()).then(|| self.fewest(self.layers.iter()))
    }

    fn fewest<'a>(&self, layers: impl Iterator<Item = &'a WholePlots>) -> Stratum {
        let errors = layers.filter_map(|layer| layer.error);
        errors
            .min_by(|a, b| a.df.unwrap_or(f64::INFINITY).total_cmp(&b.df.unwrap_or(f64::INFINITY)))
            .unwrap_or(self.tray)
    }

    /// True when the effect was laid out on whole plots, or on another unit above the trays.
    #[must_use]
    pub fn on_whole_plots(&self, effect: &str) -> bool {
        self.whole_plots.as_ref().is_some_and(|whole| whole.effects.iter().any(|name| name == effect))
            || self.above.as_ref().is_some_and(|above| !above.judging(effect).is_empty())
    }
}

impl Strata {
    /// Takes up the layers above the trays.
    pub(crate) fn stand_above(&mut self, above: Above) {
        let tray = above.layers.tray;
        self.tray.df = Some(tray.df);
        self.correlation = Some(above.tray());
        self.layers = above.strata();
        let hidden = |one: &&WholePlots| one.error.is_none() && !one.effects.is_empty();
        let carrying = || self.layers.iter().filter(|one| !one.effects.is_empty());
        self.whole_plots = carrying().find(hidden).or_else(|| carrying().next_back()).cloned();
        self.above = Some(above);
    }

    /// A frame with its counts as the model takes them: divided by their design effects where trays enter so.
    pub(crate) fn weighted(&self, frame: Frame) -> Frame {
        match self.correlation {
            Some(known) => weighted(frame, known.used()),
            None => frame,
        }
    }
}
