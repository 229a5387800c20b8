//! How many units would narrow an interval to what matters.

use crate::math::distributions::student_t;

/// The most units that are worth naming.
const MOST: f64 = 500.0;
/// Units from which on nothing is worked out.
const BEYOND: f64 = 1e15;

/// Units of each level that bring a half-width to `nearly` at the spread seen, from `have` of each; none where it is that narrow already.
/// A half-width is a t quantile times a standard error, which falls with the root of the number of units; degrees of freedom grow with it.
pub(super) fn units_for(half: f64, nearly: f64, (level, df): (f64, f64), have: f64) -> Option<String> {
    if half <= nearly || have < 1.0 {
        return None;
    }
    let quantile = |df: f64| student_t::quantile(f64::midpoint(1.0, level), df);
    let mut wanted = have;
    for _ in 0..50 {
        let narrower = quantile(df * wanted / have) / quantile(df);
        wanted = have * (half / nearly * narrower).powi(2);
        // Few degrees of freedom lead far away, where no quantile is worth its work.
        if wanted.is_nan() || wanted > BEYOND {
            return Some(format!("more than {MOST}"));
        }
    }
    Some(if wanted > MOST { format!("more than {MOST}") } else { format!("{:.0}", wanted.ceil()) })
}
