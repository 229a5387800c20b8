//! Beta-binomial distribution by mean and intraclass correlation rho; rho = 0 is the binomial.

use super::binomial;
use crate::math::special::ln_choose;
use crate::math::stirling::stirling_error;

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
/// assert!((got.exp() / 0.1 - 1.0).abs() < 1e-14);
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

/// ln of base (base + g) ... (base + (count - 1) g).
#[inline]
fn ln_product(base: f64, count: f64, g: f64) -> f64 {
    if count == 0.0 {
        return 0.0;
    }
    if base == 0.0 {
        return f64::NEG_INFINITY;
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
