//! Bracketed root search.

use crate::error::{NumericError, Result};

const MOST_STEPS: usize = 200;

/// Root of `f` between `low` and `high` by Brent's method: inverse quadratic or secant steps, bisection when they fail.
///
/// `tol` is the absolute width to which the root is held (never finer than 2 units in the last place).
///
/// # Errors
/// [`NumericError::NoSignChange`] when f has the same sign at both ends or is not a number there,
/// [`NumericError::NotConverged`] after 200 steps.
///
/// # References
/// Brent 1973, Algorithms for Minimization without Derivatives, chapter 4.
///
/// ```
/// let root = rootling::math::search::brent(|x| x * x - 2.0, 0.0, 2.0, 1e-15).unwrap();
/// approx::assert_abs_diff_eq!(root, 2.0_f64.sqrt(), epsilon = 1e-14);
/// ```
pub fn brent(mut f: impl FnMut(f64) -> f64, low: f64, high: f64, tol: f64) -> Result<f64> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Ok(a);
    }
    if fb == 0.0 {
        return Ok(b);
    }
    if fa.is_nan() || fb.is_nan() || (fa > 0.0) == (fb > 0.0) {
        return Err(NumericError::NoSignChange { low, high }.into());
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut last = step;
    for _ in 0..MOST_STEPS {
        if (fb > 0.0) == (fc > 0.0) {
            (c, fc) = (a, fa);
            step = b - a;
            last = step;
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let width = 2.0 * f64::EPSILON * b.abs() + 0.5 * tol;
        let half = 0.5 * (c - b);
        if half.abs() <= width || fb == 0.0 {
            return Ok(b);
        }
        let proposed =
            if last.abs() >= width && fa.abs() > fb.abs() { interpolate(a, b, c, [fa, fb, fc]) } else { f64::NAN };
        let most = (3.0 * half.abs() - width).min(last.abs());
        // Taken only if it points into the bracket and is short enough; NaN is refused as well.
        if proposed * half > 0.0 && 2.0 * proposed.abs() < most {
            last = step;
            step = proposed;
        } else {
            step = half;
            last = half;
        }
        (a, fa) = (b, fb);
        b += if step.abs() > width { step } else { width.copysign(half) };
        fb = f(b);
        if fb.is_nan() {
            return Err(NumericError::NoSignChange { low, high }.into());
        }
    }
    Err(NumericError::NotConverged { routine: "root search", iterations: MOST_STEPS }.into())
}

/// Step from b by secant (a = c) or inverse quadratic interpolation.
fn interpolate(a: f64, b: f64, c: f64, [fa, fb, fc]: [f64; 3]) -> f64 {
    let s = fb / fa;
    let half = 0.5 * (c - b);
    let (p, q) = if a == c {
        (2.0 * half * s, 1.0 - s)
    } else {
        let q = fa / fc;
        let r = fb / fc;
        (s * (2.0 * half * q * (q - r) - (b - a) * (r - 1.0)), (q - 1.0) * (r - 1.0) * (s - 1.0))
    };
    -p / q
}
