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
/// approx::assert_relative_eq!(got.exp(), 15.0 / 56.0, epsilon = 0.0, max_relative = 1e-14);
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

/// P(X = k).
#[must_use]
pub fn pmf(k: f64, successes: f64, failures: f64, draws: f64) -> f64 {
    ln_pmf(k, successes, failures, draws).exp()
}

/// P(X <= k) and P(X > k); the one away from the most likely count is summed, in terms that fall.
fn tails(k: f64, successes: f64, failures: f64, draws: f64) -> (f64, f64) {
    let total = successes + failures;
    if k.is_nan() || !(successes >= 0.0 && failures >= 0.0 && (0.0..=total).contains(&draws) && total.is_finite()) {
        return (f64::NAN, f64::NAN);
    }
    let (least, most) = ((draws - failures).max(0.0), draws.min(successes));
    let k = k.floor();
    if k < least || k >= most {
        return if k < least { (0.0, 1.0) } else { (1.0, 0.0) };
    }
    // P(j + 1) / P(j)
    let ratio = |j: f64| (successes - j) * (draws - j) / ((j + 1.0) * (failures - draws + j + 1.0));
    let below_mode = k < (draws + 1.0) * (successes + 1.0) / (total + 2.0) - 1.0;
    let (mut at, end) = if below_mode { (k, least) } else { (k + 1.0, most) };
    let (mut term, mut sum) = (1.0, 1.0);
    let start = pmf(at, successes, failures, draws);
    while at != end {
        if below_mode {
            at -= 1.0;
            term /= ratio(at);
        } else {
            term *= ratio(at);
            at += 1.0;
        }
        sum += term;
        if term < sum * 1e-18 {
            break;
        }
    }
    let tail = (start * sum).min(1.0);
    if below_mode { (tail, 1.0 - tail) } else { (1.0 - tail, tail) }
}

/// P(X <= k).
#[must_use]
pub fn cdf(k: f64, successes: f64, failures: f64, draws: f64) -> f64 {
    tails(k, successes, failures, draws).0
}

/// P(X > k).
///
/// ```
/// // Three draws from 3 and 5: all three are of the first kind once in 56.
/// let got = rootling::math::distributions::hypergeometric::sf(2.0, 3.0, 5.0, 3.0);
/// approx::assert_relative_eq!(got * 56.0, 1.0, epsilon = 0.0, max_relative = 1e-14);
/// ```
#[must_use]
pub fn sf(k: f64, successes: f64, failures: f64, draws: f64) -> f64 {
    tails(k, successes, failures, draws).1
}
