//! Maximisation within a box along a condition `gap = 0`.

use super::bounded::{Point, Region, Surface, Top};
use crate::control::Control;
use crate::error::Result;
use crate::math::dense::{dot, solve_turned};

/// A condition `gap(at) = 0`, with its slopes.
pub trait Condition {
    /// The gap, and its slopes by all coordinates.
    fn gap(&self, at: &[f64], slopes: &mut Vec<f64>) -> f64;
}

const MOST_STEPS: u64 = 200;
/// Steps in which a search comes up to what need be approached, if it does.
const LONG: u64 = 40;
const FIRST_DAMPING: f64 = 1e-6;
const MOST_DAMPING: f64 = 1e8;
/// Damping after a step below which its decrement is taken at its word.
const SOUND_DAMPING: f64 = 1e-2;
/// Gap at which a condition counts as met, steps in which it must be, and halvings of one such step.
const MET: f64 = 1e-13;
const NEARLY_MET: f64 = 1e-11;
const MOST_CORRECTIONS: usize = 40;
const MOST_HALVINGS: usize = 12;
/// Steps raise the value by no more than so many times what is promised.
const REACH: f64 = 20.0;
/// A step that promises more than this share of what the one before did tells that the bends of the condition, or of the function beyond its
/// scoring matrix, matter: they are then taken by differences.
const SLOW: f64 = 0.05;
const FIRST_STEPS: u64 = 4;
/// Length of such a difference, as a share of the width that the function has in a coordinate.
const DIFFERENCE: f64 = 1e-3;
/// What second derivatives across the condition are made of, in units of the largest.
const ACROSS: f64 = 10.0;
/// A search that finds no higher point although a step promises more than this is stuck, not at a top.
const NOTHING: f64 = 1e-7;
/// A coordinate this near to an end of the box is at it.
const AT_END: f64 = 1e-13;
/// Rises this small beside the value are rounding; after so many of them the search ends.
const ROUNDING: f64 = 1e-14;
const SMALL_RISES: u32 = 4;

/// How far a search goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Until {
    /// Decrement below which the top is reached.
    pub enough: f64,
    /// A top below this need not be approached.
    pub least: f64,
}

/// Maximises `f` within the region among the points that meet the condition, from the point near `start` that does. None where no such point
/// is found, or where the condition cannot be moved along.
///
/// Each step is a scoring step along the condition's tangent, damped until the value rises at the point of the condition near its end, to
/// which corrections lead back that cost no evaluation of `f`.
///
/// # Errors
/// An interruption.
///
/// # References
/// Luenberger and Ye (2008), Linear and Nonlinear Programming, chapter 12 (reduced gradients, corrections to the constraint).
///
/// ```
/// use rootling::control::Control;
/// use rootling::math::search::{Condition, Point, Region, Surface, Until, maximise_along};
/// struct Hill;
/// impl Surface for Hill {
///     fn local(&mut self, at: &[f64], into: &mut Point) {
///         into.value = -at[0] * at[0] - at[1] * at[1];
///         into.gradient.copy_from_slice(&[-2.0 * at[0], -2.0 * at[1]]);
///         into.hessian.copy_from_slice(&[-2.0, 0.0, 0.0, -2.0]);
///     }
/// }
/// /// x y = 1
/// struct Hyperbola;
/// impl Condition for Hyperbola {
///     fn gap(&self, at: &[f64], slopes: &mut Vec<f64>) -> f64 {
///         slopes.clear();
///         slopes.extend([at[1], at[0]]);
///         at[0] * at[1] - 1.0
///     }
/// }
/// let region = Region { low: vec![0.0; 2], high: vec![9.0; 2], free: vec![0, 1] };
/// let until = Until { enough: 1e-16, least: f64::NEG_INFINITY };
/// let top = maximise_along(&mut Hill, &Hyperbola, &[3.0, 2.0], &region, until, &Control::new())?.unwrap();
/// approx::assert_relative_eq!(top.at[0], 1.0, epsilon = 0.0, max_relative = 1e-7);
/// approx::assert_relative_eq!(top.local.value, -2.0, epsilon = 0.0, max_relative = 5e-13);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn maximise_along<F: Surface, C: Condition>(
    f: &mut F,
    condition: &C,
    start: &[f64],
    region: &Region,
    until: Until,
    control: &Control,
) -> Result<Option<Top>> {
    let Some(mut search) = Search::new(f, condition, region, start) else { return Ok(None) };
    let (mut small, mut decrement, mut slow) = (0_u32, f64::INFINITY, false);
    for iterations in 0..MOST_STEPS {
        control.step()?;
        let before = search.local.value;
        if slow {
            search.bend(f);
        }
        let last = decrement;
        match search.step(f) {
            // Far below, no step can bring it up again.
            Moved::Stuck(promised) if search.local.value + REACH * promised < until.least => {
                return Ok(Some(search.ended(iterations, true, promised)));
            }
            Moved::Stuck(_) => return Ok(None),
            // No step rises: the top to rounding.
            Moved::Nowhere => return Ok(Some(search.ended(iterations, true, decrement))),
            Moved::By(promised) => decrement = promised,
        }
        let sound = search.damping <= SOUND_DAMPING;
        slow = sound && iterations >= FIRST_STEPS && decrement > SLOW * last;
        let rise = search.local.value - before;
        small = if rise <= ROUNDING * (1.0 + before.abs()) { small + 1 } else { 0 };
        let below = search.local.value + REACH * decrement * (1.0 + search.damping) < until.least
            || (iterations > LONG && search.local.value < until.least);
        if (decrement < until.enough && sound) || below || small >= SMALL_RISES {
            return Ok(Some(search.ended(iterations, true, decrement)));
        }
    }
    Ok(None)
}

enum Moved {
    /// By a step that promised this decrement.
    By(f64),
    Nowhere,
    /// No way along the condition was found, although a step promises this decrement.
    Stuck(f64),
}

struct Search<'a, C> {
    condition: &'a C,
    region: &'a Region,
    at: Vec<f64>,
    local: Point,
    reached: Point,
    /// Slopes of the condition at `at`.
    slopes: Vec<f64>,
    multiplier: f64,
    /// Second derivatives by differences, for the step at hand; empty where the scoring matrix will do.
    bends: Vec<f64>,
    damping: f64,
    room: Room,
}

/// Room that steps use again and again.
#[derive(Default)]
struct Room {
    matrix: Vec<f64>,
    slopes: Vec<f64>,
}

/// A direction along the condition's tangent, and one towards the condition.
struct Directions {
    movable: Vec<usize>,
    along: Vec<f64>,
    across: Vec<f64>,
    multiplier: f64,
    decrement: f64,
}

impl<'a, C: Condition> Search<'a, C> {
    fn new<F: Surface>(f: &mut F, condition: &'a C, region: &'a Region, start: &[f64]) -> Option<Self> {
        let at = region.clip(start);
        let size = at.len();
        let mut local = Point::new(size);
        f.local(&at, &mut local);
        let mut search = Self {
            condition,
            region,
            local,
            reached: Point::new(size),
            slopes: Vec::with_capacity(size),
            multiplier: 0.0,
            bends: Vec::new(),
            damping: FIRST_DAMPING,
            room: Room::default(),
            at,
        };
        let mut next = search.at.clone();
        let met = search.led_back(&mut next, None);
        if !met {
            return None;
        }
        if next != search.at {
            search.at = next;
            f.local(&search.at, &mut search.local);
        }
        search.condition.gap(&search.at, &mut search.slopes);
        let inside: Vec<usize> = region.free.iter().copied().filter(|j| search.end(*j).is_none()).collect();
        search.multiplier = search.solved(&inside).map_or(0.0, |found| found.multiplier);
        search.local.value.is_finite().then_some(search)
    }

    fn ended(self, iterations: u64, converged: bool, decrement: f64) -> Top {
        Top { at: self.at, local: self.local, iterations, converged, decrement }
    }

    /// -1 at the lower end of the box, 1 at the upper.
    fn end(&self, j: usize) -> Option<f64> {
        let x = self.at.get(j)?;
        if x <= self.region.low.get(j)? {
            Some(-1.0)
        } else if x >= self.region.high.get(j)? {
            Some(1.0)
        } else {
            None
        }
    }

    /// Directions over these coordinates.
    fn solved(&mut self, movable: &[usize]) -> Option<Directions> {
        let (size, count) = (self.at.len(), movable.len());
        let pick = |values: &[f64]| movable.iter().filter_map(|j| values.get(*j)).copied().collect::<Vec<f64>>();
        let entries = movable.iter().flat_map(|j| movable.iter().map(move |k| j * size + k));
        let bends = if self.bends.is_empty() { &self.local.hessian } else { &self.bends };
        let mut matrix: Vec<f64> = entries.filter_map(|at| bends.get(at)).map(|x| -x).collect();
        let largest = matrix.iter().step_by(count + 1).fold(1e-12_f64, |a, b| a.max(b.abs()));
        for entry in matrix.iter_mut().step_by(count + 1) {
            *entry += self.damping * entry.abs().max(1e-10 * largest);
        }
        let (gradient, slopes) = (pick(&self.local.gradient), pick(&self.slopes));
        let (mut uphill, mut across) = (gradient.clone(), slopes.clone());
        self.room.matrix.clone_from(&matrix);
        if !solve_turned(&mut self.room.matrix, &mut uphill) || !solve_turned(&mut matrix, &mut across) {
            return None;
        }
        let steep = dot(&slopes, &across);
        if !(steep.is_finite() && steep > 0.0) {
            return None;
        }
        let multiplier = dot(&slopes, &uphill) / steep;
        let along: Vec<f64> = uphill.iter().zip(&across).map(|(up, over)| up - multiplier * over).collect();
        let decrement = dot(&along, &gradient);
        Some(Directions { movable: movable.to_vec(), along, across, multiplier, decrement })
    }

    /// Takes the second derivatives of the function less the multiplier times the gap by differences. A multiple of the product of the slopes is
    /// taken away, which changes no step along the condition and keeps them definite across it.
    fn bend<F: Surface>(&mut self, f: &mut F) {
        let size = self.at.len();
        let mut slopes = std::mem::take(&mut self.room.slopes);
        let mut bends = self.local.hessian.clone();
        for j in self.region.free.iter().copied() {
            let (Some(x), Some(high), Some(own)) =
                (self.at.get(j).copied(), self.region.high.get(j), self.local.hessian.get(j * size + j))
            else {
                continue;
            };
            let length = DIFFERENCE / own.abs().max(1e-6).sqrt();
            let by = if x + length > *high { -length } else { length };
            let mut moved = self.at.clone();
            if let Some(entry) = moved.get_mut(j) {
                *entry += by;
            }
            f.local(&moved, &mut self.reached);
            self.condition.gap(&moved, &mut slopes);
            let there = self.reached.gradient.iter().zip(&slopes).map(|(g, a)| g - self.multiplier * a);
            let here = self.local.gradient.iter().zip(&self.slopes).map(|(g, a)| g - self.multiplier * a);
            for (entry, (there, here)) in bends.iter_mut().skip(j * size).zip(there.zip(here)) {
                *entry = (there - here) / by;
            }
        }
        let steep = dot(&self.slopes, &self.slopes);
        let largest = bends.iter().step_by(size + 1).fold(0.0_f64, |a, b| a.max(b.abs()));
        let mut even = bends.clone();
        for j in 0..size {
            for k in 0..size {
                let both = [j * size + k, k * size + j].map(|at| bends.get(at).copied().unwrap_or(0.0));
                let across = self.slopes.get(j).zip(self.slopes.get(k)).map_or(0.0, |(a, b)| a * b);
                if let Some(entry) = even.get_mut(j * size + k) {
                    *entry = f64::midpoint(both[0], both[1]) - ACROSS * largest * across / steep;
                }
            }
        }
        if even.iter().all(|x| x.is_finite()) {
            self.bends = even;
        }
        self.room.slopes = slopes;
    }

    /// The same over all coordinates that no end of the box holds.
    fn directions(&mut self) -> Option<Directions> {
        let pull = |j: usize| Some(self.local.gradient.get(j)? - self.multiplier * self.slopes.get(j)?);
        let free = |j: &usize| match self.end(*j) {
            Some(side) => side * pull(*j).unwrap_or(0.0) < 0.0,
            None => true,
        };
        let mut movable: Vec<usize> = self.region.free.iter().copied().filter(free).collect();
        loop {
            let found = self.solved(&movable)?;
            let outward = |(j, by): (&usize, &f64)| self.end(*j).is_some_and(|side| side * by > 0.0).then_some(*j);
            let out: Vec<usize> = movable.iter().zip(&found.along).filter_map(outward).collect();
            if out.is_empty() {
                return Some(found);
            }
            movable.retain(|j| !out.contains(j));
        }
    }

    /// Moves a point to the condition, in the metric of the function at hand, over the coordinates of `known` or over all. A coordinate that
    /// meets an end of the box stays there. False where the condition cannot be met.
    fn led_back(&mut self, at: &mut Vec<f64>, known: Option<(&[usize], &[f64])>) -> bool {
        let mut slopes = std::mem::take(&mut self.room.slopes);
        let mut gap = self.condition.gap(at, &mut slopes);
        for _ in 0..MOST_CORRECTIONS {
            if gap.abs() < MET || !gap.is_finite() {
                break;
            }
            let Some(across) = self.across((at, gap), &slopes, known) else { break };
            let steep: f64 = across.iter().filter_map(|(j, by)| Some(slopes.get(*j)? * by)).sum();
            let whole = -gap / steep;
            let room = across.iter().map(|(j, by)| self.room_to_end(at, *j, whole * by)).fold(1.0_f64, f64::min);
            let (mut share, mut nearer) = (whole * room, false);
            for _ in 0..MOST_HALVINGS {
                let mut next = at.clone();
                for (j, by) in &across {
                    if let Some(x) = next.get_mut(*j) {
                        *x += share * by;
                    }
                }
                self.put_at_ends(&mut next, &across);
                let left = self.condition.gap(&next, &mut slopes);
                if left.abs() < gap.abs() {
                    (*at, gap, nearer) = (next, left, true);
                    break;
                }
                share *= 0.5;
            }
            if !nearer {
                break;
            }
        }
        self.room.slopes = slopes;
        gap.abs() < NEARLY_MET
    }

    /// Which coordinates lead to the condition, and how; none where none does.
    fn across(
        &mut self,
        (at, gap): (&[f64], f64),
        slopes: &[f64],
        known: Option<(&[usize], &[f64])>,
    ) -> Option<Vec<(usize, f64)>> {
        let Some((movable, across)) = known else {
            let inward = |j: &usize| slopes.get(*j).is_some_and(|slope| self.room_to_end(at, *j, -gap * slope) > 0.0);
            let movable: Vec<usize> = self.region.free.iter().copied().filter(inward).collect();
            self.slopes.clear();
            self.slopes.extend_from_slice(slopes);
            let found = self.solved(&movable)?;
            return Some(self.inward((at, gap), slopes, &movable, &found.across));
        };
        Some(self.inward((at, gap), slopes, movable, across))
    }

    /// Those of the coordinates that have room.
    fn inward(&self, (at, gap): (&[f64], f64), slopes: &[f64], movable: &[usize], across: &[f64]) -> Vec<(usize, f64)> {
        let mut kept: Vec<(usize, f64)> = movable.iter().copied().zip(across.iter().copied()).collect();
        loop {
            let steep: f64 = kept.iter().filter_map(|(j, by)| Some(slopes.get(*j)? * by)).sum();
            let before = kept.len();
            kept.retain(|(j, by)| self.room_to_end(at, *j, -gap / steep * by) > 0.0);
            if kept.len() == before {
                return kept;
            }
        }
    }

    /// Into the box; what meets an end but for rounding is at it.
    fn put_at_ends(&self, at: &mut Vec<f64>, moved: &[(usize, f64)]) {
        *at = self.region.clip(at);
        for (j, _) in moved {
            let ends = [self.region.low.get(*j), self.region.high.get(*j)];
            for end in ends.into_iter().flatten() {
                if let Some(x) = at.get_mut(*j).filter(|x| (**x - end).abs() < AT_END * (1.0 + end.abs())) {
                    *x = *end;
                }
            }
        }
    }

    /// The share of a step that a coordinate can take before it meets an end of the box; 1 or more where it can take all.
    fn room_to_end(&self, at: &[f64], j: usize, by: f64) -> f64 {
        let (Some(x), Some(low), Some(high)) = (at.get(j), self.region.low.get(j), self.region.high.get(j)) else {
            return 0.0;
        };
        let room = if by > 0.0 { high - x } else { x - low };
        if by == 0.0 { 1.0 } else { (room / by.abs()).max(0.0) }
    }

    /// Moves to a point of the condition that is no lower.
    fn step<F: Surface>(&mut self, f: &mut F) -> Moved {
        let mut promised = f64::INFINITY;
        while self.damping <= MOST_DAMPING {
            let Some(found) = self.directions() else {
                self.damping = (self.damping * 8.0).max(1e-10);
                continue;
            };
            promised = promised.min(found.decrement * (1.0 + self.damping));
            let mut next = self.at.clone();
            for (j, by) in found.movable.iter().zip(&found.along) {
                if let Some(x) = next.get_mut(*j) {
                    *x += by;
                }
            }
            next = self.region.clip(&next);
            // What the step has brought to an end of the box stays there.
            let inside = |j: usize| {
                let ends = self.region.low.get(j).zip(self.region.high.get(j));
                next.get(j).zip(ends).is_some_and(|(x, (low, high))| x > low && x < high)
            };
            let across: Vec<(usize, f64)> = found.movable.iter().copied().zip(found.across.iter().copied()).collect();
            let (movable, across): (Vec<usize>, Vec<f64>) = across.into_iter().filter(|one| inside(one.0)).unzip();
            if self.led_back(&mut next, Some((&movable, &across))) {
                f.local(&next, &mut self.reached);
                let rises = self.reached.value.is_finite() && self.reached.value >= self.local.value;
                if rises && next != self.at {
                    self.damping = (self.damping * 0.1).max(1e-14);
                    self.multiplier = found.multiplier;
                    self.bends.clear();
                    self.at = next;
                    std::mem::swap(&mut self.local, &mut self.reached);
                    self.condition.gap(&self.at, &mut self.slopes);
                    return Moved::By(found.decrement);
                }
            }
            self.damping = (self.damping * 8.0).max(1e-10);
        }
        self.damping = FIRST_DAMPING;
        if promised < NOTHING { Moved::Nowhere } else { Moved::Stuck(promised) }
    }
}
