//! The log-likelihood around which contrasts are judged, with its slope and information.

use crate::effects::resolve::add_square;
use crate::math::cholesky::Cholesky;
use crate::math::linalg::{add_scaled, dot};
use crate::models::{Link, Model, Ready};

/// One row of the data: its design, the fixed part of its linear predictor and its counts, times its prior weight.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) x: Vec<f64>,
    offset: f64,
    rooted: f64,
    pub(super) stuck: f64,
}

/// Cuttings added for every one, half of them rooted, where a rate would run to 0 or 1 without end: what it moves is far below what
/// is shown, and rows of which none rooted stay alike.
const EASE: f64 = 1e-7;
/// A linear predictor beyond which a rate runs to its end.
const RUNS_OFF: f64 = 16.0;

impl Row {
    fn predictor(&self, parameters: &[f64]) -> f64 {
        self.offset + dot(&self.x, parameters)
    }
}

/// A log-likelihood of the parameters.
#[derive(Debug, Clone)]
pub(super) enum Likelihood {
    /// The binomial one of the counts, with Jeffreys' penalty where the model has it.
    Binomial { rows: Vec<Row>, link: Link, penalised: bool },
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
    /// That of the counts of a fitted model.
    pub(super) fn of(model: &Model, ready: &Ready) -> Self {
        Self::Binomial { rows: rows(ready), link: model.spec.link, penalised: model.penalised }
    }

    /// The quadratic form of estimates with their covariance; none where that is singular.
    pub(super) fn around(centre: &[f64], covariance: &[Vec<f64>]) -> Option<Self> {
        let precision = Cholesky::new(covariance)?.inverse();
        Some(Self::Quadratic { centre: centre.to_vec(), precision })
    }

    /// The binomial one without a penalty, and the same eased so that every rate stays inside 0 to 1.
    pub(super) fn plain(model: &Model, ready: &Ready) -> (Self, Self) {
        let rows = rows(ready);
        let ease = |row: &Row| Row {
            rooted: row.rooted + 0.5 * EASE * row.stuck,
            stuck: row.stuck * (1.0 + EASE),
            ..row.clone()
        };
        let eased = rows.iter().map(ease).collect();
        let of = |rows| Self::Binomial { rows, link: model.spec.link, penalised: false };
        (of(rows), of(eased))
    }

    /// True when some rate has run to its end.
    pub(super) fn runs_off(&self, parameters: &[f64]) -> bool {
        let Self::Binomial { rows, .. } = self else { return false };
        rows.iter().any(|row| row.predictor(parameters).abs() > RUNS_OFF)
    }

    /// The rows with their weights in the information.
    pub(super) fn weighed(&self, parameters: &[f64]) -> Vec<(f64, &Row)> {
        match self {
            Self::Binomial { rows, link, .. } => {
                rows.iter().map(|row| (row.stuck * link.at(row.predictor(parameters)).weight(), row)).collect()
            }
            Self::Quadratic { .. } => Vec::new(),
        }
    }

    /// The value alone.
    pub(super) fn value(&self, parameters: &[f64]) -> f64 {
        match self {
            Self::Binomial { penalised: true, .. } => self.at(parameters).map_or(f64::NEG_INFINITY, |at| at.value),
            Self::Binomial { rows, link, .. } => {
                rows.iter().map(|row| link.at(row.predictor(parameters)).kernel(row.rooted, row.stuck)).sum()
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
            Self::Binomial { rows, link, penalised } => {
                let mut local = Local { value: 0.0, score: vec![0.0; size], information: vec![vec![0.0; size]; size] };
                let mut points = Vec::with_capacity(rows.len());
                for row in rows {
                    let (y, m) = (row.rooted, row.stuck);
                    let point = link.at(row.predictor(parameters));
                    local.value += point.kernel(y, m);
                    add_scaled(&mut local.score, y * point.up - (m - y) * point.down, &row.x);
                    add_square(&mut local.information, m * point.weight(), &row.x);
                    points.push(point);
                }
                if *penalised {
                    let factor = Cholesky::new(&local.information)?;
                    local.value += 0.5 * factor.ln_determinant();
                    for (row, point) in rows.iter().zip(&points) {
                        let z = factor.forward(&row.x);
                        let leverage = row.stuck * point.weight() * dot(&z, &z);
                        add_scaled(&mut local.score, 0.5 * leverage * point.bend, &row.x);
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

/// The rows of the data, grouped as the model was fitted.
fn rows(ready: &Ready) -> Vec<Row> {
    let (data, columns) = (&ready.frame.data, ready.design.x());
    let counts = data.rooted.iter().zip(&data.stuck).enumerate();
    let row = |(index, (rooted, stuck)): (usize, (&f64, &f64))| {
        let weight = data.weights.get(index).copied().unwrap_or(1.0);
        Row {
            x: columns.iter().filter_map(|column| column.get(index).copied()).collect(),
            offset: data.offset.get(index).copied().unwrap_or(0.0),
            rooted: weight * rooted,
            stuck: weight * stuck,
        }
    };
    counts.map(row).collect()
}

fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}
