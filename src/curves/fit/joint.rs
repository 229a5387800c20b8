//! Several curves of one form that differ in where they lie, or in height on the log odds.

use super::beside::Rate;
use super::climb::climb;
use super::data::{Data, Level};
use super::likelihood::{add_count, add_pseudo};
use super::one_shape::Fitted;
use crate::control::Control;
use crate::curves::shape::{EDGE, Form, RateAt};
use crate::error::Result;
use crate::math::search::{Point, Region, Surface, Top, brent};
use crate::math::special::{expit, logit};

/// How curves of one form may differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Apart {
    /// In the place of the shape; where it has none, in all its coordinates.
    Places,
    /// In height: log odds that add to those of the first at every strength, so that all have one best strength.
    Heights,
}

/// Largest difference of heights, log odds.
const MOST_HEIGHT: f64 = 12.0;

/// The likelihood of all curves: the coordinates of the first, how far each other lies from it, then what stands beside the shape of
/// each.
pub(crate) struct Joint<'a> {
    form: Form,
    apart: Apart,
    data: &'a [Data],
    region: Region,
    /// Number of the shape's coordinates.
    size: usize,
    /// Where the coordinates beside the shape begin, for each curve.
    beside: Vec<usize>,
    spreads: Vec<usize>,
    /// Other starts for searches with a distance held.
    others: Vec<Vec<f64>>,
}

const ENOUGH: f64 = 1e-16;

impl<'a> Joint<'a> {
    pub(crate) fn new((form, apart): (Form, Apart), data: &'a [Data]) -> Option<Self> {
        let axis = &data.first()?.axis;
        let mut region = form.shape.region(axis);
        let size = region.low.len();
        let most = match (apart, form.shape.location()) {
            (Apart::Heights, _) => MOST_HEIGHT,
            (_, Some((_, true))) => 3.0,
            (_, Some((_, false))) => 2.0 * axis.z_span().max(4.0_f64.ln()),
            (_, None) => 50.0,
        };
        for at in 0..data.len() - 1 {
            region.low.push(-most);
            region.high.push(most);
            region.free.push(size + at);
        }
        let (mut firsts, mut spreads) = (Vec::with_capacity(data.len()), Vec::new());
        for one in data {
            let first = region.low.len();
            firsts.push(first);
            if let Some(beside) = &one.beside {
                beside.extend(&mut region);
                spreads.extend(beside.spread_at(first));
            }
        }
        Some(Self { form, apart, data, region, size, beside: firsts, spreads, others: Vec::new() })
    }

    /// The place of a curve's distance from the first (curves from 1) among the coordinates.
    pub(crate) fn distance(&self, curve: usize) -> usize {
        self.size + curve - 1
    }

    fn shift(&self, at: &[f64], curve: usize) -> f64 {
        curve.checked_sub(1).and_then(|k| at.get(self.size + k)).copied().unwrap_or(0.0)
    }

    /// The coordinates of one curve.
    pub(crate) fn own(&self, at: &[f64], curve: usize) -> Vec<f64> {
        let mut theta = at.get(..self.size).unwrap_or_default().to_vec();
        let shift = self.shift(at, curve);
        if self.apart == Apart::Heights {
            return theta;
        }
        match self.form.shape.location() {
            Some((j, _)) => {
                if let Some(place) = theta.get_mut(j) {
                    *place += shift;
                }
            }
            None => theta.iter_mut().for_each(|x| *x += shift),
        }
        theta
    }

    /// Where a curve lies.
    fn place(&self, theta: &[f64]) -> f64 {
        match self.form.shape.location() {
            Some((j, _)) => theta.get(j).copied().unwrap_or(0.0),
            None => theta.iter().sum::<f64>() / theta.len().max(1) as f64,
        }
    }

    /// How far the curves seem to lie from the first, from fits of their own.
    fn distances(&self, fits: &[&Fitted]) -> Vec<f64> {
        let others = self.data.len() - 1;
        if self.apart == Apart::Heights {
            let height = |data: &Data| {
                let (take, stuck) = data.mean_take();
                logit((take * stuck + 0.5) / (stuck + 1.0))
            };
            let home = self.data.first().map_or(0.0, height);
            return self.data.iter().skip(1).map(|data| height(data) - home).collect();
        }
        let home = fits.first().map_or(0.0, |first| self.place(first.own()));
        fits.iter().skip(1).take(others).map(|other| self.place(other.own()) - home).collect()
    }

    /// The log-likelihood of one curve for all, each with its own blocks and spread.
    pub(crate) fn at_one_place(&mut self, fits: &[&Fitted], control: &Control) -> Result<f64> {
        let (beside, mut region) = (self.starts_beside(fits), self.region.clone());
        let held = self.size..self.size + self.data.len() - 1;
        region.free.retain(|j| !held.contains(j));
        let mut best = f64::NEG_INFINITY;
        for fitted in fits {
            let start = [fitted.own().to_vec(), vec![0.0; held.len()], beside.clone()].concat();
            let spreads = self.spreads.clone();
            best = best.max(climb(self, &start, (&region, &spreads), ENOUGH, control)?.local.value);
        }
        Ok(best)
    }

    fn starts_beside(&self, fits: &[&Fitted]) -> Vec<f64> {
        fits.iter().take(self.data.len()).flat_map(|fitted| fitted.beside().to_vec()).collect()
    }

    /// The highest of searches that start with the form of each of `fits` (the curves' own, then one of all together), at the
    /// curves' own places and all at one place.
    pub(crate) fn fit(&mut self, fits: &[&Fitted], control: &Control) -> Result<Option<Top>> {
        let others = self.data.len() - 1;
        let home = fits.first().map_or(0.0, |first| self.place(first.own()));
        let apart = self.distances(fits);
        let (mut found, beside): (Vec<Top>, _) = (Vec::new(), self.starts_beside(fits));
        for fitted in fits {
            let mut moved = fitted.own().to_vec();
            if let Some((j, _)) = self.form.shape.location().filter(|_| self.apart == Apart::Places)
                && let Some(x) = moved.get_mut(j)
            {
                *x = home;
            }
            for (mut start, distances) in [(moved, apart.clone()), (fitted.own().to_vec(), vec![0.0; others])] {
                start.extend(distances);
                start.extend(&beside);
                let (region, spreads) = (self.region.clone(), self.spreads.clone());
                found.push(climb(self, &start, (&region, &spreads), ENOUGH, control)?);
            }
        }
        found.sort_by(|a, b| b.local.value.total_cmp(&a.local.value));
        self.others = found.iter().skip(1).step_by(2).take(3).map(|top| top.at.clone()).collect();
        Ok(found.into_iter().next())
    }

    /// Twice the fall when the distance of a curve (from 1) is held; `near` is the last such fit and becomes this one.
    fn fall(&mut self, top: &Top, near: &mut Vec<f64>, curve: usize, value: f64, control: &Control) -> Result<f64> {
        let (mut region, j, spreads) = (self.region.clone(), self.distance(curve), self.spreads.clone());
        for end in [region.low.get_mut(j), region.high.get_mut(j)].into_iter().flatten() {
            *end = value;
        }
        region.free.retain(|k| *k != j);
        let mut best = f64::NEG_INFINITY;
        for start in [vec![near.clone(), top.at.clone()], self.others.clone()].concat() {
            let held = climb(self, &start, (&region, &spreads), ENOUGH, control)?;
            if held.local.value > best {
                best = held.local.value;
                near.clone_from(&held.at);
            }
        }
        Ok((2.0 * (top.local.value - best)).max(0.0))
    }

    /// Profile limits of the distance of a curve (from 1) from the first; infinite where the likelihood never falls enough.
    pub(crate) fn limits(&mut self, top: &Top, curve: usize, critical: f64, control: &Control) -> Result<(f64, f64)> {
        let j = self.distance(curve);
        let estimate = top.at.get(j).copied().unwrap_or(f64::NAN);
        let ends = [self.region.low.get(j), self.region.high.get(j)].map(|end| end.copied().unwrap_or(f64::NAN));
        let mut found = [f64::NEG_INFINITY, f64::INFINITY];
        for (end, limit) in ends.into_iter().zip(&mut found) {
            let mut start = top.at.clone();
            let (mut near, mut far, mut reached) = (estimate, estimate, false);
            for step in 1..=40 {
                far = estimate + (end - estimate) * (f64::from(step) / 40.0).powi(2);
                if self.fall(top, &mut start, curve, far, control)? >= critical * critical {
                    reached = true;
                    break;
                }
                near = far;
            }
            if !reached {
                continue;
            }
            let mut trouble = None;
            let root = brent(
                |value| match self.fall(top, &mut start, curve, value, control) {
                    Ok(fall) => fall.sqrt() - critical,
                    Err(error) => {
                        trouble = Some(error);
                        f64::NAN
                    }
                },
                near,
                far,
                1e-10,
            );
            if let Some(error) = trouble {
                return Err(error);
            }
            *limit = root.unwrap_or(far);
        }
        Ok((found[0], found[1]))
    }
}

impl Joint<'_> {
    /// The rate of one curve at a strength, with its slopes by the shape's coordinates and by the curve's distance.
    fn rate(&self, (theta, shift): (&[f64], f64), curve: usize, level: &Level) -> Rate {
        let RateAt { mean, slopes: [a, b, c, d] } = self.form.at(theta, level.place);
        if self.apart == Apart::Heights && curve > 0 {
            let p = mean.clamp(EDGE, 1.0 - EDGE);
            let higher = expit(logit(p) + shift);
            let moved = higher * (1.0 - higher);
            let by = moved / (p * (1.0 - p));
            let slopes = [by * a, by * b, by * c, by * d, moved];
            return Rate { mean: higher, slopes, map: [0, 1, 2, 3, self.distance(curve)], used: 5 };
        }
        let moved = match self.form.shape.location() {
            Some((j, _)) => [a, b, c, d].get(j).copied().unwrap_or(0.0),
            None => a + b + c + d,
        };
        // Slopes beyond the coordinates of the shape are 0.
        let slopes = [a, b, c, d, if curve > 0 { moved } else { 0.0 }];
        Rate { mean, slopes, map: [0, 1, 2, 3, self.size + curve.saturating_sub(1)], used: 5 }
    }
}

impl Surface for Joint<'_> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        into.clear();
        for (curve, data) in self.data.iter().enumerate() {
            let own = self.own(at, curve);
            let theta = (own.as_slice(), self.shift(at, curve));
            let Some(beside) = &data.beside else {
                for level in &data.levels {
                    let Rate { mean, slopes, map, .. } = self.rate(theta, curve, level);
                    add_count(level, (mean, &slopes), &map, into);
                }
                continue;
            };
            let first = self.beside.get(curve).copied().unwrap_or_default();
            let empty = Rate { mean: 0.5, slopes: [0.0; 5], map: [0; 5], used: 0 };
            let rate = |level: usize| data.levels.get(level).map_or(empty, |level| self.rate(theta, curve, level));
            beside.add(rate, (at, first), into);
            for level in &data.levels {
                let Rate { mean, slopes, map, .. } = self.rate(theta, curve, level);
                add_pseudo(level, (mean, &slopes), &map, into);
            }
        }
    }
}
