//! Roots outwards from a good guess.

use super::root::brent;
use crate::control::Control;
use crate::error::{NumericError, Result};

const DOUBLINGS: usize = 40;

/// Root of an increasing function, bracketed by doubling steps from `start`, then refined to `tol`.
///
/// # Errors
/// [`NumericError`] when the function keeps its sign over the whole search.
pub(crate) fn root_from(mut f: impl FnMut(f64) -> f64, start: f64, first_step: f64, tol: f64) -> Result<f64> {
    let at_start = f(start);
    if at_start == 0.0 {
        return Ok(start);
    }
    let direction = if at_start > 0.0 { -1.0 } else { 1.0 };
    let (mut near, mut step) = (start, first_step);
    for _ in 0..DOUBLINGS {
        let far = near + direction * step;
        let value = f(far);
        if value == 0.0 {
            return Ok(far);
        }
        if (value > 0.0) != (at_start > 0.0) {
            return brent(f, near.min(far), near.max(far), tol);
        }
        near = far;
        step *= 2.0;
    }
    Err(NumericError::NotConverged { routine: "the search for a bracket", iterations: DOUBLINGS }.into())
}

/// [`root_from`] that asks the control before each value.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped; else as [`root_from`].
pub(crate) fn root_until(
    control: &Control,
    mut f: impl FnMut(f64) -> f64,
    (start, first_step): (f64, f64),
    tol: f64,
) -> Result<f64> {
    // No value ends the search at once; the control then says why.
    let found = root_from(|x| control.step().map_or(f64::NAN, |()| f(x)), start, first_step, tol);
    control.step()?;
    found
}
