//! Limits in closed form: Wald, Wilson with and without continuity correction, Agresti-Coull.

/// `p -/+ z sqrt(p (1 - p) / n)`, not cut at 0 and 1.
pub(super) fn wald(rooted: f64, stuck: f64, z: f64) -> (f64, f64) {
    let rate = rooted / stuck;
    let half = z * (rate * (1.0 - rate) / stuck).sqrt();
    (rate - half, rate + half)
}

/// Roots in p of `(x/n - p)^2 = z^2 p (1 - p) / n`, written so that a limit near 0 keeps its digits.
pub(crate) fn wilson(rooted: f64, stuck: f64, z: f64) -> (f64, f64) {
    let z2 = z * z;
    let centre = 2.0 * rooted + z2;
    let spread = z * (z2 + 4.0 * rooted * (1.0 - rooted / stuck)).sqrt();
    let low = if rooted <= 0.0 { 0.0 } else { 2.0 * rooted * rooted / (stuck * (centre + spread)) };
    let high = if rooted >= stuck { 1.0 } else { (centre + spread) / (2.0 * (stuck + z2)) };
    (low, high)
}

/// The score interval with continuity correction, 0 at none and 1 at all rooted.
pub(crate) fn wilson_corrected(rooted: f64, stuck: f64, z: f64) -> (f64, f64) {
    let (z2, rate) = (z * z, rooted / stuck);
    let centre = 2.0 * rooted + z2;
    let width = 2.0 * (stuck + z2);
    let below = (z2 - 2.0 - 1.0 / stuck + 4.0 * rate * (stuck - rooted + 1.0)).max(0.0);
    let above = (z2 + 2.0 - 1.0 / stuck + 4.0 * rate * (stuck - rooted - 1.0)).max(0.0);
    let low = if rooted <= 0.0 { 0.0 } else { ((centre - 1.0 - z * below.sqrt()) / width).max(0.0) };
    let high = if rooted >= stuck { 1.0 } else { ((centre + 1.0 + z * above.sqrt()) / width).min(1.0) };
    (low, high)
}

/// Wald form on `x + z^2/2` of `n + z^2`, not cut at 0 and 1.
pub(super) fn agresti_coull(rooted: f64, stuck: f64, z: f64) -> (f64, f64) {
    let z2 = z * z;
    wald(rooted + 0.5 * z2, stuck + z2, z)
}
