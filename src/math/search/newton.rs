//! Newton's method held inside a bracket, for equations whose left side falls.

const MOST_STEPS: usize = 200;

/// Root of a falling function between `low` and `high` by Newton steps, each replaced by the middle of the bracket when it
/// leaves it or shortens it too slowly. `f` gives value and slope. Where `f` keeps one sign the nearer end is
/// returned: the maximum of a concave function whose slope `f` is.
///
/// ```
/// // The maximum of 3 ln x + 7 ln(1 - x), a concave function, is at 0.3.
/// let root = rootling::math::search::falling_root(|x| (3.0 / x - 7.0 / (1.0 - x), -3.0 / (x * x) - 7.0 / (1.0 - x).powi(2)), 0.0, 1.0, 0.5);
/// approx::assert_relative_eq!(root, 0.3, epsilon = 0.0, max_relative = 3.3e-15);
/// ```
pub fn falling_root(mut f: impl FnMut(f64) -> (f64, f64), low: f64, high: f64, start: f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let mut x = if start > low && start < high { start } else { f64::midpoint(low, high) };
    let mut width = high - low;
    for step in 0..MOST_STEPS {
        let (value, slope) = f(x);
        if value > 0.0 {
            low = x;
        } else if value < 0.0 {
            high = x;
        } else {
            return x;
        }
        let newton = x - value / slope;
        // Every third step must have halved the bracket, so that the worst case is bisection.
        let slow = step % 3 == 2 && high - low > 0.5 * width;
        if step % 3 == 2 {
            width = high - low;
        }
        let next = if newton > low && newton < high && !slow { newton } else { f64::midpoint(low, high) };
        if (next - x).abs() <= 2.0 * f64::EPSILON * x.abs() || next <= low || next >= high {
            return next.clamp(low, high);
        }
        x = next;
    }
    x
}
