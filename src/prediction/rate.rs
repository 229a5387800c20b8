//! The expected rate of one row, with the gradient that gives its standard error.

use serde::{Deserialize, Serialize};

use crate::math::distributions::{normal, student_t};
use crate::math::linalg::{add_scaled, quadratic};
use crate::math::special::{expit, logit};
use crate::models::mixed::marginal_rate;
use crate::models::{Link, Ready, Stratum, Value};

/// Whose rate is given where trays have random effects; other models have only one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RateOf {
    /// The share rooted over all trays (marginal).
    #[default]
    Population,
    /// The rate of a tray whose random effects are 0 (conditional).
    TypicalTray,
}

/// A rate and its derivatives by the coefficients, then by the SDs of random effects.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RowRate {
    pub(super) rate: f64,
    pub(super) gradient: Vec<f64>,
}

impl RowRate {
    pub(super) fn std_error(&self, covariance: &[Vec<f64>], dispersion: f64) -> f64 {
        (quadratic(covariance, &self.gradient) * dispersion).sqrt()
    }

    /// Limits from the logit of the rate, so that they stay between 0 and 1.
    pub(super) fn limits(&self, std_error: f64, quantile: f64) -> (f64, f64) {
        let (centre, half) = (logit(self.rate), quantile * std_error / (self.rate * (1.0 - self.rate)));
        (expit(centre - half), expit(centre + half))
    }
}

/// Combinations of values over which a rate is averaged, and the offset at which it is given; none for the mean offset.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cells {
    pub(super) values: Vec<Vec<Value>>,
    pub(super) offset: Option<f64>,
}

/// The mean rate of cells of values with equal weights; none when a cell cannot be estimated.
pub(super) fn mean_rate(ready: &Ready, link: Link, cells: &Cells, of: RateOf) -> Option<RowRate> {
    let share = 1.0 / cells.values.len() as f64;
    let total = ready.total_deviation();
    let mut out = RowRate { rate: 0.0, gradient: vec![0.0; ready.design.rank() + ready.deviations.len()] };
    for cell in &cells.values {
        let (row, eta) = ready.at_values(cell, cells.offset)?;
        if total > 0.0 && of == RateOf::Population {
            let marginal = marginal_rate(link, eta, total);
            let slopes = row.iter().map(|x| marginal.by_eta * x);
            let tail = ready.deviations.iter().map(|s| marginal.by_deviation * s / total);
            out.rate += share * marginal.rate;
            add_scaled(&mut out.gradient, share, &slopes.chain(tail).collect::<Vec<_>>());
        } else {
            let point = link.at(eta);
            out.rate += share * point.mean;
            add_scaled(&mut out.gradient, share * point.slope(), &row);
        }
    }
    Some(out)
}

/// The two-sided quantile of a stratum: t with its degrees of freedom, or normal.
pub(super) fn quantile(stratum: Stratum, level: f64) -> f64 {
    let p = 0.5 + 0.5 * level;
    stratum.dof.map_or_else(|| normal::quantile(p), |dof| student_t::quantile(p, dof))
}
