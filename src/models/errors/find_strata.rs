//! The error strata of a fitted design: which units carry its effects, and how much they vary.

use super::effective::TrayCorrelation;
use super::strata::Strata;
use super::stratum::{Stratum, WholePlots};
use crate::error::Result;
use crate::layers::Place;
use crate::math::regression::{Link, Solution};
use crate::models::design::{Design, Fit};
use crate::models::enter::{Frame, Tally, constant};
use crate::trial::{Factor, Units};

/// Pearson's statistic `sum (y - m p)^2 / (m p (1 - p))`; `eta` has one entry per row of the data.
#[must_use]
pub(crate) fn pearson(counts: impl Iterator<Item = Tally>, link: Link, eta: &[f64]) -> f64 {
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
}
