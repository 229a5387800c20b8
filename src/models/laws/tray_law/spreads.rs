//! How trays and their groupings spread under a fitted law, with profile limits.

use super::law::Law;
use super::layers::Layer;
use super::trays::Trays;
use crate::error::{Error, NumericError, Result};
use crate::models::errors::Strata;
use crate::models::laws::Spread;
use crate::models::laws::mixed::{BetaBinomialFit, DeviationStatus, RandomInterceptFit, RhoStatus, latent_icc};

/// Correlations or standard deviations with their profile limits.
pub(crate) fn spreads(law: &Law, trays: &Trays<'_>, strata: &Strata, level: f64) -> Result<Vec<Spread>> {
    match law {
        Law::Beta(fit) => (0..fit.rho.len()).map(|g| correlation(fit, g, trays, strata, level)).collect(),
        Law::Random(fit) => (0..fit.deviations.len()).map(|g| deviation(fit, g, trays, strata, level)).collect(),
    }
}

fn correlation(fit: &BetaBinomialFit, g: usize, trays: &Trays<'_>, strata: &Strata, level: f64) -> Result<Spread> {
    let Some(rho) = fit.rho.get(g) else { return Ok(nothing()) };
    let (low, high) = or_open(fit.rho_limits(g, level, trays.control()), 1.0)?;
    let own = trays.icc.as_ref();
    let held = |layer: &Layer| layer.codes.iter().filter(|code| **code == g).count() as u64;
    Ok(Spread {
        level: own.and_then(|layer| layer.labels().into_iter().nth(g)),
        measure: "rho".to_owned(),
        value: rho.value,
        se: rho.se,
        low,
        high: (rho.status != RhoStatus::NotEstimable).then_some(high),
        score: Some(rho.score),
        n_levels: own.map_or(trays.n_trays, held),
        df: strata.tray.df,
        ..nothing()
    })
}

fn deviation(fit: &RandomInterceptFit, g: usize, trays: &Trays<'_>, strata: &Strata, level: f64) -> Result<Spread> {
    let Some(found) = fit.deviations.get(g) else { return Ok(nothing()) };
    let total: f64 = fit.deviations.iter().map(|d| d.value * d.value).sum();
    let (low, high) = or_open(fit.deviation_limits(g, level, trays.control()), f64::INFINITY)?;
    let known = found.status != DeviationStatus::NotEstimable && high.is_finite();
    let layer = g.checked_sub(1).and_then(|at| trays.layers.get(at));
    let error = match layer {
        None => Some(strata.tray),
        Some(layer) => strata.layers.iter().find(|one| one.name == layer.name).and_then(|one| one.error),
    };
    Ok(Spread {
        of: layer.map_or_else(|| "tray".to_owned(), |layer| layer.name.clone()),
        measure: "standard deviation".to_owned(),
        value: found.value,
        se: found.se,
        low,
        high: known.then_some(high),
        latent_icc: Some(latent_icc(fit.link(), found.value * found.value, total)),
        n_levels: layer.map_or(trays.n_trays, |layer| layer.levels as u64),
        df: error.and_then(|error| error.df),
        ..nothing()
    })
}

/// Limits that were not found are the widest there are: a profile that does not settle is no reason to withhold the estimates.
fn or_open(found: Result<(f64, f64)>, most: f64) -> Result<(f64, f64)> {
    match found {
        Err(Error::Numeric(NumericError::NotConverged { .. })) => Ok((0.0, most)),
        other => other,
    }
}

fn nothing() -> Spread {
    Spread {
        of: "tray".to_owned(),
        level: None,
        measure: String::new(),
        value: 0.0,
        se: None,
        low: 0.0,
        high: None,
        latent_icc: None,
        score: None,
        n_levels: 0,
        df: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_that_were_not_found_are_open() {
        let failed = || Err(NumericError::NotConverged { routine: "a search", iterations: 60 }.into());
        assert_eq!(or_open(failed(), 1.0).unwrap(), (0.0, 1.0));
        assert_eq!(or_open(Ok((0.2, 0.7)), 1.0).unwrap(), (0.2, 0.7));
        assert!(or_open(Err(Error::Interrupted), 1.0).is_err());
    }
}
