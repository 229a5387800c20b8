//! Sums of a binomial regression over rows that are levels only.

use super::irls::{AT_THE_EDGE, Kernel, Regression, Sums};
use super::link::Link;
use crate::error::Result;
use crate::math::design::CodedRows;

/// Linear predictors whose parts together stay below this have odds that are numbers, and so has each part.
const FARTHEST: f64 = 300.0;

impl Regression<'_> {
    /// The sums over rows whose entries are all 1.
    pub(super) fn coded(&self, rows: &CodedRows, coef: &[f64], kernel: Kernel) -> Result<Sums> {
        self.control.step()?;
        if kernel == Kernel::Later && self.has_odds(coef) {
            return Ok(self.by_odds(rows, coef));
        }
        let (mut value, mut edge) = (0.0, false);
        let found = rows.sums(
            &rows.places(coef),
            |a, b| a + b,
            |at, along| {
                let eta = along + self.offset.get(at).copied().unwrap_or(0.0);
                let Some((kernel, w, u, near)) = self.terms(at, eta, kernel) else { return (0.0, 0.0) };
                value += kernel;
                edge |= near;
                (w, u)
            },
        );
        Ok(Sums { kernel: value, score: found.score, products: found.products, edge })
    }

    /// Is a row's part of the fit that of its odds, and are these numbers?
    pub(super) fn has_odds(&self, coef: &[f64]) -> bool {
        let plain = self.link == Link::Logit && self.offset.is_empty() && self.weights.is_empty();
        plain && self.columns.longest_parts(coef) <= FARTHEST
    }

    /// The same for a logit: the odds of a row are the product of those of its columns, so no row needs an exponential.
    fn by_odds(&self, rows: &CodedRows, coef: &[f64]) -> Sums {
        let mut edge = false;
        let found = rows.sums(
            &rows.places(coef).map(f64::exp),
            |a, b| a * b,
            |at, odds| {
                let (Some(y), Some(m)) = (self.rooted.get(at), self.stuck.get(at)) else { return (0.0, 0.0) };
                let rest = 1.0 / (1.0 + odds);
                let mean = odds * rest;
                if mean.min(rest) < AT_THE_EDGE {
                    edge |= (y == m && rest < AT_THE_EDGE) || (*y == 0.0 && mean < AT_THE_EDGE);
                }
                (m * mean * rest, y * rest - (m - y) * mean)
            },
        );
        Sums { kernel: 0.0, score: found.score, products: found.products, edge }
    }
}
