//! Either engine's fit, asked alike.

use crate::control::Control;
use crate::error::Result;
use crate::math::dense::rows::to_rows;
use crate::math::search::Along;
use crate::models::laws::LawRecord;
use crate::models::laws::mixed::{BetaBinomialFit, Hill, Integration, RandomInterceptFit};

/// A fit of either kind.
#[derive(Debug)]
pub(crate) enum Law {
    /// Beta-binomial.
    Beta(Box<BetaBinomialFit>),
    /// Random intercepts.
    Random(Box<RandomInterceptFit>),
}

impl Law {
    pub(crate) fn coef(&self) -> &[f64] {
        match self {
            Self::Beta(fit) => &fit.coef,
            Self::Random(fit) => &fit.coef,
        }
    }

    pub(crate) fn covariance(&self) -> Vec<Vec<f64>> {
        match self {
            Self::Beta(fit) => to_rows(&fit.covariance),
            Self::Random(fit) => to_rows(&fit.covariance),
        }
    }

    /// Covariance with the SDs of random effects, and those SDs. A beta-binomial mean needs no averaging.
    pub(crate) fn joint(&self) -> (Vec<Vec<f64>>, Vec<f64>) {
        match self {
            Self::Beta(fit) => (to_rows(&fit.covariance), Vec::new()),
            Self::Random(fit) => fit.joint(),
        }
    }

    /// Log-likelihood, and the penalised one.
    pub(crate) fn logliks(&self) -> (f64, Option<f64>) {
        match self {
            Self::Beta(fit) => (fit.loglik, fit.penalised_loglik),
            Self::Random(fit) => (fit.loglik, fit.penalised_loglik),
        }
    }

    /// Limits and fall of a combination of the coefficients.
    pub(crate) fn along(&self, direction: &[f64], cutoff: f64, control: &Control) -> Result<Along> {
        let found = match self {
            Self::Beta(fit) => fit.along(direction, cutoff, control),
            Self::Random(fit) => fit.along(direction, cutoff, control),
        };
        Ok(found?.unwrap_or(Along { low: 0.0, high: 0.0, fall: 0.0 }))
    }

    /// The log-likelihood as a function.
    pub(crate) fn hill(&self) -> Hill {
        match self {
            Self::Beta(fit) => fit.hill(),
            Self::Random(fit) => fit.hill(),
        }
    }

    pub(crate) fn fall_without(&self, held: &[usize], control: &Control) -> Result<f64> {
        match self {
            Self::Beta(fit) => fit.fall_without(held, control),
            Self::Random(fit) => fit.fall_without(held, control),
        }
    }

    /// What the search did: steps, whether it settled, and the largest entry of the gradient.
    pub(crate) fn search(&self) -> (u64, bool, f64) {
        match self {
            Self::Beta(fit) => (fit.iterations, fit.converged, fit.gradient_max),
            Self::Random(fit) => {
                let settled = !matches!(fit.integration, Integration::Quadrature { settled: false, .. });
                (fit.iterations, fit.converged && settled, fit.gradient_max)
            }
        }
    }

    /// How the law was fitted.
    pub(crate) fn law_record(&self, layout: Option<String>) -> LawRecord {
        let empty = LawRecord { layout, ..LawRecord::default() };
        match self {
            Self::Beta(_) => empty,
            Self::Random(fit) => match fit.integration {
                Integration::Laplace => LawRecord { integration: Some("Laplace's approximation".to_owned()), ..empty },
                Integration::Quadrature { outer, inner, settled } => LawRecord {
                    integration: Some("adaptive Gauss-Hermite quadrature".to_owned()),
                    nodes: std::iter::once(outer).chain(inner).map(|nodes| nodes as u64).collect(),
                    settled: Some(settled),
                    ..empty
                },
            },
        }
    }
}
