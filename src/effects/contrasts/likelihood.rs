//! The log-likelihood around which contrasts are profiled, with its slope and information.

use crate::effects::resolve::add_square;
use crate::math::cholesky::Cholesky;
use crate::math::linalg::{add_scaled, dot};
use crate::models::{Link, Model, Ready, is_used};

/// A log-likelihood of the parameters.
#[derive(Debug, Clone)]
pub(super) enum Likelihood {
    /// The binomial one of the counts, with Jeffreys' penalty where the model has it.
    Binomial { rows: Vec<Vec<f64>>, rooted: Vec<f64>, stuck: Vec<f64>, link: Link, penalised: bool },
    /// Its quadratic form around the estimates, where trays follow a law of their own: the parameters are then coefficients and
    /// SDs of random effects.
    Quadratic { centre: Vec<f64>, precision: Vec<Vec<f64>> },
}

/// Value, slope and information at one point.
#[derive(Debug, Clone)]
pub(super) struct Local {
    pub(super) value: f64,
    pub(super) score: Vec<f64>,
    pub(super) information: Vec<Vec<f64>>,
}

impl Likelihood {
    /// That of a fitted model, and the estimates. None when the covariance of the estimates is singular.
    pub(super) fn of(model: &Model, ready: &Ready) -> Option<(Self, Vec<f64>)> {
        let centre: Vec<f64> = ready.solution.coef.iter().chain(&ready.deviations).copied().collect();
        if is_used(model) {
            let precision = Cholesky::new(&ready.covariance)?.inverse();
            return Some((Self::Quadratic { centre: centre.clone(), precision }, centre));
        }
        let data = &ready.frame.data;
        let row = |index: usize| ready.design.x.iter().filter_map(|column| column.get(index).copied()).collect();
        let found = Self::Binomial {
            rows: (0..data.stuck.len()).map(row).collect(),
            rooted: data.rooted.clone(),
            stuck: data.stuck.clone(),
            link: model.spec.link,
            penalised: model.penalised,
        };
        Some((found, centre))
    }

    /// The value alone.
    pub(super) fn value(&self, parameters: &[f64]) -> f64 {
        match self {
            Self::Binomial { penalised: true, .. } => self.at(parameters).map_or(f64::NEG_INFINITY, |at| at.value),
            Self::Binomial { rows, rooted, stuck, link, .. } => {
                let counts = rooted.iter().zip(stuck);
                rows.iter().zip(counts).map(|(row, (y, m))| link.at(dot(row, parameters)).kernel(*y, *m)).sum()
            }
            Self::Quadratic { centre, precision } => {
                let off = minus(parameters, centre);
                -0.5 * precision.iter().zip(&off).map(|(row, x)| x * dot(row, &off)).sum::<f64>()
            }
        }
    }

    /// Everything at a point; none where the information is singular.
    pub(super) fn at(&self, parameters: &[f64]) -> Option<Local> {
        let size = parameters.len();
        match self {
            Self::Quadratic { centre, precision } => {
                let off = minus(parameters, centre);
                let score: Vec<f64> = precision.iter().map(|row| -dot(row, &off)).collect();
                Some(Local { value: 0.5 * dot(&score, &off), score, information: precision.clone() })
            }
            Self::Binomial { rows, rooted, stuck, link, penalised } => {
                let mut local = Local { value: 0.0, score: vec![0.0; size], information: vec![vec![0.0; size]; size] };
                let mut points = Vec::with_capacity(rows.len());
                for (row, (y, m)) in rows.iter().zip(rooted.iter().zip(stuck)) {
                    let point = link.at(dot(row, parameters));
                    local.value += point.kernel(*y, *m);
                    add_scaled(&mut local.score, y * point.up - (m - y) * point.down, row);
                    add_square(&mut local.information, m * point.weight(), row);
                    points.push(point);
                }
                if *penalised {
                    let factor = Cholesky::new(&local.information)?;
                    local.value += 0.5 * factor.ln_determinant();
                    for ((row, m), point) in rows.iter().zip(stuck).zip(&points) {
                        let z = factor.forward(row);
                        let leverage = m * point.weight() * dot(&z, &z);
                        add_scaled(&mut local.score, 0.5 * leverage * point.bend, row);
                    }
                }
                Some(local)
            }
        }
    }

    /// True when the second derivatives of what is held may join the information.
    pub(super) fn bends(&self) -> bool {
        matches!(self, Self::Binomial { .. })
    }
}

fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}
