//! Fits under a condition: one coordinate held, or a figure of the curve held at a value.

use super::candidates::Member;
use super::climb::{caught_at_zero, climb};
use super::data::Data;
use super::likelihood::Likelihood;
use super::one_shape::{Fitted, tops_on_counts};
use crate::control::Control;
use crate::error::Result;
use crate::math::dense::add_scaled;
use crate::math::search::{Condition, Point, Region, Surface, Top, Until, maximise_along, maximise_within};

const ENOUGH: f64 = 1e-14;

/// The same under a law of the trays, whose steps are dear.
const ENOUGH_OF_LAW: f64 = 1e-10;

/// How far rough searches go.
const ROUGHLY: Until = Until { enough: ROUGH, least: f64::NEG_INFINITY };

/// How near every search comes to its top before the highest is followed further.
const ROUGH: f64 = 1e-5;

/// How much is looked for: the top near those that were found, or the highest of all starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Care {
    Quick,
    Thorough,
    /// As thorough, to learn whether the fall stays within what is allowed: tops beyond that need not be followed.
    Check,
}

/// Fits along a path of conditions: where each ended.
struct Path {
    known: Vec<(f64, Vec<f64>)>,
}

impl Path {
    /// From a fit without conditions that is at `place`; it may be at none.
    fn new(place: f64, fitted: &Fitted) -> Self {
        Self { known: if place.is_finite() { vec![(place, fitted.theta.clone())] } else { Vec::new() } }
    }

    /// The nearest fits on both sides.
    fn sides(&self, place: f64) -> [Option<&(f64, Vec<f64>)>; 2] {
        let below = self.known.iter().filter(|one| one.0 <= place).max_by(|a, b| a.0.total_cmp(&b.0));
        let above = self.known.iter().filter(|one| one.0 >= place).min_by(|a, b| a.0.total_cmp(&b.0));
        [below, above]
    }

    /// Where the line through the nearest fits on both sides puts the coordinates.
    fn at(&self, place: f64) -> Option<Vec<f64>> {
        let ((low, from), (high, to)) = match self.sides(place) {
            [Some(below), Some(above)] => (below, above),
            [one, other] => return one.or(other).map(|one| one.1.clone()),
        };
        let share = if high > low { (place - low) / (high - low) } else { 0.0 };
        Some(from.iter().zip(to).map(|(a, b)| a + share * (b - a)).collect())
    }

    /// Starts for a fit at `place`: between the nearest fits and, where more is looked for, from each of them, since a ridge is lost between.
    fn starts(&self, place: f64, care: Care) -> Vec<Vec<f64>> {
        let mut starts: Vec<Vec<f64>> = self.at(place).into_iter().collect();
        if care != Care::Quick {
            starts.extend(self.sides(place).into_iter().flatten().map(|one| one.1.clone()));
        }
        starts
    }

    fn add(&mut self, place: f64, at: Vec<f64>) {
        self.known.retain(|one| one.0.total_cmp(&place).is_ne());
        self.known.push((place, at));
    }
}

/// A fit with one coordinate held at different values, one after the other.
pub(crate) struct Held<'a> {
    fitted: &'a Fitted,
    likelihood: Likelihood<'a>,
    region: Region,
    j: usize,
    spreads: Vec<usize>,
    path: Path,
}

impl<'a> Held<'a> {
    pub(crate) fn new(fitted: &'a Fitted, data: &'a Data, j: usize) -> Self {
        let mut region = fitted.region.clone();
        region.free.retain(|k| *k != j);
        let likelihood = Likelihood::of(data, fitted.form);
        let spreads = likelihood.spreads(fitted.theta.len());
        let path = Path::new(fitted.theta.get(j).copied().unwrap_or(f64::NAN), fitted);
        Self { fitted, likelihood, region, j, spreads, path }
    }

    /// Twice the fall of the log-likelihood when the coordinate is held at `value`.
    pub(crate) fn fall(&mut self, value: f64, care: Care, control: &Control) -> Result<f64> {
        for end in [self.region.low.get_mut(self.j), self.region.high.get_mut(self.j)].into_iter().flatten() {
            *end = value;
        }
        let near = self.path.starts(value, care);
        let mut best = near.first().unwrap_or(&self.fitted.theta).clone();
        if care != Care::Quick {
            let mut highest = f64::NEG_INFINITY;
            // Far from the fit the highest top may be none that leads there: on counts it is looked for anew.
            let anew = tops_on_counts(self.fitted, self.likelihood.data, &self.region, control)?;
            for start in near.iter().chain([&self.fitted.theta]).chain(&self.fitted.others).chain(&anew) {
                let top = climb(&mut self.likelihood, start, (&self.region, &self.spreads), ROUGH, control)?;
                if top.local.value > highest {
                    (highest, best) = (top.local.value, top.at);
                }
            }
        }
        let enough = self.likelihood.enough(ENOUGH, ENOUGH_OF_LAW);
        let top = climb(&mut self.likelihood, &best, (&self.region, &self.spreads), enough, control)?;
        self.path.add(value, top.at);
        Ok((2.0 * (self.fitted.loglik - top.local.value)).max(0.0))
    }
}

/// A fit under conditions that follow each other.
pub(crate) struct Confined<'a> {
    pub(crate) member: &'a Member,
    pub(crate) data: &'a Data,
    likelihood: Likelihood<'a>,
    spreads: Vec<usize>,
    /// Where the fit itself meets the condition.
    home: f64,
    path: Path,
}

/// How far away from its own place a shape is looked for under a condition, as shares of the tested range.
const ELSEWHERE: [f64; 8] = [-0.4, -0.24, -0.14, -0.07, 0.07, 0.14, 0.24, 0.4];

/// Tops of rough searches with the place held that are released from it, tops that are followed further, and how near to each other two are one.
const RELEASED: usize = 8;

const FOLLOWED: usize = 3;

const SAME_TOP: f64 = 1e-5;

/// Steps from the fit to a place, in which a ridge of the likelihood is followed that no start is near to.
const WALK: u32 = 10;

impl<'a> Confined<'a> {
    /// `place` is where the fit itself meets the condition; it may be nowhere.
    pub(crate) fn new(member: &'a Member, data: &'a Data, place: f64) -> Self {
        let fitted = &member.fitted;
        let likelihood = Likelihood::of(data, fitted.form);
        let spreads = likelihood.spreads(fitted.theta.len());
        Self { member, data, likelihood, spreads, home: place, path: Path::new(place, fitted) }
    }

    /// The same under conditions of another kind, which the fit itself meets nowhere.
    pub(crate) fn otherwise(&self) -> Self {
        Self::new(self.member, self.data, f64::NAN)
    }

    fn fitted(&self) -> &'a Fitted {
        &self.member.fitted
    }

    /// Twice the fall of the log-likelihood under the condition that `make` gives for `place`, within the region that it gives; infinite when it
    /// cannot be met. Beyond `far` a lower bound is enough.
    pub(crate) fn fall<C: Condition>(
        &mut self,
        make: &impl Fn(f64) -> (C, Region),
        (place, far): (f64, f64),
        care: Care,
        control: &Control,
    ) -> Result<f64> {
        let (condition, region) = make(place);
        let mut starts = self.path.starts(place, care);
        match care {
            Care::Quick => starts.extend(std::iter::once(&self.fitted().theta).chain(self.others()).cloned()),
            Care::Thorough => starts.extend(self.far_off(make, (place, f64::INFINITY), control)?),
            Care::Check => starts.extend(self.far_off(make, (place, far), control)?),
        }
        let mut least = (f64::INFINITY, None);
        for afar in [false, true] {
            for start in &starts {
                let way = (&condition, start.as_slice(), &region, far);
                let found = if afar { self.afar(way, control)? } else { self.along(way, control)? };
                if let Some((fall, at)) = found.filter(|found| found.0 < least.0) {
                    least = (fall, Some(at));
                }
                if care == Care::Quick && least.1.is_some() {
                    break;
                }
            }
            if least.1.is_some() {
                break;
            }
        }
        // A search that was given up tells no place.
        let followed = care != Care::Check || least.0 <= far;
        least.1.filter(|_| followed).into_iter().for_each(|at| self.path.add(place, at));
        Ok(least.0.max(0.0))
    }

    /// Starts beside the fit: without a place of its own a shape's likelihood has one top and needs none.
    fn others(&self) -> &[Vec<f64>] {
        if self.fitted().form.shape.location().is_some() { &self.fitted().others } else { &[] }
    }

    /// Starts for searches that must not miss the highest of several tops: the highest that rough searches come to, which under a law of the trays
    /// look at the counts alone. Those that stay beyond a fall of `far` are given up.
    fn far_off<C: Condition>(
        &mut self,
        make: &impl Fn(f64) -> (C, Region),
        (place, far): (f64, f64),
        control: &Control,
    ) -> Result<Vec<Vec<f64>>> {
        let (condition, region) = make(place);
        let mut rough = self.rough();
        // Counts alone are no likelihood that a fall can be held against.
        let least = if rough.is_whole { self.fitted().loglik - 0.5 * far } else { f64::NEG_INFINITY };
        let region = rough.region(region);
        let mut starts: Vec<Vec<f64>> = std::iter::once(&self.fitted().theta).chain(self.others()).cloned().collect();
        starts.extend(self.walked(make, place, control)?);
        let mut held = region.clone();
        held.free.retain(|k| self.fitted().form.shape.location().is_none_or(|(j, _)| *k != j));
        let mut tops = Vec::new();
        for start in self.elsewhere(control)? {
            tops.extend(maximise_along(&mut rough, &condition, start, &held, ROUGHLY, control)?);
        }
        starts.extend(highest(tops, RELEASED));
        let (mut tops, until) = (Vec::new(), Until { least, ..ROUGHLY });
        for start in &starts {
            tops.extend(maximise_along(&mut rough, &condition, start, &region, until, control)?);
        }
        // From where no way along the condition was found the finer search goes on.
        Ok(if tops.is_empty() { starts } else { highest(tops, FOLLOWED) })
    }

    fn rough(&self) -> Rough<'a> {
        if self.data.beside.is_some() {
            let likelihood = Likelihood::on_counts(self.data, self.fitted().form);
            return Rough { likelihood, own: self.fitted().own().len(), is_whole: false };
        }
        Rough { likelihood: self.likelihood, own: self.fitted().theta.len(), is_whole: true }
    }

    /// Fits with the shape's place held elsewhere, roughly. They are the same under every condition.
    fn elsewhere(&self, control: &Control) -> Result<&'a [Vec<f64>]> {
        let member = self.member;
        member.cache.elsewhere(|| self.found_elsewhere(control))
    }

    fn found_elsewhere(&self, control: &Control) -> Result<Vec<Vec<f64>>> {
        let fitted = self.fitted();
        let Some((j, on_x)) = fitted.form.shape.location() else { return Ok(Vec::new()) };
        let mut rough = self.rough();
        let mut region = rough.region(fitted.region.clone());
        region.free.retain(|k| *k != j);
        let range = if on_x { 1.0 } else { self.data.axis.z_span() };
        let mut found = Vec::new();
        for share in ELSEWHERE {
            let mut moved = fitted.theta.clone();
            moved.get_mut(j).into_iter().for_each(|at| *at += share * range);
            // A curve as steep as can be has tops of its own.
            let mut steep = moved.clone();
            let steepness = fitted.form.shape.steepness();
            if let Some((at, most)) = steepness.and_then(|k| steep.get_mut(k).zip(region.high.get(k))) {
                *at = *most;
            }
            let mut tops = Vec::new();
            for start in [moved, steep] {
                let start = fitted.region.clip(&start);
                tops.push(maximise_within(&mut rough, &start, &region, ROUGH, control)?);
            }
            found.extend(highest(tops, 2));
        }
        Ok(found)
    }

    /// Where the fit leads to, roughly, when the condition is moved from its own place to just before this one in small steps.
    fn walked<C: Condition>(
        &self,
        make: &impl Fn(f64) -> (C, Region),
        place: f64,
        control: &Control,
    ) -> Result<Option<Vec<f64>>> {
        if !self.home.is_finite() {
            return Ok(None);
        }
        let (mut rough, mut at) = (self.rough(), self.fitted().theta.clone());
        for step in 1..WALK {
            let (condition, region) = make(self.home + (place - self.home) * f64::from(step) / f64::from(WALK));
            let region = rough.region(region);
            let Some(found) = maximise_along(&mut rough, &condition, &at, &region, ROUGHLY, control)? else {
                return Ok(None);
            };
            at = found.at;
        }
        Ok(Some(at))
    }

    /// The least fall along the condition from one start, and where; none where no way along it was found.
    fn along<C: Condition>(
        &mut self,
        (condition, start, region, far): Way<'_, C>,
        control: &Control,
    ) -> Result<Option<(f64, Vec<f64>)>> {
        let enough = self.likelihood.enough(ENOUGH, ENOUGH_OF_LAW);
        let until = Until { enough, least: self.fitted().loglik - 0.5 * far };
        let mut best = maximise_along(&mut self.likelihood, condition, start, region, until, control)?;
        for _ in 0..2 {
            let lifted = best.as_ref().and_then(|top| caught_at_zero(top, (region, &self.spreads)));
            let Some(lifted) = lifted else { break };
            let again = maximise_along(&mut self.likelihood, condition, &lifted, region, until, control)?;
            match (&best, again) {
                (Some(top), Some(again)) if again.local.value > top.local.value => best = Some(again),
                _ => break,
            }
        }
        Ok(best.map(|top| (2.0 * (self.fitted().loglik - top.local.value), top.at)))
    }

    /// The same from the point that comes nearest to the condition; none where it cannot be met.
    fn afar<C: Condition>(
        &mut self,
        (condition, start, region, far): Way<'_, C>,
        control: &Control,
    ) -> Result<Option<(f64, Vec<f64>)>> {
        let near = maximise_within(&mut Gap(condition, Vec::new()), start, region, NOTHING_LEFT, control)?.at;
        if condition.gap(&near, &mut Vec::new()).abs() >= MISSED {
            return Ok(None);
        }
        let way = (condition, near.as_slice(), region, far);
        match self.along(way, control)? {
            Some(found) => Ok(Some(found)),
            None => augmented(self.fitted(), self.data, way, control),
        }
    }
}

/// The highest of the tops, so many.
fn highest(mut tops: Vec<Top>, count: usize) -> Vec<Vec<f64>> {
    tops.sort_by(|a, b| b.local.value.total_cmp(&a.local.value));
    tops.dedup_by(|a, b| (a.local.value - b.local.value).abs() < SAME_TOP);
    tops.into_iter().take(count).map(|top| top.at).collect()
}

/// What rough searches look at: the likelihood or, under a law of the trays, that of the counts alone, which what stands beside the shape does not
/// move.
struct Rough<'a> {
    likelihood: Likelihood<'a>,
    /// The coordinates that move it.
    own: usize,
    /// True where it is the likelihood itself.
    is_whole: bool,
}

impl Rough<'_> {
    /// The region with what does not move it held.
    fn region(&self, mut region: Region) -> Region {
        region.free.retain(|j| *j < self.own);
        region
    }
}

impl Surface for Rough<'_> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        into.clear();
        self.likelihood.local(at.get(..self.own).unwrap_or(at), into);
    }
}

/// A condition, a start, the region, and the fall beyond which a lower bound is enough.
type Way<'a, C> = (&'a C, &'a [f64], &'a Region, f64);

/// How near a point comes to a condition.
struct Gap<'a, C>(&'a C, Vec<f64>);

/// Gains in the square of a gap that end the search for it.
const NOTHING_LEFT: f64 = 1e-26;

impl<C: Condition> Surface for Gap<'_, C> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        into.clear();
        let gap = self.0.gap(at, &mut self.1);
        into.value = -0.5 * gap * gap;
        add_scaled(&mut into.gradient, -gap, &self.1);
        for (row, slope) in into.rows_mut().zip(&self.1) {
            add_scaled(row, -slope, &self.1);
        }
    }
}

/// The likelihood less what the condition costs: a multiplier and a growing square.
struct Augmented<'a, C> {
    likelihood: Likelihood<'a>,
    condition: &'a C,
    multiplier: f64,
    stiffness: f64,
    slopes: Vec<f64>,
}

impl<C: Condition> Surface for Augmented<'_, C> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        self.likelihood.local(at, into);
        let gap = self.condition.gap(at, &mut self.slopes);
        into.value -= self.multiplier * gap + 0.5 * self.stiffness * gap * gap;
        add_scaled(&mut into.gradient, -(self.multiplier + self.stiffness * gap), &self.slopes);
        for (row, slope) in into.rows_mut().zip(&self.slopes) {
            add_scaled(row, -self.stiffness * slope, &self.slopes);
        }
    }
}

/// Gap at which a condition counts as met, and the most rounds of multipliers.
const MET: f64 = 1e-9;

const ROUNDS: usize = 12;

/// Above this gap a condition cannot be met inside the box.
const MISSED: f64 = 1e-5;

/// Twice the fall of the log-likelihood under the condition, and where, from a start from which no way along the condition was found: a
/// multiplier and a growing square keep the search near it. None when it cannot be met; beyond `far` a lower bound is enough.
///
/// # References
/// Nocedal and Wright (2006), Numerical Optimization, section 17.3 (augmented Lagrangian).
pub(crate) fn augmented<C: Condition>(
    fitted: &Fitted,
    data: &Data,
    (condition, start, region, far): Way<'_, C>,
    control: &Control,
) -> Result<Option<(f64, Vec<f64>)>> {
    let likelihood = Likelihood::of(data, fitted.form);
    let spreads = likelihood.spreads(fitted.theta.len());
    let total: f64 = data.levels.iter().map(|level| level.stuck).sum();
    let enough = likelihood.enough(ENOUGH, ENOUGH_OF_LAW);
    let (stiffness, slopes) = (1e4 * total, Vec::with_capacity(fitted.theta.len()));
    let mut augmented = Augmented { likelihood, condition, multiplier: 0.0, stiffness, slopes };
    let (mut at, mut gap) = (start.to_vec(), f64::INFINITY);
    for round in 0..ROUNDS {
        at = climb(&mut augmented, &at, (region, &spreads), enough, control)?.at;
        let left = condition.gap(&at, &mut Vec::new());
        // Without a multiplier yet, what is lost so far is the least that the condition costs.
        let lost = 2.0 * (fitted.loglik - likelihood.loglik(&at));
        if round == 0 && lost > far {
            return Ok(Some((lost, at)));
        }
        augmented.multiplier += augmented.stiffness * left;
        if left.abs() < MET {
            gap = left;
            break;
        }
        if left.abs() > 0.3 * gap.abs() {
            augmented.stiffness *= 10.0;
        }
        gap = left;
    }
    if gap.abs() < MISSED {
        return Ok(Some((2.0 * (fitted.loglik - likelihood.loglik(&at)), at)));
    }
    Ok(None)
}
