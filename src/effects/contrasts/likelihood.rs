//! The log-likelihood around which contrasts are judged, with its slope and information.

use std::sync::Arc;

use crate::math::dense::{Cholesky, NormalMatrix, dot};
use crate::math::design::{Entries, add_entries, along};
use crate::math::sparse::Layout;
use crate::models::{Hill, Link, Model, Ready};

/// One row of the data: its design, the fixed part of its linear predictor and its counts, times its prior weight.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) x: Entries,
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
        self.offset + along(&self.x, parameters)
    }
}

/// A log-likelihood of the parameters.
#[derive(Debug, Clone)]
pub(super) enum Likelihood {
    /// The binomial one of the counts, with Jeffreys' penalty where the model has it.
    Binomial { rows: Vec<Row>, layout: Option<Arc<Layout>>, link: Link, penalised: bool },
    /// That of a law of the trays: the parameters are then coefficients and spreads of the law.
    Law(Box<Hill>),
    /// The quadratic form of estimates with their covariance, where that is robust or no fit of a law is found: coefficients and SDs of random
    /// effects.
    Quadratic { centre: Vec<f64>, precision: Vec<Vec<f64>> },
}

/// Value, slope and information at one point; under a law the latter is the observed one, which may bend upwards far from the top.
#[derive(Debug, Clone)]
pub(super) struct Local {
    pub(super) value: f64,
    pub(super) score: Vec<f64>,
    pub(super) information: NormalMatrix,
}

impl Likelihood {
    /// That of the counts of a fitted model.
    pub(super) fn of(model: &Model, ready: &Ready) -> Self {
        let rows = rows(ready);
        let layout = layout(ready, &rows);
        Self::Binomial { rows, layout, link: model.spec.link, penalised: model.penalised }
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
        let layout = layout(ready, &rows);
        let of = |rows| Self::Binomial { rows, layout: layout.clone(), link: model.spec.link, penalised: false };
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
            Self::Law(_) | Self::Quadratic { .. } => Vec::new(),
        }
    }

    /// The value alone.
    pub(super) fn value(&self, parameters: &[f64]) -> f64 {
        match self {
            Self::Binomial { penalised: true, .. } => self.at(parameters).map_or(f64::NEG_INFINITY, |at| at.value),
            Self::Binomial { rows, link, .. } => {
                rows.iter().map(|row| link.at(row.predictor(parameters)).kernel(row.rooted, row.stuck)).sum()
            }
            Self::Law(hill) => hill.value(parameters),
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
            Self::Law(hill) => {
                let local = hill.local(parameters)?;
                let minus: Vec<Vec<f64>> = local.hessian.iter().map(|row| row.iter().map(|x| -x).collect()).collect();
                Some(Local { value: local.value, score: local.gradient, information: NormalMatrix::Full(minus) })
            }
            Self::Quadratic { centre, precision } => {
                let off = minus(parameters, centre);
                let score: Vec<f64> = precision.iter().map(|row| -dot(row, &off)).collect();
                Some(Local {
                    value: 0.5 * dot(&score, &off),
                    score,
                    information: NormalMatrix::Full(precision.clone()),
                })
            }
            Self::Binomial { rows, layout, link, penalised } => {
                let information = NormalMatrix::zero(size, layout.as_ref());
                let mut local = Local { value: 0.0, score: vec![0.0; size], information };
                let mut points = Vec::with_capacity(rows.len());
                for row in rows {
                    let (y, m) = (row.rooted, row.stuck);
                    let point = link.at(row.predictor(parameters));
                    local.value += point.kernel(y, m);
                    add_entries(&mut local.score, y * point.up - (m - y) * point.down, &row.x);
                    local.information.add_square(m * point.weight(), &row.x);
                    points.push(point);
                }
                if *penalised {
                    let factor = local.information.root()?;
                    local.value += 0.5 * factor.ln_determinant();
                    let spreads = factor.spreads(rows.iter().map(|row| row.x.as_slice()));
                    for ((row, point), spread) in rows.iter().zip(&points).zip(spreads) {
                        let leverage = row.stuck * point.weight() * spread;
                        add_entries(&mut local.score, 0.5 * leverage * point.bend, &row.x);
                    }
                }
                Some(local)
            }
        }
    }

    /// True when the second derivatives of what is held may join the information.
    pub(super) fn bends(&self) -> bool {
        !matches!(self, Self::Quadratic { .. })
    }

    /// The largest share of a step that may be taken.
    pub(super) fn share(&self, parameters: &[f64], step: &[f64]) -> f64 {
        if let Self::Law(hill) = self { hill.share(parameters, step) } else { 1.0 }
    }

    /// The same as exact as it must be around a point; none where it is so already.
    pub(super) fn refined(&self, parameters: &[f64]) -> Option<Self> {
        if let Self::Law(hill) = self { hill.refined(parameters).map(|finer| Self::Law(Box::new(finer))) } else { None }
    }

    /// Where a search is to start that was led to a point.
    pub(super) fn start(&self, near: &[f64]) -> Vec<f64> {
        if let Self::Law(hill) = self { hill.lifted(near) } else { near.to_vec() }
    }

    /// Changes below this say nothing, since the value is an approximation.
    pub(super) fn blur(&self) -> f64 {
        if let Self::Law(hill) = self { hill.blur() } else { 0.0 }
    }

    /// How exactly a root is met on the way to a limit, relative to the critical value: integrals of a law are not exact to the last digit.
    pub(super) fn exactness(&self) -> f64 {
        if matches!(self, Self::Law(_)) { 1e-7 } else { 1e-10 }
    }
}

/// The rows of the data, grouped as the model was fitted.
fn rows(ready: &Ready) -> Vec<Row> {
    let data = &ready.frame.data;
    let counts = data.rooted.iter().zip(&data.stuck).enumerate();
    let row = |(index, (rooted, stuck)): (usize, (&f64, &f64))| {
        let weight = data.weights.get(index).copied().unwrap_or(1.0);
        let mut x = Entries::new();
        ready.design.matrix.entries(index, &mut x);
        Row {
            x,
            offset: data.offset.get(index).copied().unwrap_or(0.0),
            rooted: weight * rooted,
            stuck: weight * stuck,
        }
    };
    counts.map(row).collect()
}

/// The pattern of the information, where the design has many columns of which few meet in a row.
fn layout(ready: &Ready, rows: &[Row]) -> Option<Arc<Layout>> {
    NormalMatrix::layout(ready.design.rank(), rows.iter().map(|row| row.x.as_slice()))
}

fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}
