//! Which error an effect is measured against: cuttings, trays or whole plots.

use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::math::irls::{Link, Point, Solution};
use crate::models::design_matrix::Design;
use crate::models::frame::{Frame, Tally};
use crate::models::likelihood::Fit;
use crate::trial::Units;

/// A dispersion with its degrees of freedom; without them the binomial variance itself is the error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stratum {
    /// Variance as a multiple of the binomial, at least 1.
    pub dispersion: f64,
    /// Degrees of freedom; none for the binomial variance.
    pub dof: Option<f64>,
}

impl Stratum {
    /// Cuttings as if independent.
    pub const BINOMIAL: Self = Self { dispersion: 1.0, dof: None };
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
}

impl Strata {
    /// The error an effect is tested against; none when it is confounded with whole plots.
    #[must_use]
    pub fn of(&self, effect: &str) -> Option<Stratum> {
        match &self.whole_plots {
            Some(whole) if whole.effects.iter().any(|name| name == effect) => whole.error,
            _ => Some(self.tray),
        }
    }

    /// True when the effect was laid out on whole plots.
    #[must_use]
    pub fn on_whole_plots(&self, effect: &str) -> bool {
        self.whole_plots.as_ref().is_some_and(|whole| whole.effects.iter().any(|name| name == effect))
    }
}

/// Pearson's statistic `sum (y - m p)^2 / (m p (1 - p))`; `eta` has one entry per row of the data.
#[must_use]
pub fn pearson(counts: impl Iterator<Item = Tally>, link: Link, eta: &[f64]) -> f64 {
    let part = |Tally { rooted, stuck, row, times }: Tally| {
        let point = link.at(*eta.get(row)?);
        let residual = rooted * point.rest - (stuck - rooted) * point.mean;
        Some(times * residual * residual / (stuck * point.mean * point.rest))
    };
    counts.filter_map(part).sum()
}

/// The fewest cuttings of the rarer outcome per tray, on average, that Pearson's statistic can be trusted with.
const FEWEST_EXPECTED: f64 = 5.0;

/// Dispersion from sums over all trays, `sum (y - m p)^2 / sum m p (1 - p) (1 - h)` with leverages `h`; `None` where on average
/// at least [`FEWEST_EXPECTED`] cuttings of the rarer outcome are expected per tray.
///
/// Pearson's statistic gives every tray the same say, and trays where next to nothing is expected have nothing to say of
/// spread: where hardly any cutting rooted (or hardly any failed) it falls far below the true dispersion. Here trays count by
/// their variance, as they do in the tests that the dispersion is for (`tests/calibration/table.md`).
fn pooled_dispersion(fit: &Fit<'_>, counts: &[Tally], at: &Solution) -> Result<Option<f64>> {
    let points: Vec<Point> = at.eta.iter().map(|eta| fit.link.at(*eta)).collect();
    let expected = |Tally { stuck, row, times, .. }: &Tally| {
        points.get(*row).map(|point| times * stuck * point.mean.min(point.rest))
    };
    let trays: f64 = counts.iter().map(|tally| tally.times).sum();
    if counts.iter().filter_map(expected).sum::<f64>() >= FEWEST_EXPECTED * trays {
        return Ok(None);
    }
    let leverage = fit.leverages(&at.coef)?;
    let (mut off, mut variance) = (0.0, 0.0);
    for Tally { rooted, stuck, row, times } in counts {
        let (Some(point), Some(h), Some(all)) = (points.get(*row), leverage.get(*row), fit.data.stuck.get(*row)) else {
            continue;
        };
        let h = h * stuck / all;
        off += times * (rooted * point.rest - (stuck - rooted) * point.mean).powi(2);
        variance += times * stuck * point.mean * point.rest * (1.0 - h);
    }
    Ok((variance > 0.0).then(|| off / variance))
}

/// The frame with the whole plots as a factor, and the frame's terms laid out on them.
pub(crate) fn split_plot(frame: &Frame, units: &Units) -> Option<(Frame, Vec<usize>)> {
    let whole = units.whole_plot.as_ref()?;
    if frame.variables.iter().any(|variable| variable.name == whole.name) {
        return None;
    }
    let with = frame.with_factor(whole)?;
    let plot = with.variables.len() - 1;
    let asked = (0..frame.terms.len()).filter(|index| frame.terms.get(*index).is_some_and(|term| term.asked));
    let constant: Vec<usize> = asked.filter(|index| constant_within(&with, *index + 1, plot)).collect();
    if constant.is_empty() { None } else { Some((with, constant)) }
}

fn constant_within(frame: &Frame, term: usize, plot: usize) -> bool {
    let Some(term) = frame.terms.get(term) else { return false };
    let Some(levels) = frame.variables.get(plot).map(|variable| variable.levels.len()) else { return false };
    let mut seen: Vec<Option<Vec<_>>> = vec![None; levels];
    frame.data.values.iter().all(|row| {
        let Some(crate::models::Value::Level(level)) = row.get(plot) else { return false };
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
pub(crate) fn find(fit: &Fit<'_>, solution: &Solution, frame: &Frame, units: &Units, quasi: bool) -> Result<Strata> {
    let dof = frame.per_unit.stuck.len().saturating_sub(fit.design.rank());
    let mut strata = Strata { tray: Stratum::BINOMIAL, raw_dispersion: None, whole_plots: None };
    if quasi {
        strata.set_tray(fit, &frame.counts(true), solution, dof)?;
    }
    let Some((with, constant)) = split_plot(frame, units) else { return Ok(strata) };
    let order: Vec<usize> = (1..with.terms.len()).chain([0]).collect();
    let design = Design::new(&with, &order, &with.data);
    let bays = design.of_term(0);
    let mut error = None;
    if !bays.is_empty() {
        error = Some(Stratum::BINOMIAL);
        if quasi {
            let wide = Fit { design: &design, data: &with.data, link: fit.link, penalised: fit.penalised };
            let reached = wide.free()?;
            let left = with.per_unit.stuck.len().saturating_sub(design.rank());
            if left > 0 {
                strata.set_tray(&wide, &with.counts(true), &reached, left)?;
            }
            let dof = bays.len() as f64;
            let dispersion = (wide.ratio(&bays)? / dof).max(strata.tray.dispersion);
            error = Some(Stratum { dispersion, dof: Some(dof) });
        }
    }
    let effects = constant.iter().filter_map(|index| frame.terms.get(*index)).map(|term| term.name.clone()).collect();
    let name = units.whole_plot.as_ref().map(|whole| whole.name.clone()).unwrap_or_default();
    strata.whole_plots = Some(WholePlots { name, effects, error });
    Ok(strata)
}

impl Strata {
    /// Pearson's dispersion, or the pooled one where little is expected and it is larger; at least 1.
    fn set_tray(&mut self, fit: &Fit<'_>, counts: &[Tally], at: &Solution, dof: usize) -> Result<()> {
        let raw = pearson(counts.iter().copied(), fit.link, &at.eta) / dof as f64;
        self.raw_dispersion = Some(raw);
        let dispersion = pooled_dispersion(fit, counts, at)?.map_or(raw, |pooled| pooled.max(raw)).max(1.0);
        self.tray = Stratum { dispersion, dof: Some(dof as f64) };
        Ok(())
    }
}
