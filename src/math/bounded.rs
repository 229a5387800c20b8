//! Maximisation within a box: scoring steps, damped where they fail, clipped to the box.

use super::cholesky::Cholesky;
use super::linalg::dot;
use super::optimize::{Local, Maximum, Objective};
use crate::control::Control;
use crate::error::Result;

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

    /// The free coordinates that are not held at an end of the box by a gradient that points outward.
    fn movable(&self, at: &[f64], gradient: &[f64]) -> Vec<usize> {
        let held = |j: &usize| -> Option<bool> {
            let (x, g) = (at.get(*j)?, gradient.get(*j)?);
            Some((x <= self.low.get(*j)? && *g <= 0.0) || (x >= self.high.get(*j)? && *g >= 0.0))
        };
        self.free.iter().copied().filter(|j| held(j) == Some(false)).collect()
    }
}

const MOST_STEPS: u64 = 400;
const FIRST_DAMPING: f64 = 1e-6;
const MOST_DAMPING: f64 = 1e12;
/// Rises this small beside the value are rounding; after so many of them the search ends.
const ROUNDING: f64 = 1e-14;
const SMALL_RISES: u32 = 4;

/// Maximises `f` from `start` within the region. Ends when the decrement `g' (-H)^-1 g` over the coordinates that can move is
/// below `enough`, or when no step brings a rise beyond rounding; [`Maximum::converged`] tells the two from running out of steps.
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
/// use rootling::math::bounded::{Region, maximise_within};
/// use rootling::math::optimize::{Local, Objective};
/// struct Hill;
/// impl Objective for Hill {
///     fn value(&mut self, at: &[f64]) -> f64 {
///         -(at[0] - 3.0).powi(2)
///     }
///     fn local(&mut self, at: &[f64]) -> Local {
///         Local { value: self.value(at), gradient: vec![-2.0 * (at[0] - 3.0)], hessian: vec![vec![-2.0]] }
///     }
/// }
/// let region = Region { low: vec![0.0], high: vec![2.0], free: vec![0] };
/// let top = maximise_within(&mut Hill, &[1.0], &region, 1e-16, &Control::new())?;
/// assert!(top.at[0] == 2.0 && top.converged);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn maximise_within<F: Objective>(
    f: &mut F,
    start: &[f64],
    region: &Region,
    enough: f64,
    control: &Control,
) -> Result<Maximum> {
    let mut at = region.clip(start);
    let mut local = f.local(&at);
    let (mut damping, mut small, mut decrement) = (FIRST_DAMPING, 0_u32, f64::INFINITY);
    for iterations in 0..MOST_STEPS {
        control.step()?;
        let movable = region.movable(&at, &local.gradient);
        if movable.is_empty() {
            return Ok(Maximum { at, local, iterations, converged: true, decrement: 0.0 });
        }
        let Some((next, reached, promised)) = step(f, &at, &local, region, &movable, &mut damping) else {
            // No step rises: the top to rounding.
            return Ok(Maximum { at, local, iterations, converged: true, decrement });
        };
        decrement = promised;
        let rise = reached.value - local.value;
        small = if rise <= ROUNDING * (1.0 + local.value.abs()) { small + 1 } else { 0 };
        (at, local) = (next, reached);
        if decrement < enough || small >= SMALL_RISES {
            return Ok(Maximum { at, local, iterations, converged: true, decrement });
        }
    }
    Ok(Maximum { at, local, iterations: MOST_STEPS, converged: false, decrement })
}

/// The next point that is no lower, what is there, and the decrement; `None` when there is none.
fn step<F: Objective>(
    f: &mut F,
    at: &[f64],
    local: &Local,
    region: &Region,
    movable: &[usize],
    damping: &mut f64,
) -> Option<(Vec<f64>, Local, f64)> {
    let pick = |values: &[f64]| -> Vec<f64> { movable.iter().filter_map(|j| values.get(*j).copied()).collect() };
    let gradient = pick(&local.gradient);
    let information: Vec<Vec<f64>> = movable
        .iter()
        .filter_map(|j| local.hessian.get(*j))
        .map(|row| pick(row).iter().map(|x| -x).collect())
        .collect();
    let diagonal: Vec<f64> = information.iter().enumerate().filter_map(|(i, row)| row.get(i).copied()).collect();
    let largest = diagonal.iter().fold(1e-12_f64, |a, b| a.max(b.abs()));
    while *damping <= MOST_DAMPING {
        let mut damped = information.clone();
        for (i, (row, d)) in damped.iter_mut().zip(&diagonal).enumerate() {
            if let Some(entry) = row.get_mut(i) {
                *entry += *damping * d.abs().max(1e-10 * largest);
            }
        }
        if let Some(factor) = Cholesky::new(&damped) {
            let direction = factor.solve(&gradient);
            let mut next = at.to_vec();
            for (j, move_by) in movable.iter().zip(&direction) {
                if let Some(x) = next.get_mut(*j) {
                    *x += move_by;
                }
            }
            let next = region.clip(&next);
            let reached = f.local(&next);
            if reached.value.is_finite() && reached.value >= local.value && next != at {
                *damping = (*damping * 0.1).max(1e-14);
                return Some((next, reached, dot(&direction, &gradient)));
            }
        }
        *damping = (*damping * 8.0).max(1e-10);
    }
    *damping = FIRST_DAMPING;
    None
}
