//! Strengths as they are mixed: round numbers.

/// Leading digits of strengths as they are mixed.
pub(crate) const MIXED: [f64; 9] = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0];

/// The nearest strength that can be mixed.
pub(crate) fn mixed(strength: f64) -> f64 {
    if !(strength.is_finite() && strength > 0.0) {
        return strength;
    }
    let power = strength.log10().floor() as i32;
    let each = [power, power + 1].into_iter().flat_map(|power| MIXED.map(|digits| digits * 10.0_f64.powi(power)));
    let far = |other: f64| (other / strength).ln().abs();
    each.min_by(|a, b| far(*a).total_cmp(&far(*b))).unwrap_or(strength)
}
