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
    (rng.next_u64() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
}

/// Standard normal draw, by inversion.
pub fn deviate(rng: &mut ChaCha8Rng) -> f64 {
    normal::isf(uniform(rng) + 0.5 / 9_007_199_254_740_992.0)
}

/// Beta draw by inversion; shapes a, b > 0.
pub fn beta(rng: &mut ChaCha8Rng, a: f64, b: f64) -> f64 {
    quantile(uniform(rng) + 0.5 / 9_007_199_254_740_992.0, a, b)
}

/// Number of successes in `n` trials at probability `p` (taken into [0, 1]; NaN counts as 0), by inversion in blocks.
///
/// # References
/// Kachitvichyanukul & Schmeiser 1988, Commun. ACM 31:216-222 (algorithm BINV).
pub fn binomial(rng: &mut ChaCha8Rng, n: u64, p: f64) -> u64 {
    let p = if p.is_nan() { 0.0 } else { p.clamp(0.0, 1.0) };
    if p > 0.5 {
        return n - binomial(rng, n, 1.0 - p);
    }
    if p == 0.0 {
        return 0;
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
/// By the urn: after s successes in i trials the next succeeds with probability (mean + g s) / (1 + g i),
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
    let mut successes = 0;
    for i in 0..n {
        let chance = (mean + g * successes as f64) / (1.0 + g * i as f64);
        if uniform(rng) < chance {
            successes += 1;
        }
    }
    successes
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
