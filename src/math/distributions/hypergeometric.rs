//! Hypergeometric distribution: k successes among `draws` from `successes` and `failures`.

use crate::math::special::{Saddle, Share, ln_choose};

/// ln P(X = k); minus infinity where k cannot occur.
///
/// As the ratio of binomial probabilities at the common p = draws / total, whose exponents are small where k is likely.
///
/// # References
/// Loader 2000, Fast and accurate computation of binomial probabilities.
///
/// ```
/// // (3 choose 2) (5 choose 1) / (8 choose 3) = 15 / 56
/// let got = rootling::math::distributions::hypergeometric::ln_pmf(2.0, 3.0, 5.0, 3.0);
/// assert!((got.exp() / (15.0 / 56.0) - 1.0).abs() < 1e-14);
/// ```
#[inline]
#[must_use]
pub fn ln_pmf(k: f64, successes: f64, failures: f64, draws: f64) -> f64 {
    let total = successes + failures;
    let rest = draws - k;
    if k.is_nan() || total.is_nan() || draws.is_nan() {
        return f64::NAN;
    }
    if k < 0.0 || k > successes || rest < 0.0 || rest > failures || k != k.floor() {
        return f64::NEG_INFINITY;
    }
    if draws == 0.0 || draws == total {
        return 0.0;
    }
    if k == 0.0 || k == successes || rest == 0.0 || rest == failures {
        return ln_choose(successes, k) + ln_choose(failures, rest) - ln_choose(total, draws);
    }
    let share = Share::of_parts(draws, 0.0, total - draws, 0.0);
    Saddle::new(k, successes - k).ln_probability(share) + Saddle::new(rest, failures - rest).ln_probability(share)
        - Saddle::new(draws, total - draws).ln_probability(share)
}
