//! Standard errors of what is asked of a fit, each with the stratum that judges it.

use crate::math::dense::{combined, quadratic};
use crate::models::errors::{Layered, Stratum};
use crate::models::kept::Ready;

/// A standard error with the stratum that judges it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spread {
    pub(crate) se: f64,
    /// Its dispersion is in the standard error already.
    pub(crate) error: Stratum,
}

impl Ready {
    /// The error of a combination of the coefficients: that of the stratum, with degrees of freedom of its own where the covariance is
    /// robust; none where they cannot be known.
    pub(crate) fn error_of(&self, combination: &[f64], stratum: Stratum) -> Option<Stratum> {
        match &self.robust {
            None => Some(stratum),
            Some(robust) => robust.df(combination).map(|df| Stratum { dispersion: 1.0, df: Some(df) }),
        }
    }

    /// The standard error of a combination of the coefficients by the delta method, and what it is judged against: the layers it draws
    /// on, its own degrees of freedom where the covariance is robust, the stratum otherwise. None where the latter cannot be known.
    pub(crate) fn spread(&self, gradient: &[f64], stratum: Stratum) -> Option<Spread> {
        crate::control::checkpoint();
        let Some(layered) = &self.layered else {
            let error = self.error_of(gradient, stratum)?;
            return Some(Spread { se: (quadratic(&self.covariance, gradient) * error.dispersion).sqrt(), error });
        };
        Some(self.spread_in(layered, gradient))
    }

    /// The same with the layers given.
    pub(crate) fn spread_in(&self, layered: &Layered, gradient: &[f64]) -> Spread {
        let along = combined(&self.covariance, gradient);
        let judged = layered.judge_beside(quadratic(&self.covariance, gradient), &self.shares(&along));
        let error = Stratum { dispersion: 1.0, df: Some(judged.df) };
        Spread { se: judged.variance.sqrt(), error }
    }

    /// The roots of the rows' parts of a variance if there were trays alone, for the covariance times the slopes of what varies.
    fn shares(&self, along: &[f64]) -> Vec<f64> {
        self.design.matrix.times(along).iter().zip(self.roots.iter()).map(|(x, root)| x * root).collect()
    }

    /// Sums by level, layer by layer, of what [`Ready::spread`] judges, for the covariance times the slopes; they add up as slopes do.
    pub(crate) fn sums_by_layer(&self, along: &[f64]) -> Vec<Vec<f64>> {
        let Some(layered) = &self.layered else { return Vec::new() };
        let rows = self.shares(along);
        (0..layered.shares.len()).map(|layer| layered.by_level(layer, &rows)).collect()
    }

    /// The standard error and its stratum from the variance if there were trays alone and the squares of the sums by level.
    pub(crate) fn spread_of(&self, plain: f64, squares: &[f64], stratum: Stratum) -> Spread {
        let Some(layered) = &self.layered else {
            return Spread { se: (plain * stratum.dispersion).sqrt(), error: stratum };
        };
        let judged = layered.layers.variance(plain, squares);
        Spread { se: judged.variance.sqrt(), error: Stratum { dispersion: 1.0, df: Some(judged.df) } }
    }
}
