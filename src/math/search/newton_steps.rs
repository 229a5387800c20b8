//! Maximisation of smooth functions of many coordinates: Newton steps with halving.

use super::convergence::{DECREMENT, STALLED_DECREMENT};
use crate::control::{Control, checkpoint};
use crate::error::{NumericError, Result};
use crate::math::dense::{Cholesky, dot};

/// A function at one point.
#[derive(Debug, Clone, PartialEq)]
pub struct Local {
    /// Value.
    pub value: f64,
    /// First derivatives.
    pub gradient: Vec<f64>,
    /// Second derivatives in rows, both triangles; an approximation makes the steps slower, not wrong.
    pub hessian: Vec<Vec<f64>>,
}

/// A smooth function to be maximised.
pub trait Objective {
    /// Its value; not finite outside the domain.
    fn value(&mut self, at: &[f64]) -> f64;
    /// Value and derivatives.
    fn local(&mut self, at: &[f64]) -> Local;
    /// Makes the function as exact as it must be around `at`; for functions that are approximations, such as integrals.
    fn refine(&mut self, _at: &[f64]) {}
    /// Changes of the value below this say nothing, since the function is an approximation that could not be made better.
    fn blur(&self) -> f64 {
        0.0
    }
    /// True where the function is known to rise without end, so that no maximum is to be found.
    fn is_lost(&self, _at: &[f64]) -> bool {
        false
    }
    /// The largest share of a step (at most 1) that may be taken from `at`.
    fn share(&self, _at: &[f64], _step: &[f64]) -> f64 {
        1.0
    }
}

/// Where a maximisation ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Maximum {
    /// The point.
    pub at: Vec<f64>,
    /// Value and derivatives there.
    pub local: Local,
    /// Newton steps.
    pub iterations: u64,
    /// True when the decrement met its tolerance.
    pub converged: bool,
    /// `g' (-H)^-1 g` of the free coordinates at the end.
    pub decrement: f64,
}

const MOST_STEPS: u64 = 300;
const MOST_HALVINGS: u32 = 45;
/// Share of the promised rise that a step must bring.
const RISE: f64 = 1e-4;
/// A step that promises less than this share of what is enough is not worth taking: the function is not what its derivatives say.
const LEAST: f64 = 0.1;
/// Steps without a clearly smaller decrement after which a fit counts as stalled.
const STALLED_STEPS: u32 = 4;
/// The same after which nothing more is expected of it, also where the function is blurred.
const GIVEN_UP: u32 = 30;
const GIVEN_UP_BLURRED: u32 = 6;

/// Maximises from `start` over the coordinates in `free`; the others stay where they are.
///
/// Newton steps, halved until the value rises. Where the Hessian is not negative definite its positive diagonal entries change their sign,
/// so that a saddle is left and the other coordinates keep their pace; where that is not enough, a ridge in proportion to its diagonal is
/// added to it, ten times larger at each failure. The search ends when the decrement `g' (-H)^-1 g` is below
/// 1e-20, or below 1e-9 and no longer falling for rounding.
///
/// # Errors
/// [`NumericError::NotConverged`] when no step helps or after 300 steps; an interruption.
///
/// # References
/// Nocedal and Wright (2006), Numerical Optimization, chapter 3.
///
/// ```
/// use rootling::control::Control;
/// use rootling::math::search::{Local, Objective, maximise};
/// struct Hill;
/// impl Objective for Hill {
///     fn value(&mut self, at: &[f64]) -> f64 {
///         -(at[0].exp() - at[0])
///     }
///     fn local(&mut self, at: &[f64]) -> Local {
///         let e = at[0].exp();
///         Local { value: self.value(at), gradient: vec![1.0 - e], hessian: vec![vec![-e]] }
///     }
/// }
/// // e^x - x is least at x = 0
/// let top = maximise(&mut Hill, &[2.0], &[0], &Control::new())?;
/// assert!(top.at[0].abs() < 1e-10 && top.converged);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn maximise<F: Objective>(f: &mut F, start: &[f64], free: &[usize], control: &Control) -> Result<Maximum> {
    let top = approach(f, start, free, DECREMENT, control)?;
    if top.converged { Ok(top) } else { Err(failed(top.iterations)) }
}

/// How near the maximum a function is refined (in units of the decrement), and how near a search that stalls may end.
const NEAR: f64 = 1e-3;
const NEAR_ENOUGH: f64 = 0.01;

/// As [`maximise`] for a function that is an approximation: it is refined near its maximum before the search goes on. What is left of
/// its error may keep the decrement above the tolerance; a search that stalls within a tenth of a standard error is kept, with
/// [`Maximum::converged`] false.
///
/// # Errors
/// As [`maximise`].
pub fn maximise_refined<F: Objective>(f: &mut F, start: &[f64], free: &[usize], control: &Control) -> Result<Maximum> {
    let near = approach(f, start, free, NEAR, control)?;
    f.refine(&near.at);
    let mut top = approach(f, &near.at, free, DECREMENT, control)?;
    top.iterations += near.iterations;
    if top.converged || top.decrement < NEAR_ENOUGH { Ok(top) } else { Err(failed(top.iterations)) }
}

/// As [`maximise`], but ends as soon as the decrement is below `enough`, or where no step helps; [`Maximum::converged`] tells.
///
/// # Errors
/// [`NumericError::NotConverged`] where the start is outside the domain; an interruption.
pub fn approach<F: Objective>(
    f: &mut F,
    start: &[f64],
    free: &[usize],
    enough: f64,
    control: &Control,
) -> Result<Maximum> {
    let mut at = start.to_vec();
    let mut local = f.local(&at);
    let (mut best, mut stalled) = (f64::INFINITY, 0_u32);
    for iterations in 0..MOST_STEPS {
        control.step()?;
        if !local.value.is_finite() || f.is_lost(&at) {
            return Err(failed(iterations));
        }
        let gradient: Vec<f64> = pick(&local.gradient, free);
        let step = newton_step(&local.hessian, &gradient, free).ok_or_else(|| failed(iterations))?;
        let decrement = dot(&step.direction, &gradient);
        stalled = if decrement < 0.9 * best { 0 } else { stalled + 1 };
        best = best.min(decrement);
        let converged =
            (decrement < enough || (decrement < STALLED_DECREMENT && stalled >= STALLED_STEPS)) && step.sound;
        if converged {
            return Ok(Maximum { at, local, iterations, converged, decrement });
        }
        if stalled >= if f.blur() > 0.0 { GIVEN_UP_BLURRED } else { GIVEN_UP } {
            return Ok(Maximum { at, local, iterations, converged, decrement });
        }
        let whole = spread(&step.direction, free, at.len());
        match climb(f, &at, &whole, local.value, (decrement, enough)) {
            Some(next) => (at, local) = next,
            None => {
                let converged = decrement < STALLED_DECREMENT;
                return Ok(Maximum { at, local, iterations, converged, decrement });
            }
        }
    }
    Ok(Maximum { at, local, iterations: MOST_STEPS, converged: false, decrement: best })
}

/// The first point along the step, halved as often as needed, at which the value rises as it should. The whole step mostly does, so
/// its derivatives are taken at once. None where no step helps, or none that promises a rise worth having.
fn climb<F: Objective>(
    f: &mut F,
    at: &[f64],
    step: &[f64],
    value: f64,
    (decrement, enough): (f64, f64),
) -> Option<(Vec<f64>, Local)> {
    let slack = 1e-13 * (1.0 + value.abs()) + f.blur();
    let mut length = f.share(at, step).min(1.0);
    for attempt in 0..MOST_HALVINGS {
        checkpoint();
        if attempt > 0 && length * decrement < f.blur().max(LEAST * enough) {
            break;
        }
        let next: Vec<f64> = at.iter().zip(step).map(|(x, s)| x + length * s).collect();
        let local = if attempt == 0 { Some(f.local(&next)) } else { None };
        let reached = local.as_ref().map_or_else(|| f.value(&next), |local| local.value);
        if reached.is_finite() && reached >= value + RISE * length * decrement - slack {
            let local = local.unwrap_or_else(|| f.local(&next));
            return Some((next, local));
        }
        length *= 0.5;
    }
    None
}

struct Step {
    direction: Vec<f64>,
    /// True where the Hessian was negative definite as it was.
    sound: bool,
}

fn newton_step(hessian: &[Vec<f64>], gradient: &[f64], free: &[usize]) -> Option<Step> {
    let minus: Vec<Vec<f64>> =
        pick(hessian, free).iter().map(|row| pick(row, free).iter().map(|x| -x).collect()).collect();
    definite(&minus, |_, l, sound| {
        let direction = l.solve(gradient);
        direction.iter().all(|x| x.is_finite()).then_some(Step { direction, sound })
    })
}

/// What is made of a symmetric matrix once it is positive definite, with its decomposition and whether it was so as it came: negative diagonal
/// entries change their sign, then a ridge in proportion to the diagonal is added, ten times larger at each failure. None where that does
/// not help.
pub(crate) fn definite<T>(
    matrix: &[Vec<f64>],
    mut made: impl FnMut(&[Vec<f64>], &Cholesky, bool) -> Option<T>,
) -> Option<T> {
    let diagonal: Vec<f64> = matrix.iter().enumerate().map(|(i, row)| row.get(i).copied().unwrap_or(0.0)).collect();
    let largest = diagonal.iter().fold(0.0_f64, |a, b| a.max(b.abs())).max(1e-300);
    let (mut ridge, mut turned) = (0.0, false);
    for _ in 0..23 {
        checkpoint();
        let mut a = matrix.to_vec();
        for (i, (row, d)) in a.iter_mut().zip(&diagonal).enumerate() {
            if let Some(entry) = row.get_mut(i) {
                *entry += if turned && ridge == 0.0 { d.abs() - d } else { ridge * d.abs().max(1e-8 * largest) };
            }
        }
        if let Some(l) = Cholesky::new(&a)
            && let Some(found) = made(&a, &l, ridge == 0.0 && !turned)
        {
            return Some(found);
        }
        if !turned && diagonal.iter().any(|d| *d < 0.0) {
            turned = true;
            continue;
        }
        ridge = if ridge == 0.0 { 1e-10 } else { ridge * 10.0 };
    }
    None
}

fn pick<T: Clone>(values: &[T], free: &[usize]) -> Vec<T> {
    free.iter().filter_map(|j| values.get(*j).cloned()).collect()
}

fn spread(values: &[f64], free: &[usize], size: usize) -> Vec<f64> {
    let mut out = vec![0.0; size];
    for (j, value) in free.iter().zip(values) {
        if let Some(entry) = out.get_mut(*j) {
            *entry = *value;
        }
    }
    out
}

fn failed(iterations: u64) -> crate::Error {
    NumericError::NotConverged { routine: "the search for the largest likelihood", iterations: iterations as usize }
        .into()
}
