//! Random streams: one seed, one independent stream per replicate, so that results do not depend on threads.

use super::beta::quantile;
use super::normal;
use rand::{Rng, SeedableRng};
pub use rand_chacha::ChaCha8Rng;

/// Stream number `replicate` of the generator seeded with `seed`.
///
/// ```
/// use rootling::math::rng::{binomial, stream};
/// // The same seed and replicate give the same draws.
/// assert_eq!(binomial(&mut stream(7, 3), 50, 0.4), binomial(&mut stream(7, 3), 50, 0.4));
/// ```
#[must_use]
pub fn stream(seed: u64, replicate: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(replicate);
    rng
}

/// Uniform on [0, 1) with 53 bits.
#[inline]
pub fn uniform(rng: &mut ChaCha8Rng) -> f64 {
    share_of(rng.next_u64())
}

/// The first 53 bits as a number of [0, 1).
#[inline]
fn share_of(word: u64) -> f64 {
    (word >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
}

/// Cuttings whose numbers are drawn at a time.
const TOGETHER: usize = 32;

/// Standard normal draw, by inversion.
pub fn deviate(rng: &mut ChaCha8Rng) -> f64 {
    normal::isf(uniform(rng) + 0.5 / 9_007_199_254_740_992.0)
}

/// Chi-squared draw with `df` > 0 degrees of freedom, whole or not.
///
/// # References
/// Marsaglia and Tsang 2000, ACM Transactions on Mathematical Software 26: 363-372.
///
/// ```
/// use rootling::math::rng::{chi_squared, stream};
/// let mean = (0..4000).map(|draw| chi_squared(&mut stream(1, draw), 7.5)).sum::<f64>() / 4000.0;
/// assert!((mean - 7.5).abs() < 0.25);
/// ```
pub fn chi_squared(rng: &mut ChaCha8Rng, df: f64) -> f64 {
    // Below two degrees of freedom: one of two more, times a power of a uniform draw.
    if df < 2.0 {
        let share = uniform(rng) + 0.5 / 9_007_199_254_740_992.0;
        return chi_squared(rng, df + 2.0) * share.powf(2.0 / df);
    }
    let d = 0.5 * df - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let z = deviate(rng);
        let cube = (1.0 + c * z).powi(3);
        let share = uniform(rng) + 0.5 / 9_007_199_254_740_992.0;
        if cube > 0.0 && share.ln() < 0.5 * z * z + d * (1.0 - cube + cube.ln()) {
            return 2.0 * d * cube;
        }
    }
}

/// Beta draw by inversion; shapes a, b > 0.
pub fn beta(rng: &mut ChaCha8Rng, a: f64, b: f64) -> f64 {
    quantile(uniform(rng) + 0.5 / 9_007_199_254_740_992.0, a, b)
}

/// Number of successes in `n` trials at probability `p` (taken into [0, 1]; NaN counts as 0): by inversion in blocks, or outwards from the
/// likeliest number where that is shorter.
///
/// # References
/// Kachitvichyanukul & Schmeiser 1988, Commun. ACM 31:216-222 (algorithm BINV); Kemp 1986, Communications in Statistics, Theory and
/// Methods 15:805-813.
pub fn binomial(rng: &mut ChaCha8Rng, n: u64, p: f64) -> u64 {
    let p = if p.is_nan() { 0.0 } else { p.clamp(0.0, 1.0) };
    if p > 0.5 {
        return n - binomial(rng, n, 1.0 - p);
    }
    if p == 0.0 {
        return 0;
    }
    if n as f64 * p > MANY {
        return outwards(rng, n, p);
    }
    // Blocks with mean at most 20, so that the first probability stays far from underflow.
    let block = ((20.0 / p) as u64).max(1);
    let mut left = n;
    let mut sum = 0;
    while left > 0 {
        let size = left.min(block);
        sum += invert(rng, size, p);
        left -= size;
    }
    sum
}

/// Means above this are drawn outwards from the likeliest number, and trays with more cuttings by their own rate.
const MANY: f64 = 4096.0;

/// By inversion from the likeliest number outwards, one above and one below in turn.
fn outwards(rng: &mut ChaCha8Rng, n: u64, p: f64) -> u64 {
    let (odds, total) = (p / (1.0 - p), n as f64);
    let mode = ((total + 1.0) * p).floor().min(total);
    let peak = super::binomial::ln_pmf(mode, total, p).exp();
    let mut left = uniform(rng) - peak;
    let (mut above, mut below) = ((mode, peak), (mode, peak));
    while left >= 0.0 && (above.1 > 0.0 || below.1 > 0.0) {
        let (k, height) = above;
        above = (k + 1.0, height * odds * (total - k) / (k + 1.0));
        if left < above.1 {
            return above.0 as u64;
        }
        left -= above.1;
        let (k, height) = below;
        below = (k - 1.0, height * k / (odds * (total - k + 1.0)));
        if left < below.1 {
            return below.0 as u64;
        }
        left -= below.1;
    }
    mode as u64
}

fn invert(rng: &mut ChaCha8Rng, n: u64, p: f64) -> u64 {
    let odds = p / (1.0 - p);
    let mut probability = (n as f64 * (-p).ln_1p()).exp();
    let mut u = uniform(rng);
    let mut k = 0;
    while u > probability && k < n {
        u -= probability;
        probability *= odds * (n - k) as f64 / (k + 1) as f64;
        k += 1;
    }
    k
}

/// Number of successes in `n` trials of one tray: mean `mean`, correlation `rho` in [0, 1) between trials.
///
/// By the urn (trays of thousands: a rate, and cuttings at that rate): after s successes in i trials the next succeeds with probability (mean + g s) / (1 + g i),
/// g = rho / (1 - rho). Exact for rho = 0 too.
///
/// # References
/// Johnson & Kotz 1977, Urn Models and Their Application, section 4.2.
pub fn beta_binomial(rng: &mut ChaCha8Rng, n: u64, mean: f64, rho: f64) -> u64 {
    if rho.is_nan() || rho <= 0.0 {
        return binomial(rng, n, mean);
    }
    if rho >= 1.0 {
        return if uniform(rng) < mean { n } else { 0 };
    }
    let g = rho / (1.0 - rho);
    if n as f64 > MANY {
        let rate = beta(rng, mean / g, (1.0 - mean) / g);
        return binomial(rng, n, rate);
    }
    // Both sides of the comparison times 1 + g i, since a division in every step is most of the time.
    let (mut successes, mut favourable) = (0, mean);
    let mut bytes = [0_u8; 8 * TOGETHER];
    for first in (0..n).step_by(TOGETHER) {
        let count = TOGETHER.min((n - first) as usize);
        let Some(drawn) = bytes.get_mut(..8 * count) else { break };
        rng.fill_bytes(drawn);
        for (word, i) in drawn.as_chunks::<8>().0.iter().zip(first..) {
            let succeeds = share_of(u64::from_le_bytes(*word)) * (1.0 + g * i as f64) < favourable;
            successes += u64::from(succeeds);
            favourable += if succeeds { g } else { 0.0 };
        }
    }
    successes
}

/// The same law by one number: from the end at which few are expected, count by count until the number is used up. Quicker than the urn where one of
/// the two outcomes is rare; where neither is, the urn is asked.
///
/// # References
/// Devroye 1986, Non-Uniform Random Variate Generation, section III.2 (inversion by sequential search).
pub(crate) fn beta_binomial_from_end(rng: &mut ChaCha8Rng, n: u64, mean: f64, rho: f64) -> u64 {
    let (rare, total) = (mean.min(1.0 - mean), n as f64);
    // Not (a <= b), so that a rate that is no number goes to the urn as well.
    if !(rho > 0.0 && rho < 1.0 && rare > 0.0 && total * rare <= FEW_EXPECTED) {
        return beta_binomial(rng, n, mean, rho);
    }
    let (g, common) = (rho / (1.0 - rho), 1.0 - rare);
    let mut chance = none_of(n, common, g);
    let mut left = uniform(rng);
    let mut found = 0;
    while left >= chance && found < n {
        left -= chance;
        let k = found as f64;
        chance *= (total - k) * (rare + g * k) / ((k + 1.0) * (common + g * (total - k - 1.0)));
        found += 1;
    }
    if mean > 0.5 { n - found } else { found }
}

/// Counts of the rarer outcome up to which they are drawn from their end: the chance of none stays far from underflow.
const FEW_EXPECTED: f64 = 32.0;

/// The chance that all of `n` are of the outcome of rate `common`: a product, in four parts that do not wait for each other.
fn none_of(n: u64, common: f64, g: f64) -> f64 {
    let mut parts = [1.0_f64; 4];
    for first in (0..n).step_by(parts.len()) {
        for (part, i) in parts.iter_mut().zip(first..n) {
            let before = g * i as f64;
            *part *= (common + before) / (1.0 + before);
        }
    }
    parts.iter().product()
}

/// A whole number below `n`, each as likely as the others; 0 when `n` is 0.
///
/// # References
/// Lemire D (2019), ACM Transactions on Modeling and Computer Simulation 29:3.
#[inline]
pub fn below(rng: &mut ChaCha8Rng, n: u32) -> u32 {
    let mut product = u64::from(rng.next_u32()) * u64::from(n);
    let mut low = product as u32;
    if low < n {
        // Of the 2^32 numbers the first 2^32 mod n would make some results likelier.
        let surplus = n.wrapping_neg() % n.max(1);
        while low < surplus {
            product = u64::from(rng.next_u32()) * u64::from(n);
            low = product as u32;
        }
    }
    (product >> 32) as u32
}

/// Puts `take` entries drawn without replacement at the front (a partial shuffle); all orders are equally likely whatever
/// the order before.
#[inline]
pub fn deal<T>(rng: &mut ChaCha8Rng, items: &mut [T], take: usize) {
    let n = items.len();
    for at in 0..take.min(n.saturating_sub(1)) {
        let pick = at + below(rng, u32::try_from(n - at).unwrap_or(u32::MAX)) as usize;
        items.swap(at, pick);
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::{beta_binomial, binomial, stream};

    /// Mean and variance of draws.
    fn moments(draws: u64, one: impl Fn(u64) -> u64) -> (f64, f64) {
        let drawn: Vec<f64> = (0..draws).map(|replicate| one(replicate) as f64).collect();
        let mean = drawn.iter().sum::<f64>() / draws as f64;
        (mean, drawn.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (draws as f64 - 1.0))
    }

    #[test]
    fn trays_of_thousands_have_the_moments_of_their_law() {
        // Mean n p and variance n p (1 - p) (1 + (n - 1) rho); four standard errors of 20,000 draws are 0.03 and 4 % of them.
        let draws = 20_000;
        for (n, p, rho) in [(10_000, 0.8, 0.0), (10_000, 0.8, 0.02), (100_000, 0.3, 0.001), (4_097, 0.97, 0.1)] {
            let (mean, variance) = moments(draws, |replicate| beta_binomial(&mut stream(5, replicate), n, p, rho));
            let total = n as f64;
            let wanted = total * p * (1.0 - p) * (1.0 + (total - 1.0) * rho);
            assert_relative_eq!(mean, total * p, epsilon = 4.0 * (wanted / draws as f64).sqrt(), max_relative = 0.0);
            assert_relative_eq!(variance, wanted, max_relative = 0.06, epsilon = 0.0);
        }
    }

    #[test]
    fn counts_from_an_end_have_the_shares_of_their_law() {
        use super::beta_binomial_from_end;
        use crate::math::distributions::beta_binomial::ln_pmf;
        // Chi-square over the counts with five or more expected, beside its 99.9 % point: one of eight fails in 125 runs; the seed is fixed.
        let draws = 40_000;
        for (n, mean, rho) in
            [(20, 0.9, 0.02), (20, 0.1, 0.02), (7, 0.5, 0.3), (60, 0.55, 0.05), (300, 0.97, 0.01), (1, 0.3, 0.1)]
        {
            let mut counts = vec![0.0; n as usize + 1];
            for replicate in 0..draws {
                counts[beta_binomial_from_end(&mut stream(11, replicate), n, mean, rho) as usize] += 1.0;
            }
            let wanted = |k: usize| draws as f64 * ln_pmf(k as f64, n as f64, mean, rho).exp();
            let (mut sum, mut df): (f64, f64) = (0.0, -1.0);
            for (k, count) in counts.iter().enumerate().filter(|(k, _)| wanted(*k) >= 5.0) {
                sum += (count - wanted(k)).powi(2) / wanted(k);
                df += 1.0;
            }
            let p = crate::math::distributions::chi_squared::sf(sum, df.max(1.0));
            assert!(p > 0.001, "{n} at {mean}, {rho}: {sum} on {df}");
        }
        // Ends and numbers that are none.
        assert_eq!(beta_binomial_from_end(&mut stream(1, 1), 9, 1.0, 0.1), 9);
        assert_eq!(beta_binomial_from_end(&mut stream(1, 1), 9, 0.0, 0.1), 0);
        assert_eq!(beta_binomial_from_end(&mut stream(1, 1), 9, f64::NAN, 0.1), 0);
        assert_eq!(beta_binomial_from_end(&mut stream(1, 1), 0, 0.4, 0.1), 0);
    }

    #[test]
    fn numbers_drawn_together_are_those_drawn_one_by_one() {
        use rand::Rng;
        // Also where a block of the generator ends between the halves of a number.
        for odd in [false, true] {
            let (mut one, mut other) = (stream(3, 1), stream(3, 1));
            if odd {
                assert_eq!(one.next_u32(), other.next_u32());
            }
            for (n, mean, rho) in [(20, 0.6, 0.1), (33, 0.9, 0.02), (100, 0.3, 0.4), (1, 0.5, 0.1), (64, 0.5, 0.01)] {
                let g = rho / (1.0 - rho);
                let mut wanted = 0;
                for i in 0..n {
                    let chance = (mean + g * f64::from(wanted)) / (1.0 + g * f64::from(i));
                    wanted += u32::from(super::uniform(&mut one) < chance);
                }
                assert_eq!(beta_binomial(&mut other, u64::from(n as u32), mean, rho), u64::from(wanted));
            }
            assert_eq!(one.next_u64(), other.next_u64());
        }
    }

    #[test]
    fn long_counts_are_drawn_from_the_law_itself() {
        // Shares of draws in five parts of the law, beside what the law says; four standard errors of 20,000 draws.
        let (n, p) = (50_000_u64, 0.2);
        let drawn: Vec<u64> = (0..20_000).map(|replicate| binomial(&mut stream(9, replicate), n, p)).collect();
        for at in [9_850_u64, 9_950, 10_000, 10_050, 10_150] {
            let share = drawn.iter().filter(|k| **k <= at).count() as f64 / drawn.len() as f64;
            let wanted = crate::math::distributions::binomial::cdf(at as f64, n as f64, p);
            assert_relative_eq!(
                share,
                wanted,
                epsilon = 4.0 * (wanted * (1.0 - wanted) / 20_000.0).sqrt(),
                max_relative = 0.0
            );
        }
    }
}
