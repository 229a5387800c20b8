//! Which error an effect is measured against: cuttings, trays or whole plots.

use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::layers::Place;
use crate::math::irls::{Link, Solution};
use crate::models::design_matrix::Design;
use crate::models::effective::{TrayCorrelation, weighted};
use crate::models::frame::{Frame, Tally};
use crate::models::layered::Above;
use crate::models::likelihood::Fit;
use crate::models::places::{Confined, constant};
use crate::trial::{Factor, Units};

/// A dispersion with its degrees of freedom; without them the binomial variance itself is the error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stratum {
    /// Variance as a multiple of the binomial, at least 1.
    pub dispersion: f64,
    /// Degrees of freedom; none for the binomial variance.
    pub df: Option<f64>,
}

impl Stratum {
    /// Cuttings as if independent.
    pub const BINOMIAL: Self = Self { dispersion: 1.0, df: None };
}

/// The whole-plot stratum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WholePlots {
    /// Column of the whole plots.
    pub name: String,
    /// Effects constant within every whole plot.
    pub effects: Vec<String>,
    /// Their error; none when the whole plots leave no degrees of freedom.
    pub error: Option<Stratum>,
}

/// The error strata of a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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

/// Pearson's statistic `sum (y - m p)^2 / (m p (1 - p))`; `eta` has one entry per row of the data.
#[must_use]
pub(super) fn pearson(counts: impl Iterator<Item = Tally>, link: Link, eta: &[f64]) -> f64 {
    let part = |Tally { rooted, stuck, row, times }: Tally| {
        let eta = *eta.get(row)?;
        if link == Link::Logit {
            let odds = eta.clamp(-300.0, 300.0).exp();
            let residual = rooted - (stuck - rooted) * odds;
            return Some(times * residual * residual / (stuck * odds));
        }
        let point = link.at(eta);
        let residual = rooted * point.rest - (stuck - rooted) * point.mean;
        Some(times * residual * residual / (stuck * point.mean * point.rest))
    };
    counts.filter_map(part).sum()
}

/// What the error of trays comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Source {
    /// Cuttings are taken as independent.
    Binomial,
    /// Pearson's statistic over its degrees of freedom.
    Pearson,
    /// Counts were divided by their design effects.
    Effective(TrayCorrelation),
}

/// The design of all terms, the whole plots after what they carry.
fn whole_plots_last(with: &Frame) -> Design {
    let order: Vec<usize> = (1..with.terms.len()).chain([0]).collect();
    Design::new(with, &order, &with.data)
}

/// The frame with the whole plots as a factor, and the frame's terms laid out on them. Where no whole plots are recorded, another unit
/// above the tray within whose levels an effect is constant stands in their place.
pub(crate) fn split_plot(frame: &Frame, units: &Units) -> Option<(Frame, Vec<usize>)> {
    let with = frame.with_factor(carrier(frame, units)?)?;
    let constant = constant_effects(&with);
    if constant.is_empty() { None } else { Some((with, constant)) }
}

/// The unit above the tray that effects were laid out on: whole plots, else the unit of fewest levels.
pub(crate) fn carrier<'a>(frame: &Frame, units: &'a Units) -> Option<&'a Factor> {
    let carries = |factor: &&Factor| {
        let place = frame.placing.layers.iter().find(|place| place.name == factor.name);
        let still = |place: &Place| frame.variables.iter().any(|one| constant(one, &place.codes));
        frame.variables.iter().all(|variable| variable.name != factor.name) && place.is_some_and(still)
    };
    let plots = units.whole_plot.as_ref().filter(carries);
    let others = [&units.season, &units.block, &units.stock_plant].into_iter().flatten().filter(carries);
    plots.or_else(|| others.min_by_key(|factor| factor.levels.len()))
}

/// The effects that do not change within the levels of the factor that was added to a frame last, as terms of the frame without it.
pub(crate) fn constant_effects(with: &Frame) -> Vec<usize> {
    let plot = with.variables.len().saturating_sub(1);
    let asked = (1..with.terms.len()).filter(|index| with.terms.get(*index).is_some_and(|term| term.asked));
    asked.filter(|index| constant_within(with, *index, plot)).map(|index| index - 1).collect()
}

fn constant_within(frame: &Frame, term: usize, plot: usize) -> bool {
    let Some(term) = frame.terms.get(term) else { return false };
    let Some(levels) = frame.variables.get(plot).map(|variable| variable.levels.len()) else { return false };
    let mut seen: Vec<Option<Vec<_>>> = vec![None; levels];
    frame.data.values.iter().all(|row| {
        let Some(crate::trial::Value::Level(level)) = row.get(plot) else { return false };
        let values: Vec<_> = term.variables.iter().filter_map(|v| row.get(*v).copied()).collect();
        match seen.get_mut(*level) {
            Some(Some(first)) => *first == values,
            Some(slot) => {
                *slot = Some(values);
                true
            }
            None => false,
        }
    })
}

/// Finds the strata of a fitted design.
///
/// # Errors
/// When the fit with whole plots does not settle.
pub(crate) fn find(fit: &Fit<'_>, solution: &Solution, frame: &Frame, units: &Units, source: Source) -> Result<Strata> {
    let mut strata = Strata::binomial();
    let dof = frame.per_unit.stuck.len().saturating_sub(fit.design.rank());
    if source != Source::Binomial {
        strata.set_tray(source, pearson(frame.tallies(true), fit.link, &solution.eta), dof);
    }
    if matches!(source, Source::Effective(_)) {
        return Ok(strata);
    }
    let Some((with, constant)) = split_plot(frame, units) else { return Ok(strata) };
    let with = strata.weighted(with);
    let design = whole_plots_last(&with);
    let bays = design.of_term(0);
    let mut error = None;
    if !bays.is_empty() {
        error = Some(Stratum::BINOMIAL);
        if source != Source::Binomial {
            let wide = Fit { design: &design, data: &with.data, link: fit.link, penalised: fit.penalised };
            let reached = wide.free()?;
            let left = with.per_unit.stuck.len().saturating_sub(design.rank());
            if left > 0 {
                strata.set_tray(source, pearson(with.tallies(true), fit.link, &reached.eta), left);
            }
            let dof = bays.len() as f64;
            error = Some(Stratum { dispersion: (wide.ratio(&bays)? / dof).max(strata.tray.dispersion), df: Some(dof) });
        }
    }
    let effects = constant.iter().filter_map(|index| frame.terms.get(*index)).map(|term| term.name.clone()).collect();
    let name = carrier(frame, units).map(|whole| whole.name.clone()).unwrap_or_default();
    strata.whole_plots = Some(WholePlots { name, effects, error });
    Ok(strata)
}

impl Strata {
    /// Pearson's dispersion, at least 1; on effective counts 1 is what is left.
    fn set_tray(&mut self, source: Source, pearson: f64, dof: usize) {
        let raw = pearson / dof as f64;
        self.raw_dispersion = Some(raw);
        self.tray = Stratum { dispersion: raw.max(1.0), df: Some(dof as f64) };
        if let Source::Effective(known) = source {
            // Earlier trials may have added degrees of freedom.
            self.tray = Stratum { dispersion: 1.0, df: Some(known.df.max(dof as f64)) };
            self.correlation = Some(known);
        }
    }

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
