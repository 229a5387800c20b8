//! One shape fitted to one curve's counts: the highest of many starts.

use super::axis::{Axis, Data, On};
use super::likelihood::{Form, Likelihood};
use super::starts::starts;
use crate::control::Control;
use crate::error::Result;
use crate::math::bounded::{Point, Region, Surface, Top, maximise_within};
use crate::math::cholesky::Cholesky;
use crate::math::convergence::Verdict;
use crate::math::linalg::quadratic;

/// Starts that are followed to their top, and how near the tops are approached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Effort {
    pub(super) followed: usize,
    pub(super) enough: f64,
}

/// For the fit that is reported.
pub(super) const FULL: Effort = Effort { followed: 16, enough: 1e-18 };
/// For the same shape in another form, from the fit of a form near to it.
pub(super) const ALONG: Effort = Effort { followed: 4, enough: 1e-18 };
/// For fits to drawn trials, which start near the answer as well.
pub(super) const QUICK: Effort = Effort { followed: 1, enough: 1e-5 };

/// How near all searches come to their tops before the highest are approached as near as asked for.
const ROUGH: f64 = 1e-7;
const POLISHED: usize = 3;
/// Searches that end this near to each other came to one top.
const SAME_TOP: f64 = 1e-5;

/// Grid points that a quick search looks at.
const QUICK_GRID: usize = 24;

/// A fitted shape.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fitted {
    pub(super) form: Form,
    pub(super) theta: Vec<f64>,
    /// Other starts, for searches under a condition.
    pub(super) others: Vec<Vec<f64>>,
    /// On effective counts, without binomial coefficients.
    pub(super) loglik: f64,
    pub(super) region: Region,
    pub(super) iterations: u64,
    pub(super) converged: bool,
    pub(super) decrement: f64,
    /// Starts followed to their top, and how many of them came to the highest.
    pub(super) followed: usize,
    pub(super) agreeing: usize,
    /// Inverse information of the coordinates that are inside their limits; rows and columns of the others are 0.
    pub(super) covariance: Vec<Vec<f64>>,
    /// Coordinates at an end of their range.
    pub(super) at_end: Vec<usize>,
}

/// Fits `form`; `near` is a further start.
pub(super) fn fit(form: Form, data: &Data, near: Option<&[f64]>, effort: Effort, control: &Control) -> Result<Fitted> {
    let region = form.shape.region(&data.axis);
    let mut likelihood = Likelihood { data, form };
    let mut found: Vec<Top> = Vec::new();
    let followed = chosen(&likelihood, &region, near, effort);
    for start in &followed {
        found.push(maximise_within(&mut likelihood, start, &region, effort.enough.max(ROUGH), control)?);
    }
    let others = followed.into_iter().take(2).collect();
    let followed = found.len();
    let highest = found.iter().map(|top| top.local.value).fold(f64::NEG_INFINITY, f64::max);
    let agreeing = found.iter().filter(|top| top.local.value > highest - SAME_TOP).count();
    found.sort_by(|a, b| b.local.value.total_cmp(&a.local.value));
    let mut iterations = found.iter().map(|top| top.iterations).sum();
    if effort.enough < ROUGH {
        for top in found.iter_mut().take(POLISHED) {
            let start = std::mem::take(&mut top.at);
            *top = maximise_within(&mut likelihood, &start, &region, effort.enough, control)?;
            iterations += top.iterations;
        }
    }
    let top = found.into_iter().take(POLISHED).fold(None::<Top>, |best, top| match best {
        Some(best) if best.local.value >= top.local.value => Some(best),
        _ => Some(top),
    });
    let Some(top) = top else {
        return Err(crate::error::NumericError::NotConverged { routine: "the fit of a curve", iterations: 0 }.into());
    };
    let at_end = ends(&region, &top.at);
    let covariance = inverse(&top.local, &region, &at_end);
    Ok(Fitted {
        form,
        loglik: top.local.value,
        theta: top.at,
        others,
        region,
        iterations,
        converged: top.converged,
        decrement: top.decrement,
        followed,
        agreeing,
        covariance,
        at_end,
    })
}

/// The starts to follow: the given one, the highest of each place of the grid of starts, and the highest of what is left.
fn chosen(likelihood: &Likelihood<'_>, region: &Region, near: Option<&[f64]>, effort: Effort) -> Vec<Vec<f64>> {
    if let (Some(near), None) = (near, likelihood.form.shape.location()) {
        // A likelihood with one top needs one start.
        return vec![near.to_vec()];
    }
    let grid = starts(likelihood.form, likelihood.data);
    let stride = if effort == FULL { 1 } else { grid.len().div_ceil(QUICK_GRID) };
    let mut valued: Vec<(f64, Vec<f64>)> = grid
        .into_iter()
        .step_by(stride)
        .map(|start| region.clip(&start))
        .map(|start| (likelihood.loglik(&start), start))
        .collect();
    valued.sort_by(|a, b| b.0.total_cmp(&a.0));
    let location = likelihood.form.shape.location().map(|(j, _)| j);
    let (mut kept, mut places, mut rest) = (Vec::new(), Vec::new(), Vec::new());
    for (_, start) in valued {
        let place = location.and_then(|j| start.get(j)).map_or(0, |x| x.to_bits());
        if places.contains(&place) {
            rest.push(start);
        } else {
            places.push(place);
            kept.push(start);
        }
    }
    kept.truncate(effort.followed);
    kept.extend(rest.into_iter().take(effort.followed / 2));
    near.map(<[f64]>::to_vec).into_iter().chain(kept).collect()
}

fn ends(region: &Region, at: &[f64]) -> Vec<usize> {
    let near = |j: &usize| {
        let (x, low, high) = (at.get(*j)?, region.low.get(*j)?, region.high.get(*j)?);
        Some((x - low).min(high - x) < 1e-7 * (high - low))
    };
    region.free.iter().copied().filter(|j| near(j) == Some(true)).collect()
}

fn inverse(local: &Point, region: &Region, at_end: &[usize]) -> Vec<Vec<f64>> {
    let size = local.gradient.len();
    let inside: Vec<usize> = region.free.iter().copied().filter(|j| !at_end.contains(j)).collect();
    let pick = |row: &[f64]| -> Vec<f64> { inside.iter().filter_map(|j| row.get(*j)).map(|x| -x).collect() };
    let mut information: Vec<Vec<f64>> = inside.iter().filter_map(|j| local.rows().nth(*j)).map(pick).collect();
    let mut covariance = vec![vec![0.0; size]; size];
    for (i, row) in information.iter_mut().enumerate() {
        if let Some(entry) = row.get_mut(i) {
            *entry *= 1.0 + 1e-12;
        }
    }
    if let Some(factor) = Cholesky::new(&information) {
        for (row, j) in factor.inverse().iter().zip(&inside) {
            for (value, k) in row.iter().zip(&inside) {
                if let Some(entry) = covariance.get_mut(*j).and_then(|row| row.get_mut(*k)) {
                    *entry = *value;
                }
            }
        }
    }
    covariance
}

impl Fitted {
    /// The coordinates with the place of a top moved to another axis.
    pub(super) fn on_axis(&self, on: On, axis: &Axis) -> Vec<f64> {
        let mut theta = self.theta.clone();
        if let Some((j, true)) = self.form.shape.location()
            && let Some(at) = theta.get_mut(j)
        {
            *at = axis.place(axis.strength_on(self.form.on, *at)).on(on);
        }
        theta
    }

    /// The rate at a strength.
    pub(super) fn rate(&self, data: &Data, strength: f64) -> f64 {
        self.form.at(&self.theta, data.axis.place(strength)).mean
    }

    /// Standard error of a function of the coordinates with these slopes.
    pub(super) fn std_error(&self, slopes: &[f64]) -> f64 {
        quadratic(&self.covariance, slopes).max(0.0).sqrt()
    }

    /// Value and gradient of the log-likelihood at the fit, for checks.
    pub(super) fn gradient_max(&self, data: &Data) -> f64 {
        let mut local = Point::new(self.theta.len());
        Likelihood { data, form: self.form }.local(&self.theta, &mut local);
        let inside = self.region.free.iter().filter(|j| !self.at_end.contains(j));
        inside.filter_map(|j| local.gradient.get(*j)).fold(0.0_f64, |a, b| a.max(b.abs()))
    }

    /// Plain verdict and why.
    pub(super) fn verdict(&self) -> (Verdict, Option<String>) {
        if !self.converged {
            return (Verdict::NotFitted, Some("the search for the largest likelihood did not settle".to_owned()));
        }
        let floors = |j: &usize| matches!(*j, 0 | 1) && (self.form.shape.rises() || self.form.shape.is_hormetic());
        if self.at_end.iter().all(floors) {
            return (Verdict::Fitted, None);
        }
        let why = "the counts leave part of the curve open (a parameter lies at the end of its range)";
        (Verdict::Caution, Some(why.to_owned()))
    }
}
