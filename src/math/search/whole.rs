//! Whole numbers at which a condition begins to hold.

/// The whole number nearest to `inside` at which `holds`, which stays true outwards to `outside`; it is taken to hold there, and not to
/// hold at `inside`. Neither end is asked. By halving, on either side of `inside`.
///
/// ```
/// use rootling::math::search::boundary;
/// // Squares from 50 on, upwards and downwards.
/// assert_eq!(boundary(0.0, 100.0, |k| k * k >= 50.0), 8.0);
/// assert_eq!(boundary(0.0, -100.0, |k| k * k >= 50.0), -8.0);
/// ```
#[must_use]
pub fn boundary(inside: f64, outside: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut inside, mut outside) = (inside, outside);
    while (outside - inside).abs() > 1.0 {
        let middle = f64::midpoint(inside, outside).floor();
        if holds(middle) {
            outside = middle;
        } else {
            inside = middle;
        }
    }
    outside
}
