//! Tests of the effects of a model of means: how large each is, how large it may still be, and both parts beside.

use super::model::{Fits, Modelled};
use super::numbers::{MeanEffect, MeanEffects};
use super::options::MeanModelSpec;
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::{fisher_f, student_t};
use crate::models::ModelSpec;
use crate::responses::MeanOf;
use crate::trial::{ResponseKind, Trial};

/// Differences that are looked through for the largest.
const LOOKED: usize = 2_000;

/// Works out the tests.
pub(super) fn effects(trial: &Trial, spec: &MeanModelSpec, control: &Control) -> Result<MeanEffects> {
    let model = Modelled::of(trial, spec)?;
    let mut found = tested(&model, control)?;
    let counts = model.of == MeanOf::Stuck && model.gathered.measured.response.kind == ResponseKind::Count;
    if model.of == MeanOf::Stuck {
        let rooted = MeanModelSpec { mean_of: Some(MeanOf::Rooted), ..spec.clone() };
        let other = Modelled::of(trial, &rooted).and_then(|model| tested(&model, control));
        let parts = takes(trial, spec, control)?;
        for effect in &mut found {
            let own = |all: &[MeanEffect]| all.iter().find(|one| one.effect == effect.effect).and_then(|one| one.p);
            effect.of_rooted_p = other.as_ref().ok().filter(|_| counts).and_then(|all| own(all));
            effect.take_p = parts.iter().find(|(name, _)| *name == effect.effect).and_then(|(_, p)| *p);
        }
    }
    let held = model.held(|_| true);
    Ok(MeanEffects {
        model: model.spec.clone(),
        response: model.gathered.measured.response.clone(),
        mean_of: model.of,
        confidence: model.confidence,
        effects: found,
        places: model.beside(),
        n_units: model.trays.len() as u64,
        n_cuttings: held.stuck,
        n_left_out: model.n_left_out,
        primary: model.primary,
    })
}

/// The tests of one kind of mean.
pub(super) fn tested(model: &Modelled<'_>, control: &Control) -> Result<Vec<MeanEffect>> {
    let fits = model.fits();
    let mut found = Vec::new();
    for term in &model.grid.terms {
        control.step()?;
        found.push(one(&fits, term, control)?);
    }
    Ok(found)
}

fn one(fits: &Fits<'_>, term: &[usize], control: &Control) -> Result<MeanEffect> {
    let tested = fits.test(term);
    let name = fits.model.grid.name(term);
    let (largest, beyond) = sizes(fits, term, control)?;
    let above = if tested.unit == "tray" { "F".to_owned() } else { format!("F on {}", tested.unit.replace('_', " ")) };
    Ok(MeanEffect {
        effect: name,
        test: if tested.test.is_some() { above } else { "not tested".to_owned() },
        statistic: tested.test.map(|test| test.statistic),
        df: tested.test.map(|test| test.df),
        error_df: tested.test.map(|test| test.error_df),
        p: tested.test.map(|test| fisher_f::sf(test.statistic, test.df, test.error_df)),
        largest_difference: largest,
        not_ruled_out: beyond.filter(|_| tested.test.is_some()),
        unit: tested.unit,
        take_p: None,
        of_rooted_p: None,
        why: tested.why,
    })
}

/// The largest difference that an effect makes, and the furthest limit of any. Interactions of more than two treatments have none.
fn sizes(fits: &Fits<'_>, term: &[usize], control: &Control) -> Result<(Option<f64>, Option<f64>)> {
    let grid = &fits.model.grid;
    let (mut largest, mut beyond) = (None::<f64>, None::<f64>);
    let keep = |most: &mut Option<f64>, value: f64| *most = Some(most.map_or(value, |known| known.max(value)));
    let widths: Vec<usize> = term.iter().map(|at| grid.width(*at)).collect();
    let pairs = |width: usize| (0..width).flat_map(move |a| (a + 1..width).map(move |b| (a, b)));
    let asked: Vec<Vec<(usize, usize)>> = match widths.as_slice() {
        [one] => pairs(*one).map(|pair| vec![pair]).take(LOOKED).collect(),
        [one, other] => pairs(*one).flat_map(|a| pairs(*other).map(move |b| vec![a, b])).take(LOOKED).collect(),
        _ => Vec::new(),
    };
    for pairs in asked {
        control.step()?;
        let weights = between(fits, term, &pairs);
        let Some(value) = fits.value(&weights) else { continue };
        keep(&mut largest, value.abs());
        if let Some(found) = fits.contrast(&weights) {
            let half = student_t::quantile(f64::midpoint(1.0, fits.model.confidence), found.df) * found.variance.sqrt();
            keep(&mut beyond, value.abs() + half);
        }
    }
    Ok((largest, beyond))
}

/// The difference of two levels, or that of two such differences, other treatments alike.
fn between(fits: &Fits<'_>, term: &[usize], pairs: &[(usize, usize)]) -> Vec<f64> {
    let grid = &fits.model.grid;
    let others: usize = (0..grid.factors.len()).filter(|at| !term.contains(at)).map(|at| grid.width(at)).product();
    let weight = |cell: usize| -> f64 {
        let levels = grid.levels(cell);
        let sign = |(at, (first, second)): (&usize, &(usize, usize))| match levels.get(*at) {
            Some(level) if level == second => 1.0,
            Some(level) if level == first => -1.0,
            _ => 0.0,
        };
        term.iter().zip(pairs).map(sign).product::<f64>() / others.max(1) as f64
    };
    (0..grid.len()).map(weight).collect()
}

/// P values of the same effects on the share that rooted.
fn takes(trial: &Trial, spec: &MeanModelSpec, control: &Control) -> Result<Vec<(String, Option<f64>)>> {
    let asked = ModelSpec {
        effects: spec.effects.clone(),
        interactions: spec.interactions.clone(),
        confidence: spec.confidence,
        ..ModelSpec::default()
    };
    let own = std::sync::Arc::new(Control::new());
    control.step()?;
    match trial.model(&asked, &own).and_then(|model| model.what_matters(None)) {
        Ok(found) => Ok(found.numbers.effects.into_iter().map(|one| (one.effect, one.p)).collect()),
        Err(stopped @ crate::Error::Interrupted) => Err(stopped),
        Err(_) => Ok(Vec::new()),
    }
}
