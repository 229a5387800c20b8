//! Adjusted means: the mean of each level of a treatment, averaged over the others.

use std::collections::BTreeMap;

use super::model::{Fits, Modelled};
use super::numbers::{AdjustedMean, AdjustedMeans};
use super::options::{MeanLevelOptions, MeanModelSpec};
use crate::effects::Average;
use crate::error::{ChoiceError, EffectError, Result};
use crate::estimate::check_level;
use crate::math::distributions::student_t;
use crate::math::regression::{UnitContrast, mean_limits};
use crate::trial::{Trial, unit_called};

/// A question about the levels of one treatment with its names resolved.
pub(super) struct Levels {
    /// Where the treatment stands in the model.
    pub(super) by: usize,
    pub(super) within: Option<usize>,
    /// Share of every level of every other treatment.
    shares: Vec<Option<Vec<f64>>>,
}

impl Levels {
    pub(super) fn of(model: &Modelled<'_>, by: &str, options: &MeanLevelOptions) -> Result<Self> {
        let place = |name: &str| place(model, name);
        let (by_at, within) = (place(by)?, options.within.as_deref().map(place).transpose()?);
        if within == Some(by_at) {
            return Err(EffectError::Twice { name: by.to_owned(), first: "treatment", second: "within=" }.into());
        }
        let mut shares: Vec<Option<Vec<f64>>> = vec![None; model.grid.factors.len()];
        for (name, level) in &options.at {
            let at = place(name)?;
            if at == by_at || Some(at) == within {
                let second = "treatment or within=";
                return Err(EffectError::Twice { name: name.clone(), first: "at=", second }.into());
            }
            let level = level_of(model, at, level)?;
            let own = (0..model.grid.width(at)).map(|other| f64::from(u8::from(other == level))).collect();
            if let Some(slot) = shares.get_mut(at) {
                *slot = Some(own);
            }
        }
        for at in 0..model.grid.factors.len() {
            let named = at == by_at || Some(at) == within || shares.get(at).is_some_and(Option::is_some);
            if !named {
                let own = averaged(model, at, &options.average)?;
                if let Some(slot) = shares.get_mut(at) {
                    *slot = Some(own);
                }
            }
        }
        Ok(Self { by: by_at, within, shares })
    }

    /// Weights of combinations for a level, within a level of the other.
    pub(super) fn weights(&self, model: &Modelled<'_>, level: usize, within: Option<usize>) -> Vec<f64> {
        let weight = |cell: usize| -> f64 {
            let levels = model.grid.levels(cell);
            let share = |(at, own): (usize, &usize)| {
                if at == self.by {
                    return f64::from(u8::from(*own == level));
                }
                if Some(at) == self.within {
                    return f64::from(u8::from(Some(*own) == within));
                }
                let known = self.shares.get(at).and_then(Option::as_ref);
                known.and_then(|shares| shares.get(*own)).copied().unwrap_or(0.0)
            };
            levels.iter().enumerate().map(share).product()
        };
        (0..model.grid.len()).map(weight).collect()
    }

    /// The levels of the treatment it is split by, or none once.
    pub(super) fn slices(&self, model: &Modelled<'_>) -> Vec<Option<usize>> {
        self.within.map_or_else(|| vec![None], |at| (0..model.grid.width(at)).map(Some).collect())
    }

    /// Other treatments that are averaged over.
    pub(super) fn averaged_over(&self, model: &Modelled<'_>, at: &BTreeMap<String, String>) -> Vec<String> {
        let named = |place: &usize| *place == self.by || Some(*place) == self.within;
        let others = (0..model.grid.factors.len()).filter(|place| !named(place) && model.grid.width(*place) > 1);
        let names = others.filter_map(|place| model.grid.factors.get(place)).map(|one| one.name.clone());
        names.filter(|name| !at.contains_key(name)).collect()
    }
}

fn place(model: &Modelled<'_>, name: &str) -> Result<usize> {
    let known: Vec<&str> = model.grid.factors.iter().map(|one| one.name.as_str()).collect();
    let found = known.iter().position(|one| *one == name);
    found.ok_or_else(|| ChoiceError::new("treatment of the model", name, &known).into())
}

/// The number of a level of a treatment.
pub(super) fn level_of(model: &Modelled<'_>, at: usize, level: &str) -> Result<usize> {
    let known: Vec<String> = (0..model.grid.width(at)).map(|number| label(model, at, number)).collect();
    let name = model.grid.factors.get(at).map_or("", |one| one.name.as_str());
    let found = known.iter().position(|one| one == level);
    found.ok_or_else(|| ChoiceError::new(&format!("level of {name}"), level, &known).into())
}

/// The name of a level.
pub(super) fn label(model: &Modelled<'_>, at: usize, level: usize) -> String {
    let code = model.grid.codes.get(at).and_then(|codes| codes.get(level)).copied().unwrap_or_default();
    let levels = model.grid.factors.get(at).map(|one| &one.levels);
    levels.and_then(|levels| levels.get(code as usize)).cloned().unwrap_or_default()
}

fn averaged(model: &Modelled<'_>, at: usize, average: &Average) -> Result<Vec<f64>> {
    let width = model.grid.width(at);
    let alike = vec![1.0 / width.max(1) as f64; width];
    let name = model.grid.factors.get(at).map_or("", |one| one.name.as_str());
    let mut found = match average {
        Average::AsStuck => (0..width).map(|level| held_at(model, &[(at, level)]).stuck as f64).collect(),
        Average::Mix(mixes) => match mixes.get(name) {
            Some(mix) => {
                let mut own = vec![0.0; width];
                for (level, share) in mix {
                    if !(share.is_finite() && *share >= 0.0) {
                        let (factor, level) = (name.to_owned(), level.clone());
                        return Err(EffectError::Share { factor, level, value: *share }.into());
                    }
                    own.get_mut(level_of(model, at, level)?).into_iter().for_each(|one| *one = *share);
                }
                own
            }
            None => alike.clone(),
        },
        Average::Alike => alike.clone(),
    };
    let sum: f64 = found.iter().sum();
    if sum <= 0.0 {
        return Err(EffectError::MixEmpty { factor: name.to_owned() }.into());
    }
    found.iter_mut().for_each(|one| *one /= sum);
    Ok(found)
}

/// What the trays of some levels hold together.
pub(super) fn held_at(model: &Modelled<'_>, levels: &[(usize, usize)]) -> crate::responses::gathered::Held {
    let inside = |tray: usize| {
        levels.iter().all(|(at, level)| {
            let code = model.grid.factors.get(*at).and_then(|one| one.codes.get(tray));
            code.is_some() && code == model.grid.codes.get(*at).and_then(|codes| codes.get(*level))
        })
    };
    model.held(inside)
}

/// Works out adjusted means.
pub(super) fn means(
    trial: &Trial,
    spec: &MeanModelSpec,
    by: &str,
    options: &MeanLevelOptions,
) -> Result<(AdjustedMeans, Vec<String>)> {
    let model = Modelled::of(trial, spec)?;
    let asked = Levels::of(&model, by, options)?;
    let confidence = check_level(options.confidence.unwrap_or(model.confidence))?;
    let fits = model.fits();
    let mut found = Vec::new();
    for within in asked.slices(&model) {
        for level in 0..model.grid.width(asked.by) {
            found.push(one(&fits, &asked, (level, within), confidence));
        }
    }
    let over = model.strata.first().map(|one| &one.beside);
    let names = |held: bool| -> Vec<String> {
        over.into_iter().flatten().filter(|one| one.over == held).map(|one| one.place.name.clone()).collect()
    };
    let above = model.strata.iter().take(model.strata.len().saturating_sub(1)).map(|one| one.unit.clone());
    let averaged_over = asked.averaged_over(&model, &options.at);
    Ok((
        AdjustedMeans {
            model: model.spec.clone(),
            response: model.gathered.measured.response.clone(),
            mean_of: model.of,
            by: by.to_owned(),
            within: options.within.clone(),
            confidence,
            unit: unit_called(model.gathered.units),
            units_above: above.collect(),
            means: found,
            holds_over: names(true),
            holds_at: names(false),
            primary: model.primary,
            n_left_out: model.n_left_out,
        },
        averaged_over,
    ))
}

/// The mean of one level with its limits and counts.
pub(super) fn one(
    fits: &Fits<'_>,
    asked: &Levels,
    (level, within): (usize, Option<usize>),
    confidence: f64,
) -> AdjustedMean {
    let model = fits.model;
    let weights = asked.weights(model, level, within);
    let own: Vec<(usize, usize)> = std::iter::once((asked.by, level)).chain(asked.within.zip(within)).collect();
    AdjustedMean {
        by: label(model, asked.by, level),
        within: asked.within.zip(within).map(|(at, level)| label(model, at, level)),
        ..of_weights(fits, &weights, &own, confidence)
    }
}

/// The mean of one combination of all treatments.
pub(super) fn one_cell(fits: &Fits<'_>, levels: &[usize], confidence: f64) -> AdjustedMean {
    let mut weights = vec![0.0; fits.model.grid.len()];
    weights.get_mut(fits.model.grid.cell(levels)).into_iter().for_each(|one| *one = 1.0);
    let own: Vec<(usize, usize)> = levels.iter().copied().enumerate().collect();
    of_weights(fits, &weights, &own, confidence)
}

/// A mean of weighted combinations, with the counts of the trays at some levels.
fn of_weights(fits: &Fits<'_>, weights: &[f64], own: &[(usize, usize)], confidence: f64) -> AdjustedMean {
    let model = fits.model;
    let held = held_at(model, own);
    let found = fits.mean(weights);
    let limits = found.map(|found| limited(found, confidence, model.gathered.least() / held.size.max(1.0)));
    AdjustedMean {
        by: String::new(),
        within: None,
        value: fits.value(weights),
        se: found.map(|found| found.variance.sqrt()),
        low: limits.map(|one| one.0),
        high: limits.map(|one| one.1),
        df: found.map(|found| found.df),
        take: held.rooted as f64 / held.stuck.max(1) as f64,
        n_units: held.trays,
        n_cuttings: held.stuck,
        n_rooted: held.rooted,
        n_measured: held.measured,
    }
}

/// Limits of a mean; one that a model without interactions puts below 0 has its plain upper limit.
fn limited(found: UnitContrast, confidence: f64, least: f64) -> (f64, f64) {
    let t = student_t::quantile(f64::midpoint(1.0, confidence), found.df);
    if found.value < 0.0 {
        return (0.0, (found.value + t * found.variance.sqrt()).max(0.0));
    }
    mean_limits(found, t, least)
}
