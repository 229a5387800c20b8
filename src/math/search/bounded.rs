//! Maximisation within a box: scoring steps, damped where they fail, clipped to the box.

use crate::control::Control;
use crate::error::Result;
use crate::math::dense::{dot, solve_rows};

/// A function at one point, with room that searches use again and again.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Point {
    /// Value.
    pub value: f64,
    /// First derivatives.
    pub gradient: Vec<f64>,
    /// Second derivatives, row after row, both triangles; an approximation makes the steps slower, not wrong.
    pub hessian: Vec<f64>,
}

impl Point {
    /// All zero.
    #[must_use]
    pub fn new(size: usize) -> Self {
        Self { value: 0.0, gradient: vec![0.0; size], hessian: vec![0.0; size * size] }
    }

    /// Sets everything to 0.
    pub fn clear(&mut self) {
        self.value = 0.0;
        self.gradient.fill(0.0);
        self.hessian.fill(0.0);
    }

    /// Adds to one second derivative.
    pub fn add(&mut self, row: usize, column: usize, by: f64) {
        let size = self.gradient.len();
        if let Some(entry) = self.hessian.get_mut(row * size + column) {
            *entry += by;
        }
    }

    /// Adds to the second derivative by two different coordinates, in both triangles.
    pub fn add_both(&mut self, row: usize, column: usize, by: f64) {
        self.add(row, column, by);
        self.add(column, row, by);
    }

    /// The rows of second derivatives.
    pub fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.hessian.chunks_exact(self.gradient.len().max(1))
    }

    /// The same to be changed.
    pub fn rows_mut(&mut self) -> impl Iterator<Item = &mut [f64]> {
        self.hessian.chunks_exact_mut(self.gradient.len().max(1))
    }
}

/// A smooth function to be maximised within a box.
pub trait Surface {
    /// Writes value and derivatives at a point; the value is not finite outside the domain.
    fn local(&mut self, at: &[f64], into: &mut Point);
}

/// Where a search within a box ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Top {
    /// The point.
    pub at: Vec<f64>,
    /// Value and derivatives there.
    pub local: Point,
    /// Steps.
    pub iterations: u64,
    /// True unless the search ran out of steps.
    pub converged: bool,
    /// `g' (-H)^-1 g` of the coordinates that could move.
    pub decrement: f64,
}

/// The box and the coordinates that may move.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Lower ends.
    pub low: Vec<f64>,
    /// Upper ends.
    pub high: Vec<f64>,
    /// Coordinates that move; the others stay where they start.
    pub free: Vec<usize>,
}

impl Region {
    /// The point of the box nearest to `at`.
    #[must_use]
    pub fn clip(&self, at: &[f64]) -> Vec<f64> {
        at.iter().zip(self.low.iter().zip(&self.high)).map(|(x, (low, high))| x.max(*low).min(*high)).collect()
    }

    /// Fills `kept` with the free coordinates that are not held at an end of the box by a gradient that points outward.
    fn movable(&self, at: &[f64], gradient: &[f64], kept: &mut Vec<usize>) {
        let held = |j: &usize| -> Option<bool> {
            let (x, g) = (at.get(*j)?, gradient.get(*j)?);
            Some((x <= self.low.get(*j)? && *g <= 0.0) || (x >= self.high.get(*j)? && *g >= 0.0))
        };
        kept.clear();
        kept.extend(self.free.iter().copied().filter(|j| held(j) == Some(false)));
    }
}

const MOST_STEPS: u64 = 400;
const FIRST_DAMPING: f64 = 1e-6;
const MOST_DAMPING: f64 = 1e12;
/// Damping after a step below which its decrement is taken at its word.
const SOUND_DAMPING: f64 = 1e-2;
/// Rises this small beside the value are rounding; after so many of them the search ends.
const ROUNDING: f64 = 1e-14;
const SMALL_RISES: u32 = 4;

/// Maximises `f` from `start` within the region. Ends when the decrement `g' (-H)^-1 g` over the coordinates that can move is
/// below `enough`, or when no step brings a rise beyond rounding; [`Top::converged`] tells the two from running out of steps.
///
/// The matrix of second derivatives may be an approximation that is never positive (expected information): the search is then
/// that of Levenberg and Marquardt.
///
/// # Errors
/// An interruption.
///
/// # References
/// Nocedal and Wright (2006), Numerical Optimization, chapters 10 and 16.
///
/// ```
/// use rootling::control::Control;
/// use rootling::math::search::{Point, Region, Surface, maximise_within};
/// struct Hill;
/// impl Surface for Hill {
///     fn local(&mut self, at: &[f64], into: &mut Point) {
///         into.value = -(at[0] - 3.0).powi(2);
///         into.gradient[0] = -2.0 * (at[0] - 3.0);
///         into.hessian[0] = -2.0;
///     }
/// }
/// let region = Region { low: vec![0.0], high: vec![2.0], free: vec![0] };
/// let top = maximise_within(&mut Hill, &[1.0], &region, 1e-16, &Control::new())?;
/// assert!(top.at[0] == 2.0 && top.converged);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn maximise_within<F: Surface>(
    f: &mut F,
    start: &[f64],
    region: &Region,
    enough: f64,
    control: &Control,
) -> Result<Top> {
    let mut search = Search::new(f, region.clip(start));
    let (mut small, mut decrement) = (0_u32, f64::INFINITY);
    for iterations in 0..MOST_STEPS {
        control.step()?;
        region.movable(&search.at, &search.local.gradient, &mut search.movable);
        if search.movable.is_empty() {
            return Ok(search.ended(iterations, true, 0.0));
        }
        let before = search.local.value;
        let Some(promised) = search.step(f, region) else {
            // No step rises: the top to rounding.
            return Ok(search.ended(iterations, true, decrement));
        };
        // A step that was damped hard says little of how far the top is.
        let sound = search.damping <= SOUND_DAMPING;
        decrement = promised;
        let rise = search.local.value - before;
        small = if rise <= ROUNDING * (1.0 + before.abs()) { small + 1 } else { 0 };
        if (decrement < enough && sound) || small >= SMALL_RISES {
            return Ok(search.ended(iterations, true, decrement));
        }
    }
    Ok(search.ended(MOST_STEPS, false, decrement))
}

/// A search on its way: where it is, and room for the next step.
struct Search {
    at: Vec<f64>,
    local: Point,
    next: Vec<f64>,
    reached: Point,
    movable: Vec<usize>,
    information: Vec<f64>,
    damped: Vec<f64>,
    gradient: Vec<f64>,
    direction: Vec<f64>,
    damping: f64,
}

impl Search {
    fn new<F: Surface>(f: &mut F, at: Vec<f64>) -> Self {
        let size = at.len();
        let mut local = Point::new(size);
        f.local(&at, &mut local);
        Self {
            next: at.clone(),
            reached: Point::new(size),
            movable: Vec::with_capacity(size),
            information: Vec::with_capacity(size * size),
            damped: Vec::with_capacity(size * size),
            gradient: Vec::with_capacity(size),
            direction: Vec::with_capacity(size),
            damping: FIRST_DAMPING,
            at,
            local,
        }
    }

    fn ended(self, iterations: u64, converged: bool, decrement: f64) -> Top {
        Top { at: self.at, local: self.local, iterations, converged, decrement }
    }

    /// Moves to a point that is no lower and tells the decrement; `None` when there is none.
    fn step<F: Surface>(&mut self, f: &mut F, region: &Region) -> Option<f64> {
        let (size, count) = (self.at.len(), self.movable.len());
        self.gradient.clear();
        self.gradient.extend(self.movable.iter().filter_map(|j| self.local.gradient.get(*j)));
        self.information.clear();
        let entries = self.movable.iter().flat_map(|j| self.movable.iter().map(move |k| j * size + k));
        self.information.extend(entries.filter_map(|at| self.local.hessian.get(at)).map(|x| -x));
        let largest = self.information.iter().step_by(count + 1).fold(1e-12_f64, |a, b| a.max(b.abs()));
        while self.damping <= MOST_DAMPING {
            self.damped.clone_from(&self.information);
            for entry in self.damped.iter_mut().step_by(count + 1) {
                *entry += self.damping * entry.abs().max(1e-10 * largest);
            }
            self.direction.clone_from(&self.gradient);
            if solve_rows(&mut self.damped, &mut self.direction) {
                self.next.clone_from(&self.at);
                for (j, by) in self.movable.iter().zip(&self.direction) {
                    let ends = region.low.get(*j).zip(region.high.get(*j));
                    if let (Some(x), Some((low, high))) = (self.next.get_mut(*j), ends) {
                        *x = (*x + by).max(*low).min(*high);
                    }
                }
                f.local(&self.next, &mut self.reached);
                let rises = self.reached.value.is_finite() && self.reached.value >= self.local.value;
                if rises && self.next != self.at {
                    self.damping = (self.damping * 0.1).max(1e-14);
                    std::mem::swap(&mut self.at, &mut self.next);
                    std::mem::swap(&mut self.local, &mut self.reached);
                    return Some(dot(&self.direction, &self.gradient));
                }
            }
            self.damping = (self.damping * 8.0).max(1e-10);
        }
        self.damping = FIRST_DAMPING;
        None
    }
}
