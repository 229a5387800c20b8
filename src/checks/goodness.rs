//! Goodness of fit of the counts as a whole.

use serde::{Deserialize, Serialize};

use super::residuals::deviance_part;
use super::view::View;
use crate::math::distributions::chi_squared;
use crate::models::{Link, Model};

/// How far the counts lie from a model without tray effects, against chance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GoodnessOfFit {
    /// Sum of squared Pearson residuals.
    pub pearson: f64,
    /// Its P value if counts were binomial.
    pub pearson_p: f64,
    /// Residual deviance.
    pub deviance: f64,
    /// Its P value if counts were binomial.
    pub deviance_p: f64,
    /// Trays (or counts) minus coefficients.
    pub df: f64,
    /// The smallest number of cuttings expected in any cell, rooted or not.
    pub smallest_expected: f64,
}

/// The spread between trays.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Dispersion {
    /// Pearson statistic over its degrees of freedom: 1 where trays differ as chance makes them.
    pub value: f64,
    /// Its degrees of freedom.
    pub df: f64,
    /// What multiplies the binomial variance in this model.
    pub used: f64,
}

/// True when every count is 0 of 1 or 1 of 1.
pub(super) fn single_cuttings(views: &[View]) -> bool {
    views.iter().all(|view| view.stuck <= 1.0)
}

/// Chi-square tests of the binomial law around the expected rates; none for single cuttings, whose deviance says nothing of the fit, and
/// where no degrees of freedom are left.
///
/// # References
/// `McCullagh` and Nelder (1989), sections 4.4.3 and 4.4.5.
pub(super) fn goodness_of_fit(views: &[View], rank: usize, link: Link) -> Option<GoodnessOfFit> {
    let df = views.len().checked_sub(rank).filter(|df| *df > 0)? as f64;
    if single_cuttings(views) {
        return None;
    }
    let pearson: f64 = views.iter().map(squared_pearson).sum();
    let deviance: f64 = views.iter().map(|view| deviance_part(view, link)).sum();
    let expected = |view: &View| view.stuck * view.mean.min(1.0 - view.mean);
    Some(GoodnessOfFit {
        pearson,
        pearson_p: chi_squared::sf(pearson, df),
        deviance,
        deviance_p: chi_squared::sf(deviance, df),
        df,
        smallest_expected: views.iter().map(expected).fold(f64::INFINITY, f64::min),
    })
}

fn squared_pearson(view: &View) -> f64 {
    let variance = view.stuck * view.mean * (1.0 - view.mean) / view.weight;
    if variance > 0.0 { view.off().powi(2) / variance } else { 0.0 }
}

/// The dispersion with its degrees of freedom; those of the trays within whole plots where the model knows them.
pub(super) fn dispersion(model: &Model, views: &[View], rank: usize) -> Option<Dispersion> {
    if single_cuttings(views) {
        return None;
    }
    if let (Some(value), Some(df)) = (model.strata.raw_dispersion, model.strata.tray.df) {
        return Some(Dispersion { value, df, used: model.strata.tray.dispersion });
    }
    let df = views.len().checked_sub(rank).filter(|df| *df > 0)? as f64;
    Some(Dispersion { value: views.iter().map(squared_pearson).sum::<f64>() / df, df, used: 1.0 })
}
