//! Bracketed search for a maximum.

const GOLDEN: f64 = 0.381_966_011_250_105_1;
const MOST_STEPS: usize = 60;

/// Where and how high `f` is largest between `low` and `high`, when it has one maximum there: parabolic steps, golden section
/// when they fail. `start` is a point inside. The place is held to `tol`, so the height is held to its square.
///
/// # References
/// Brent 1973, Algorithms for Minimization without Derivatives, chapter 5.
///
/// ```
/// // Least where its negative is largest: (x - 0.3)^2 + 1.
/// let (place, height) = rootling::math::search::maximum(|x| -(x - 0.3).powi(2) - 1.0, 0.0, 0.5, 1.0, 1e-9);
/// approx::assert_relative_eq!(place, 0.3, epsilon = 0.0, max_relative = 3.3e-8);
/// assert!(height == -1.0);
/// ```
#[must_use]
pub fn maximum(mut f: impl FnMut(f64) -> f64, low: f64, start: f64, high: f64, tol: f64) -> (f64, f64) {
    let (mut low, mut high) = (low, high);
    let mut best = (start, f(start));
    let (mut second, mut third) = (best, best);
    let (mut step, mut last) = (0.0_f64, 0.0_f64);
    for _ in 0..MOST_STEPS {
        let middle = f64::midpoint(low, high);
        if (best.0 - middle).abs() + 0.5 * (high - low) <= 2.0 * tol {
            break;
        }
        let parabola = vertex(best, second, third);
        let usable =
            parabola.abs() < 0.5 * last.abs() && best.0 + parabola > low + tol && best.0 + parabola < high - tol;
        if usable {
            (last, step) = (step, parabola);
        } else {
            last = if best.0 < middle { high - best.0 } else { low - best.0 };
            step = GOLDEN * last;
        }
        let at = best.0 + if step.abs() >= tol { step } else { tol.copysign(step) };
        let next = (at, f(at));
        if next.1 >= best.1 {
            if next.0 < best.0 {
                high = best.0;
            } else {
                low = best.0;
            }
            (third, second, best) = (second, best, next);
        } else {
            if next.0 < best.0 {
                low = next.0;
            } else {
                high = next.0;
            }
            if next.1 >= second.1 || second.0 == best.0 {
                (third, second) = (second, next);
            } else if next.1 >= third.1 || third.0 == best.0 || third.0 == second.0 {
                third = next;
            }
        }
    }
    best
}

/// Step from the best point to the top of the parabola through three points; NaN when they do not bend.
fn vertex(best: (f64, f64), second: (f64, f64), third: (f64, f64)) -> f64 {
    let (a, b) = (best.0 - second.0, best.0 - third.0);
    let (r, q) = (a * (best.1 - third.1), b * (best.1 - second.1));
    let bottom = 2.0 * (q - r);
    if bottom == 0.0 { f64::NAN } else { -(b * q - a * r) / bottom }
}
