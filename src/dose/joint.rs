//! Several curves of one form that differ in where they lie.

use super::axis::Data;
use super::curve::RateAt;
use super::fit::Fitted;
use super::likelihood::{Form, add_count};
use crate::control::Control;
use crate::error::Result;
use crate::math::bounded::{Point, Region, Surface, Top, maximise_within};
use crate::math::roots::brent;

/// The likelihood of all curves: the coordinates of the first, then how far each other lies from it.
pub(super) struct Joint<'a> {
    form: Form,
    data: &'a [Data],
    region: Region,
    /// Other starts for searches with a distance held.
    others: Vec<Vec<f64>>,
}

const ENOUGH: f64 = 1e-16;

impl<'a> Joint<'a> {
    pub(super) fn new(form: Form, data: &'a [Data]) -> Option<Self> {
        let axis = &data.first()?.axis;
        let mut region = form.shape.region(axis);
        let size = region.low.len();
        let most = match form.shape.location() {
            Some((_, true)) => 3.0,
            Some((_, false)) => 2.0 * axis.z_span().max(4.0_f64.ln()),
            None => 50.0,
        };
        for at in 0..data.len() - 1 {
            region.low.push(-most);
            region.high.push(most);
            region.free.push(size + at);
        }
        Some(Self { form, data, region, others: Vec::new() })
    }

    fn size(&self) -> usize {
        self.region.low.len() + 1 - self.data.len()
    }

    /// The coordinates of one curve.
    pub(super) fn own(&self, at: &[f64], curve: usize) -> Vec<f64> {
        let mut theta = at.get(..self.size()).unwrap_or_default().to_vec();
        let shift = curve.checked_sub(1).and_then(|k| at.get(self.size() + k)).copied().unwrap_or(0.0);
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

    /// The highest of searches that start with the form of each of `fits` (the curves' own, then one of all together), at the
    /// curves' own places and all at one place.
    pub(super) fn fit(&mut self, fits: &[&Fitted], control: &Control) -> Result<Option<Top>> {
        let others = self.data.len() - 1;
        let home = fits.first().map_or(0.0, |first| self.place(&first.theta));
        let apart: Vec<f64> = fits.iter().skip(1).take(others).map(|other| self.place(&other.theta) - home).collect();
        let mut found: Vec<Top> = Vec::new();
        for fitted in fits {
            let mut moved = fitted.theta.clone();
            if let Some((j, _)) = self.form.shape.location()
                && let Some(x) = moved.get_mut(j)
            {
                *x = home;
            }
            for (mut start, distances) in [(moved, apart.clone()), (fitted.theta.clone(), vec![0.0; others])] {
                start.extend(distances);
                let region = self.region.clone();
                found.push(maximise_within(self, &start, &region, ENOUGH, control)?);
            }
        }
        found.sort_by(|a, b| b.local.value.total_cmp(&a.local.value));
        self.others = found.iter().skip(1).step_by(2).take(3).map(|top| top.at.clone()).collect();
        Ok(found.into_iter().next())
    }

    /// Twice the fall when the distance of a curve (from 1) is held; `near` is the last such fit and becomes this one.
    fn fall(&mut self, top: &Top, near: &mut Vec<f64>, curve: usize, value: f64, control: &Control) -> Result<f64> {
        let (mut region, j) = (self.region.clone(), self.size() + curve - 1);
        for end in [region.low.get_mut(j), region.high.get_mut(j)].into_iter().flatten() {
            *end = value;
        }
        region.free.retain(|k| *k != j);
        let mut best = f64::NEG_INFINITY;
        for start in [vec![near.clone(), top.at.clone()], self.others.clone()].concat() {
            let held = maximise_within(self, &start, &region, ENOUGH, control)?;
            if held.local.value > best {
                best = held.local.value;
                near.clone_from(&held.at);
            }
        }
        Ok((2.0 * (top.local.value - best)).max(0.0))
    }

    /// Profile limits of the distance of a curve (from 1) from the first; infinite where the likelihood never falls enough.
    pub(super) fn limits(&mut self, top: &Top, curve: usize, critical: f64, control: &Control) -> Result<(f64, f64)> {
        let j = self.size() + curve - 1;
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

impl Surface for Joint<'_> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        into.clear();
        let size = self.size();
        for (curve, data) in self.data.iter().enumerate() {
            let theta = self.own(at, curve);
            let map = [0, 1, 2, 3, size + curve.saturating_sub(1)];
            for level in &data.levels {
                let RateAt { mean, slopes: [a, b, c, d] } = self.form.at(&theta, level.place);
                let moved = match self.form.shape.location() {
                    Some((j, _)) => [a, b, c, d].get(j).copied().unwrap_or(0.0),
                    None => a + b + c + d,
                };
                // Slopes beyond the coordinates of the shape are 0.
                let slopes = [a, b, c, d, if curve > 0 { moved } else { 0.0 }];
                add_count(level, (mean, &slopes), &map, into);
            }
        }
    }
}
