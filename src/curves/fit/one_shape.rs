//! One shape fitted to one curve's counts: the highest of many starts.

use super::climb::climb;
use super::data::Data;
use super::likelihood::Likelihood;
use super::starts::starts;
use crate::control::Control;
use crate::curves::shape::{Axis, Form, On, Shape};
use crate::error::Result;
use crate::math::dense::{Cholesky, quadratic};
use crate::math::search::{Point, Region, Surface, Top, Verdict, maximise_within};

/// Starts that are followed to their top, and how near the tops are approached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Effort {
    pub(crate) followed: usize,
    pub(crate) enough: f64,
}

/// For the fit that is reported.
pub(crate) const FULL: Effort = Effort { followed: 16, enough: 1e-18 };

/// For the same shape in another form, from the fit of a form near to it.
pub(super) const ALONG: Effort = Effort { followed: 4, enough: 1e-18 };

/// For fits to drawn trials, which start near the answer as well.
pub(crate) const QUICK: Effort = Effort { followed: 1, enough: 1e-5 };

/// How near all searches come to their tops before the highest are approached as near as asked for.
const ROUGH: f64 = 1e-7;

const POLISHED: usize = 3;

/// Tops under a law of the trays that are lower by more than this are not the highest, however near they are approached.
const IN_SIGHT: f64 = 0.1;

/// How near the top is approached under a law of the trays.
const ENOUGH_OF_LAW: f64 = 1e-13;

/// Tops on effective counts that are followed further under blocks and laws.
const DISTINCT: usize = 5;

/// Searches that end this near to each other came to one top.
const SAME_TOP: f64 = 1e-5;

/// Grid points that a quick search looks at.
const QUICK_GRID: usize = 24;

/// A fitted shape.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fitted {
    pub(crate) form: Form,
    /// Coordinates of the shape, then those beside it.
    pub(crate) theta: Vec<f64>,
    /// Number of the shape's coordinates.
    own: usize,
    /// Other starts, for searches under a condition.
    pub(crate) others: Vec<Vec<f64>>,
    /// On effective counts or, under a law, of all trays; without binomial coefficients.
    pub(crate) loglik: f64,
    pub(crate) region: Region,
    pub(crate) iterations: u64,
    pub(crate) converged: bool,
    pub(super) decrement: f64,
    /// Starts followed to their top, and how many of them came to the highest.
    pub(crate) followed: usize,
    pub(crate) agreeing: usize,
    /// Inverse information of the coordinates that are inside their limits; rows and columns of the others are 0.
    pub(crate) covariance: Vec<Vec<f64>>,
    /// Coordinates at an end of their range.
    pub(crate) at_end: Vec<usize>,
    /// True where the counts leave some direction of the coordinates open, so that standard errors between strengths tell nothing.
    pub(crate) open: bool,
}

/// A variance this many times as large as it would be with the other coordinates known tells of rounding, not of counts.
const OPEN: f64 = 1e6;

/// Where searches from several starts ended.
struct Found {
    /// By falling value.
    tops: Vec<Top>,
    others: Vec<Vec<f64>>,
    followed: usize,
    agreeing: usize,
    iterations: u64,
}

impl Found {
    fn new(mut tops: Vec<Top>, others: Vec<Vec<f64>>) -> Self {
        let highest = tops.iter().map(|top| top.local.value).fold(f64::NEG_INFINITY, f64::max);
        let agreeing = tops.iter().filter(|top| top.local.value > highest - SAME_TOP).count();
        tops.sort_by(|a, b| b.local.value.total_cmp(&a.local.value));
        let iterations = tops.iter().map(|top| top.iterations).sum();
        Self { followed: tops.len(), agreeing, iterations, tops, others }
    }
}

/// Fits `form`; `near` is a further start.
pub(crate) fn fit(form: Form, data: &Data, near: Option<&[f64]>, effort: Effort, control: &Control) -> Result<Fitted> {
    let mut region = form.shape.region(&data.axis);
    let own = region.low.len();
    let mut found = on_counts(form, data, (near.and_then(|near| near.get(..own)), &region), effort, control)?;
    if let Some(beside) = &data.beside {
        beside.extend(&mut region);
        found = with_beside(form, data, (found, near), (&region, effort), control)?;
    }
    let mut likelihood = Likelihood::of(data, form);
    let spreads = likelihood.spreads(region.low.len());
    if effort.enough < ROUGH {
        let highest = found.tops.first().map_or(f64::NEG_INFINITY, |top| top.local.value);
        let dear = data.beside.as_ref().is_some_and(|beside| beside.has_law());
        let in_sight = |top: &&mut Top| !dear || top.local.value > highest - IN_SIGHT || !top.converged;
        for top in found.tops.iter_mut().take(POLISHED).filter(in_sight) {
            let start = std::mem::take(&mut top.at);
            let enough = likelihood.enough(effort.enough, effort.enough.max(ENOUGH_OF_LAW));
            *top = climb(&mut likelihood, &start, (&region, &spreads), enough, control)?;
            found.iterations += top.iterations;
        }
    }
    let top = found.tops.into_iter().take(POLISHED).fold(None::<Top>, |best, top| match best {
        Some(best) if best.local.value >= top.local.value => Some(best),
        _ => Some(top),
    });
    let Some(mut top) = top else {
        return Err(crate::error::NumericError::NotConverged { routine: "the fit of a curve", iterations: 0 }.into());
    };
    // Laws and blocks make steps dear; their searches begin at tops on counts, which were looked for more widely.
    if effort == FULL && data.beside.is_none() {
        let enough = likelihood.enough(effort.enough, ENOUGH_OF_LAW);
        found.iterations += along_ends(&mut likelihood, &mut top, (&region, &spreads, own), enough, control)?;
    }
    settle_at_zero(&mut likelihood, &mut top, &spreads);
    let at_end = ends(&region, &top.at);
    let observed = data.beside.as_ref().is_some_and(|beside| beside.has_law()) && effort.enough < ROUGH;
    let bent =
        observed.then(|| observed_at(&mut likelihood, &top, &region)).filter(|bent| definite(bent, &region, &at_end));
    let covariance = inverse(bent.as_ref().unwrap_or(&top.local), &region, &at_end);
    let open = is_open(bent.as_ref().unwrap_or(&top.local), &covariance);
    Ok(Fitted {
        form,
        loglik: top.local.value,
        theta: top.at,
        own,
        others: found.others,
        region,
        iterations: found.iterations,
        converged: top.converged,
        decrement: top.decrement,
        followed: found.followed,
        agreeing: found.agreeing,
        open,
        covariance,
        at_end,
    })
}

/// Searches on the effective counts of strengths.
fn on_counts(
    form: Form,
    data: &Data,
    (near, region): (Option<&[f64]>, &Region),
    effort: Effort,
    control: &Control,
) -> Result<Found> {
    let mut likelihood = Likelihood::on_counts(data, form);
    let followed = chosen(&likelihood, region, near, effort);
    let mut tops: Vec<Top> = Vec::with_capacity(followed.len());
    for start in &followed {
        tops.push(maximise_within(&mut likelihood, start, region, effort.enough.max(ROUGH), control)?);
    }
    Ok(Found::new(tops, followed.into_iter().take(2).collect()))
}

/// The highest of the tops on effective counts alone within a box of all coordinates, with what stands beside the shape as in `fitted`: starts
/// for searches with a coordinate held.
pub(super) fn tops_on_counts(
    fitted: &Fitted,
    data: &Data,
    region: &Region,
    control: &Control,
) -> Result<Vec<Vec<f64>>> {
    let first = |ends: &[f64]| ends.get(..fitted.own).unwrap_or_default().to_vec();
    let free = region.free.iter().copied().filter(|j| *j < fitted.own).collect();
    let own = Region { low: first(&region.low), high: first(&region.high), free };
    let mut found: Vec<Vec<f64>> = Vec::new();
    let mut last = f64::INFINITY;
    for top in on_counts(fitted.form, data, (None, &own), FULL, control)?.tops {
        if found.len() < POLISHED && last - top.local.value > SAME_TOP {
            last = top.local.value;
            found.push([top.at, fitted.beside().to_vec()].concat());
        }
    }
    Ok(found)
}

/// Searches of the whole likelihood from the tops on effective counts.
fn with_beside(
    form: Form,
    data: &Data,
    (before, near): (Found, Option<&[f64]>),
    (region, effort): (&Region, Effort),
    control: &Control,
) -> Result<Found> {
    let mut likelihood = Likelihood::of(data, form);
    let spreads = likelihood.spreads(region.low.len());
    let beside = data.beside.as_ref().map_or_else(Vec::new, |beside| beside.start().to_vec());
    let mut starts: Vec<Vec<f64>> = near.map(<[f64]>::to_vec).into_iter().collect();
    let most = if effort.enough < ROUGH { DISTINCT } else { 1 };
    let mut last = f64::INFINITY;
    for top in before.tops {
        // Searches that came to one top are followed once.
        if starts.len() < most + usize::from(near.is_some()) && last - top.local.value > SAME_TOP {
            last = top.local.value;
            starts.push([top.at, beside.clone()].concat());
        }
    }
    let mut tops = Vec::with_capacity(starts.len());
    for start in &starts {
        tops.push(climb(&mut likelihood, start, (region, &spreads), effort.enough.max(ROUGH), control)?);
    }
    let iterations = before.iterations;
    let mut found = Found::new(tops, Vec::new());
    found.others = found.tops.iter().skip(1).take(2).map(|top| top.at.clone()).collect();
    found.iterations += iterations;
    Ok(found)
}

/// A top that touches an end of its range may have a higher one at another end: searches start from each of them as well. Returns the steps.
fn along_ends(
    likelihood: &mut Likelihood<'_>,
    top: &mut Top,
    (region, spreads, own): (&Region, &[usize], usize),
    enough: f64,
    control: &Control,
) -> Result<u64> {
    let (touched, mut steps) = (ends(region, &top.at), 0);
    if touched.iter().all(|j| *j >= own) {
        return Ok(steps);
    }
    let home = top.at.clone();
    for j in region.free.iter().copied().filter(|j| *j < own) {
        for end in [region.low.get(j), region.high.get(j)].into_iter().flatten() {
            let mut start = home.clone();
            if let Some(entry) = start.get_mut(j).filter(|x| **x != *end) {
                *entry = *end;
            } else {
                continue;
            }
            let mut found = climb(likelihood, &start, (region, spreads), ROUGH, control)?;
            steps += found.iterations;
            if found.local.value > top.local.value + ROUGH {
                found = climb(likelihood, &found.at, (region, spreads), enough, control)?;
                steps += found.iterations;
                *top = found;
            }
        }
    }
    Ok(steps)
}

/// Spreads that came to 0 but for rounding are 0.
fn settle_at_zero(likelihood: &mut Likelihood<'_>, top: &mut Top, spreads: &[usize]) {
    const AS_ZERO: f64 = 1e-4;
    let mut at = top.at.clone();
    for (j, s) in at.iter_mut().enumerate() {
        if spreads.contains(&j) && *s < AS_ZERO {
            *s = 0.0;
        }
    }
    if at == top.at {
        return;
    }
    let mut local = Point::new(at.len());
    likelihood.local(&at, &mut local);
    if local.value >= top.local.value - 1e-9 * (1.0 + top.local.value.abs()) {
        (top.at, top.local) = (at, local);
    }
}

/// Observed second derivatives, by differences of the gradient.
fn observed_at(likelihood: &mut Likelihood<'_>, top: &Top, region: &Region) -> Point {
    let size = top.at.len();
    let mut bent = top.local.clone();
    let (mut up, mut down) = (Point::new(size), Point::new(size));
    for j in 0..size {
        let (Some(x), Some(low), Some(high)) = (top.at.get(j), region.low.get(j), region.high.get(j)) else { continue };
        let step = (1e-5 * (high - low)).min(0.5 * (x - low).min(high - x));
        if step <= 0.0 {
            continue;
        }
        let moved = |by: f64| {
            let mut at = top.at.clone();
            if let Some(entry) = at.get_mut(j) {
                *entry += by;
            }
            at
        };
        likelihood.local(&moved(step), &mut up);
        likelihood.local(&moved(-step), &mut down);
        let slopes = up.gradient.iter().zip(&down.gradient).map(|(a, b)| (a - b) / (2.0 * step));
        for (entry, slope) in bent.hessian.iter_mut().skip(j * size).zip(slopes) {
            *entry = slope;
        }
    }
    // Differences of one side and the other agree to rounding: their mean is symmetric.
    for j in 0..size {
        for k in 0..j {
            let both = [(j, k), (k, j)].map(|(a, b)| bent.hessian.get(a * size + b).copied().unwrap_or(0.0));
            let mean = f64::midpoint(both[0], both[1]);
            bent.add(j, k, mean - both[0]);
            bent.add(k, j, mean - both[1]);
        }
    }
    bent
}

/// Can the information of the coordinates inside their limits be inverted?
fn definite(bent: &Point, region: &Region, at_end: &[usize]) -> bool {
    let inside: Vec<usize> = region.free.iter().copied().filter(|j| !at_end.contains(j)).collect();
    let pick = |row: &[f64]| -> Vec<f64> { inside.iter().filter_map(|j| row.get(*j)).map(|x| -x).collect() };
    let information: Vec<Vec<f64>> = inside.iter().filter_map(|j| bent.rows().nth(*j)).map(pick).collect();
    Cholesky::new(&information).is_some()
}

/// The starts to follow: the given one, the highest of each place of the grid of starts (of all, where the place is held), and the highest of
/// what is left.
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
    // Where the place is held, starts that differed in nothing else are one.
    valued.dedup_by(|a, b| a == b);
    let location = likelihood.form.shape.location().map(|(j, _)| j).filter(|j| region.free.contains(j));
    let (mut kept, mut places, mut rest) = (Vec::new(), Vec::new(), Vec::new());
    for (_, start) in valued {
        let place = location.and_then(|j| start.get(j)).map(|x| x.to_bits());
        if place.is_some_and(|place| places.contains(&place)) {
            rest.push(start);
        } else {
            places.extend(place);
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

/// True where a coordinate is all but a function of the others.
fn is_open(local: &Point, covariance: &[Vec<f64>]) -> bool {
    let own = local.rows().zip(covariance).enumerate();
    let mut inflated = own.filter_map(|(j, (information, covariance))| Some(-information.get(j)? * covariance.get(j)?));
    inflated.any(|times| times > OPEN)
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
    pub(crate) fn rate(&self, data: &Data, strength: f64) -> f64 {
        data.seen_mean(&self.theta, self.form.at(self.own(), data.axis.place(strength)).mean)
    }

    /// The coordinates of the shape.
    pub(crate) fn own(&self) -> &[f64] {
        self.theta.get(..self.own).unwrap_or_default()
    }

    /// The coordinates beside the shape.
    pub(crate) fn beside(&self) -> &[f64] {
        self.theta.get(self.own..).unwrap_or_default()
    }

    /// The rate at a strength with its slopes by all coordinates.
    pub(crate) fn seen(&self, data: &Data, strength: f64) -> (f64, Vec<f64>) {
        let mut slopes = Vec::with_capacity(self.theta.len());
        let here = self.form.at(self.own(), data.axis.place(strength));
        (data.seen(&self.theta, &here, &mut slopes), slopes)
    }

    /// Standard error of a function of the coordinates with these slopes.
    pub(crate) fn se(&self, slopes: &[f64]) -> f64 {
        quadratic(&self.covariance, slopes).max(0.0).sqrt()
    }

    /// Value and gradient of the log-likelihood at the fit, for checks.
    pub(crate) fn gradient_max(&self, data: &Data) -> f64 {
        let mut local = Point::new(self.theta.len());
        Likelihood::of(data, self.form).local(&self.theta, &mut local);
        let inside = self.region.free.iter().filter(|j| !self.at_end.contains(j));
        inside.filter_map(|j| local.gradient.get(*j)).fold(0.0_f64, |a, b| a.max(b.abs()))
    }

    /// True where a curve that rises or falls one way is as steep as is looked for.
    pub(crate) fn is_steepest(&self) -> bool {
        let steepness = match self.form.shape {
            shape if shape.rises() => &[3][..],
            Shape::Straight => &[0, 1],
            Shape::Falling => &[2],
            _ => return false,
        };
        self.at_end.iter().any(|j| {
            let (at, middle) = (self.theta.get(*j), self.region.low.get(*j).zip(self.region.high.get(*j)));
            let upper = at.zip(middle).is_some_and(|(at, (low, high))| *at > f64::midpoint(*low, *high));
            steepness.contains(j) && (upper || self.form.shape == Shape::Straight)
        })
    }

    /// Plain verdict and why.
    pub(crate) fn verdict(&self) -> (Verdict, Option<String>) {
        if !self.converged {
            return (Verdict::NotFitted, Some("the search for the largest likelihood did not settle".to_owned()));
        }
        let floors = |j: &usize| matches!(*j, 0 | 1) && (self.form.shape.rises() || self.form.shape.is_hormetic());
        // A spread of 0 says that trays differ no more than chance makes them.
        let even = |j: &usize| *j >= self.own && self.theta.get(*j).is_some_and(|s| *s <= 0.0);
        if self.at_end.iter().all(|j| even(j) || (*j < self.own && floors(j))) {
            return (Verdict::Fitted, None);
        }
        let why = "the counts leave part of the curve open (a parameter lies at the end of its range)";
        (Verdict::Caution, Some(why.to_owned()))
    }
}
