//! What a model of means leaves over, how the spread of units grows with their mean, and what each unit does to the tests.

use super::model::{Fits, Modelled};
use super::numbers::{CheckedUnit, EffectWithout, MeanChecks};
use super::options::MeanModelSpec;
use super::stratum::Stratum;
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::{fisher_f, student_t};
use crate::trial::Trial;

/// Standard deviations from what is expected beyond which a unit is far.
const FAR: f64 = 3.0;
/// Units up to which each is left out in turn.
const MOST: usize = 400;
/// Combinations from which on the growth of the variance is told.
const SEVERAL: usize = 4;

/// Works out the checks, of the trays or of the units that carry all treatments.
pub(super) fn checks(trial: &Trial, spec: &MeanModelSpec, control: &Control) -> Result<MeanChecks> {
    let model = Modelled::of(trial, spec)?;
    let all: Vec<usize> = (0..model.grid.factors.len()).collect();
    let carrier = model.strata.iter().position(|one| one.places == all);
    let at = carrier.unwrap_or_default();
    let fits = model.fits();
    let (stratum, fit) = (model.strata.get(at), fits.fits.get(at).and_then(Option::as_ref));
    let residuals = fit.map(crate::math::regression::UnitMeans::residuals).unwrap_or_default();
    let units: Vec<CheckedUnit> = stratum
        .into_iter()
        .flat_map(|stratum| stratum.labels.iter().zip(&stratum.values.sizes))
        .zip(residuals)
        .map(|((label, size), (mean, expected, residual))| CheckedUnit {
            unit: label.clone(),
            mean,
            expected,
            residual,
            size: *size,
        })
        .collect();
    let growth = stratum.zip(fit).and_then(|(stratum, fit)| growth(stratum, &fit.residuals()));
    let without = without(&fits, at, control)?;
    Ok(MeanChecks {
        model: model.spec.clone(),
        response: model.gathered.measured.response.clone(),
        mean_of: model.of,
        unit: stratum.map_or_else(|| "tray".to_owned(), |one| one.unit.clone()),
        n_far: units.iter().filter(|one| one.residual.is_some_and(|x| x.abs() > FAR)).count() as u64,
        units,
        growth: growth.map(|one| one.0),
        growth_low: growth.map(|one| one.1),
        growth_high: growth.map(|one| one.2),
        without,
        confidence: model.confidence,
        primary: model.primary,
        n_left_out: model.n_left_out,
    })
}

/// The slope of the logarithm of the variance of one value on that of the mean, over combinations of treatments, with limits by t.
fn growth(stratum: &Stratum<'_>, residuals: &[(f64, f64, Option<f64>)]) -> Option<(f64, f64, f64)> {
    let levels = stratum.n_levels();
    let mut points: Vec<(f64, f64, f64)> = Vec::new();
    for level in 0..levels {
        let own = || {
            let units = stratum.values.levels.iter().zip(&stratum.values.sizes).zip(residuals);
            units.filter(move |((at, _), _)| **at == level).map(|((_, size), told)| (*size, *told))
        };
        let (size, total) = own().fold((0.0, 0.0), |(n, sum), (size, (mean, ..))| (n + size, sum + size * mean));
        let units = own().count() as f64;
        let squares: f64 = own().map(|(size, (mean, expected, _))| size * (mean - expected).powi(2)).sum();
        if units > 1.0 && total > 0.0 && squares > 0.0 {
            points.push(((total / size).ln(), (squares / (units - 1.0)).ln(), units - 1.0));
        }
    }
    let n = points.len();
    if n < SEVERAL {
        return None;
    }
    let weight: f64 = points.iter().map(|one| one.2).sum();
    let middle = |of: fn(&(f64, f64, f64)) -> f64| points.iter().map(|one| one.2 * of(one)).sum::<f64>() / weight;
    let (x, y) = (middle(|one| one.0), middle(|one| one.1));
    let spread: f64 = points.iter().map(|one| one.2 * (one.0 - x).powi(2)).sum();
    if spread <= 1e-12 {
        return None;
    }
    let slope = points.iter().map(|one| one.2 * (one.0 - x) * (one.1 - y)).sum::<f64>() / spread;
    let left: f64 = points.iter().map(|one| one.2 * (one.1 - y - slope * (one.0 - x)).powi(2)).sum();
    let df = n as f64 - 2.0;
    let half = student_t::quantile(0.975, df) * (left / df / spread).sqrt();
    Some((slope, slope - half, slope + half))
}

/// The tests of a stratum with each of its units left out in turn.
fn without(fits: &Fits<'_>, at: usize, control: &Control) -> Result<Vec<EffectWithout>> {
    let model = fits.model;
    let Some(stratum) = model.strata.get(at).filter(|one| one.labels.len() <= MOST) else { return Ok(Vec::new()) };
    let p = |fits: &Fits<'_>, term: &[usize]| {
        let test = fits.test(term).test?;
        Some(fisher_f::sf(test.statistic, test.df, test.error_df))
    };
    let terms: Vec<(&Vec<usize>, f64)> = model
        .grid
        .terms
        .iter()
        .filter(|term| term.iter().all(|one| stratum.places.contains(one)))
        .filter_map(|term| Some((term, p(fits, term)?)))
        .collect();
    let mut found: Vec<Option<EffectWithout>> = vec![None; terms.len()];
    for unit in 0..stratum.labels.len() {
        control.step()?;
        let smaller = model.less(at, unit);
        let fits = smaller.fits();
        for ((term, with), slot) in terms.iter().zip(&mut found) {
            let Some(p) = p(&fits, term) else { continue };
            let label = stratum.labels.get(unit).cloned().unwrap_or_default();
            let own = slot.get_or_insert_with(|| EffectWithout {
                effect: model.grid.name(term),
                p: *with,
                smallest_p: p,
                smallest_without: label.clone(),
                largest_p: p,
                largest_without: label.clone(),
            });
            if p < own.smallest_p {
                (own.smallest_p, own.smallest_without) = (p, label.clone());
            }
            if p > own.largest_p {
                (own.largest_p, own.largest_without) = (p, label);
            }
        }
    }
    Ok(found.into_iter().flatten().collect())
}

impl<'a> Modelled<'a> {
    /// The same without one unit of a stratum.
    fn less(&self, at: usize, unit: usize) -> Modelled<'a> {
        let mut strata = self.strata.clone();
        strata.get_mut(at).into_iter().for_each(|one| one.remove(unit));
        Modelled {
            spec: self.spec.clone(),
            gathered: self.gathered,
            of: self.of,
            grid: self.grid.clone(),
            strata,
            confidence: self.confidence,
            primary: self.primary,
            trays: self.trays.clone(),
            n_left_out: self.n_left_out,
            plants_left: self.plants_left,
        }
    }
}
