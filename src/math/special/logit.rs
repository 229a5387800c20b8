//! Probabilities and their logarithms on the logit scale and back.

/// ln(1 - e^x) for x < 0, by expm1 near 0 and log1p below -ln 2.
///
/// # References
/// Maechler 2012, Accurately computing log(1 - exp(-|a|)).
#[inline]
#[must_use]
pub fn log1mexp(x: f64) -> f64 {
    if x > -std::f64::consts::LN_2 { (-x.exp_m1()).ln() } else { (-x.exp()).ln_1p() }
}

/// ln(p / (1 - p)).
#[inline]
#[must_use]
pub fn logit(p: f64) -> f64 {
    if (0.25..=0.75).contains(&p) {
        // p - (1 - p) is exact here, so values near 1/2 keep their digits.
        return 2.0 * ((p - 0.5) * 2.0).atanh();
    }
    p.ln() - (-p).ln_1p()
}

/// 1 / (1 + e^-x).
#[inline]
#[must_use]
pub fn expit(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + (-x).exp())
    } else {
        let e = x.exp();
        e / (1.0 + e)
    }
}
