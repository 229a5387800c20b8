//! The fit without the coefficients that a score test asks for, and what its rows bring to the score and its variance.

use super::likelihood::Fit;
use crate::error::Result;
use crate::math::regression::Point;

/// The fit without some coefficients.
pub(super) struct Null {
    /// Weights of the rows in the information.
    pub(super) weights: Vec<f64>,
    /// Slopes of the log-likelihood by the linear predictors.
    pub(super) scores: Vec<f64>,
    /// Cuttings times prior weights.
    pub(super) cuttings: Vec<f64>,
}

impl Null {
    pub(super) fn new(fit: &Fit<'_>, held: &[usize]) -> Result<Self> {
        let plain = Fit { penalised: false, ..*fit };
        // Where next to nothing rooted the plain fit of the rest may not settle; its penalised one does.
        let null = plain.without(held).or_else(|_| Fit { penalised: true, ..*fit }.without(held))?;
        let points: Vec<Point> = null.eta.iter().map(|eta| fit.link.at(*eta)).collect();
        let prior = |row: usize| fit.data.weights.get(row).copied().unwrap_or(1.0);
        let cuttings: Vec<f64> = fit.data.stuck.iter().enumerate().map(|(row, m)| prior(row) * m).collect();
        let off = |(row, (point, (y, m))): (usize, (&Point, (&f64, &f64)))| {
            prior(row) * (y * point.up - (m - y) * point.down)
        };
        let counts = fit.data.rooted.iter().zip(&fit.data.stuck);
        let scores = points.iter().zip(counts).enumerate().map(off).collect();
        let weights = points.iter().zip(&cuttings).map(|(point, m)| m * point.weight()).collect();
        Ok(Self { weights, scores, cuttings })
    }
}

/// By how much the variance of a row of `m` cuttings exceeds the one at its fitted rate, on average: `m / (m - h)` with its leverage.
pub(crate) fn inflation(m: f64, h: f64) -> f64 {
    m / (m - h).max(0.5 * m.min(1.0))
}
