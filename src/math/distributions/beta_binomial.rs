//! Beta-binomial distribution by mean and intraclass correlation rho; rho = 0 is the binomial.

use super::binomial;
use crate::math::search::maximum;
use crate::math::special::{Saddle, Share, ln_choose, regularised, stirling_error};

/// Up to this many factors the logarithm of the product is taken directly.
const DIRECT: f64 = 256.0;

/// ln P(X = k) of n at `mean`, with correlation `rho` in [0, 1) between cuttings of one tray.
///
/// With g = rho / (1 - rho): (n choose k) prod(mean + i g) prod(1 - mean + i g) / prod(1 + i g), with k, n - k and n factors.
/// This form holds for rho down to 0, where the form by beta functions (a = mean / g, b = (1 - mean) / g) cancels.
///
/// # References
/// Skellam 1948, J. R. Stat. Soc. B 10:257-261; Griffiths 1973, Biometrics 29:637-648.
///
/// ```
/// // a = b = 1 (mean 1/2, rho 1/3) is uniform on 0..n.
/// let got = rootling::math::distributions::beta_binomial::ln_pmf(3.0, 9.0, 0.5, 1.0 / 3.0);
/// approx::assert_relative_eq!(got.exp(), 0.1, epsilon = 0.0, max_relative = 1e-14);
/// ```
#[inline]
#[must_use]
pub fn ln_pmf(k: f64, n: f64, mean: f64, rho: f64) -> f64 {
    if k.is_nan() || !(n >= 0.0 && n.is_finite() && (0.0..=1.0).contains(&mean) && (0.0..1.0).contains(&rho)) {
        return f64::NAN;
    }
    if rho == 0.0 {
        return binomial::ln_pmf(k, n, mean);
    }
    if k < 0.0 || k > n || k != k.floor() {
        return f64::NEG_INFINITY;
    }
    let g = rho / (1.0 - rho);
    ln_choose(n, k) + ln_product(mean, k, g) + ln_product(1.0 - mean, n - k, g) - ln_product(1.0, n, g)
}

/// P(X <= k) of n at `mean` with correlation `rho` above 0, for any n at one price: the rate that falls below a beta variable of shapes
/// k + 1 and n - k, since a binomial tail is one of a beta law. None where a shape is so small that the sum of [`ln_pmf`] is shorter.
///
/// ```
/// // Uniform on 0..n, as above; also of a count of two thousand million.
/// use rootling::math::distributions::beta_binomial::cdf;
/// approx::assert_relative_eq!(cdf(3.0, 9.0, 0.5, 1.0 / 3.0).unwrap(), 0.4, epsilon = 0.0, max_relative = 2.5e-13);
/// approx::assert_relative_eq!(cdf(1e9 - 1.0, 2e9 - 1.0, 0.5, 1.0 / 3.0).unwrap(), 0.5, epsilon = 0.0, max_relative = 2e-11);
/// ```
#[must_use]
pub fn cdf(k: f64, n: f64, mean: f64, rho: f64) -> Option<f64> {
    if k < 0.0 || k >= n {
        return Some(f64::from(u8::from(k >= n)));
    }
    first_is_less(rate_shapes(mean, rho), (k + 1.0, n - k))
}

/// P(X > k), by itself.
#[must_use]
pub fn sf(k: f64, n: f64, mean: f64, rho: f64) -> Option<f64> {
    if k < 0.0 || k >= n {
        return Some(f64::from(u8::from(k < 0.0)));
    }
    first_is_less((k + 1.0, n - k), rate_shapes(mean, rho))
}

fn rate_shapes(mean: f64, rho: f64) -> (f64, f64) {
    let g = rho / (1.0 - rho);
    (mean / g, (1.0 - mean) / g)
}

/// Shapes below this have a tail too long to be walked along.
const SMALLEST_SHAPE: f64 = 0.01;

/// Terms below this share of the sum are left out.
const NEGLIGIBLE: f64 = 1e-18;
const MOST_TERMS: i64 = 1_000_000;

/// P(A < B) of two independent beta variables with these shapes: the mean of the wider one's tail over the narrower one, by the trapezoid
/// rule on the logit scale, whose error falls faster than any power of the step. Terms are taken outwards from the largest, which in a far
/// tail lies where neither law is likely; the step is a quarter of the narrower law's width there.
fn first_is_less(a: (f64, f64), b: (f64, f64)) -> Option<f64> {
    let over_a = a.0 + a.1 > b.0 + b.1;
    let ((low, high), wide) = if over_a { (a, b) } else { (b, a) };
    if low.min(high).is_nan() || low.min(high) < SMALLEST_SHAPE || !(low + high).is_finite() {
        return None;
    }
    let narrow = Saddle::new(low, high);
    let tail = |at: Share| {
        let (below, above) = regularised(wide.0, wide.1, at);
        if over_a { above } else { below }
    };
    let ln_term = |x: f64| {
        let at = Share::of_logit(x);
        narrow.ln_kernel(at) + tail(at).ln()
    };
    let (own, other) = ((low / high).ln(), (wide.0 / wide.1).ln());
    let spread = |(a, b): (f64, f64)| (1.0 / a + 1.0 / b).sqrt();
    let (reach, near) = (4.0 * spread(wide), 0.1 * spread((low, high)).min(1.0));
    let (top, _) = maximum(ln_term, own.min(other) - reach, other, own.max(other) + reach, near);
    let at = Share::of_logit(top);
    let step = 0.25 / ((low + high) * at.x * at.y).sqrt().max(1.0);
    let term = |k: i64| {
        let at = Share::of_logit(top + k as f64 * step);
        let weight = narrow.kernel(at);
        if weight > 0.0 { weight * tail(at) } else { 0.0 }
    };
    let mut sum = term(0);
    for direction in [-1, 1] {
        for k in 1..MOST_TERMS {
            let next = term(direction * k);
            sum += next;
            if next <= NEGLIGIBLE * sum {
                break;
            }
        }
    }
    Some((step * sum).min(1.0))
}

/// ln of base (base + g) ... (base + (count - 1) g).
#[inline]
pub(crate) fn ln_product(base: f64, count: f64, g: f64) -> f64 {
    if count == 0.0 {
        return 0.0;
    }
    if base == 0.0 {
        return f64::NEG_INFINITY;
    }
    if g == 0.0 {
        return count * base.ln();
    }
    let a = base / g;
    if count > DIRECT && a > 1e-3 {
        let inner = (a + count - 0.5) * (count / a).ln_1p() - count;
        return count * base.ln() + inner + stirling_error(a + count) - stirling_error(a);
    }
    let mut sum = 0.0;
    let mut product = 1.0;
    let mut i = 0.0;
    while i < count {
        product *= i.mul_add(g, base);
        // One logarithm for many factors, before the product can leave the range.
        if !(1e-100..=1e100).contains(&product) {
            sum += product.ln();
            product = 1.0;
        }
        i += 1.0;
    }
    sum + product.ln()
}
