//! Parts of the saddle-point form of densities, which keeps full accuracy for large parameters.
//!
//! # References
//! Loader 2000, Fast and accurate computation of binomial probabilities.

/// ln sqrt(2 pi).
pub(crate) const LN_SQRT_TWO_PI: f64 = 0.918_938_533_204_672_8;

/// [`stirling_error`] of 1 to 15, from 40-digit values of `ln Gamma`.
const OF_WHOLE: [f64; 15] = [
    0.081_061_466_795_327_26,
    0.041_340_695_955_409_3,
    0.027_677_925_684_998_34,
    0.020_790_672_103_765_093,
    0.016_644_691_189_821_193,
    0.013_876_128_823_070_748,
    0.011_896_709_945_891_77,
    0.010_411_265_261_972_096,
    0.009_255_462_182_712_733,
    0.008_330_563_433_362_87,
    0.007_573_675_487_951_841,
    0.006_942_840_107_209_53,
    0.006_408_994_188_004_207,
    0.005_951_370_112_758_848,
    0.005_554_733_551_962_801,
];

/// Error of Stirling's formula: ln Gamma(x) - ((x - 1/2) ln x - x + ln sqrt(2 pi)), x > 0.
#[inline]
pub(crate) fn stirling_error(x: f64) -> f64 {
    if x < 16.0 {
        // Counts are whole numbers; their fraction is exactly 0.
        if x.fract().to_bits() == 0
            && let Some(known) = OF_WHOLE.get((x as usize).wrapping_sub(1))
        {
            return *known;
        }
        // Absolute error below 1e-14, the rounding of terms up to 40.
        return libm::lgamma(x) - (x - 0.5) * x.ln() + x - LN_SQRT_TWO_PI;
    }
    let w = 1.0 / (x * x);
    // Coefficients B(2k) / (2k (2k - 1)).
    let series = 1.0 / 12.0
        - w * (1.0 / 360.0 - w * (1.0 / 1260.0 - w * (1.0 / 1680.0 - w * (1.0 / 1188.0 - w * (691.0 / 360_360.0)))));
    series / x
}

/// Deviance part x ln(x / m) + m - x, with the mean given as m + `m_low`.
#[inline]
pub(crate) fn deviance(x: f64, m: f64, m_low: f64) -> f64 {
    if x == 0.0 {
        return m;
    }
    let gap = (x - m) - m_low;
    let total = x + m;
    let near = if x > 50.0 { 0.5 } else { 0.1 };
    if gap.abs() < near * total {
        let v = gap / total;
        let w = v * v;
        let mut sum = gap * v;
        let mut term = 2.0 * x * v;
        let mut odd = 3.0;
        loop {
            term *= w;
            let next = sum + term / odd;
            if next == sum || odd > 200.0 {
                return next;
            }
            sum = next;
            odd += 2.0;
        }
    }
    x * (x / m).ln() + m - x + m_low * ((m - x) / m)
}

/// A share x and its complement y = 1 - x, each with the part that rounding dropped.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Share {
    pub x: f64,
    pub x_low: f64,
    pub y: f64,
    pub y_low: f64,
}

impl Share {
    /// From x in [0, 1].
    #[inline]
    pub(crate) fn new(x: f64) -> Self {
        let y = 1.0 - x;
        // Exact: the rounding error of a difference whose larger term is 1.
        Self { x, x_low: 0.0, y, y_low: (1.0 - y) - x }
    }

    /// u / (u + v) and v / (u + v), with `u_low` and `v_low` what rounding dropped from u and v.
    #[inline]
    pub(crate) fn of_parts(u: f64, u_low: f64, v: f64, v_low: f64) -> Self {
        let s = u + v;
        let back = s - u;
        let s_low = (u - (s - back)) + (v - back) + u_low + v_low;
        let x = u / s;
        let y = v / s;
        Self {
            x,
            x_low: ((-x).mul_add(s, u) + u_low - x * s_low) / s,
            y,
            y_low: ((-y).mul_add(s, v) + v_low - y * s_low) / s,
        }
    }

    /// expit(t).
    #[inline]
    pub(crate) fn of_logit(t: f64) -> Self {
        if t > 0.0 { Self::of_parts(1.0, 0.0, (-t).exp(), 0.0) } else { Self::of_parts(t.exp(), 0.0, 1.0, 0.0) }
    }

    /// The complement first.
    #[inline]
    pub(crate) fn swapped(self) -> Self {
        Self { x: self.y, x_low: self.y_low, y: self.x, y_low: self.x_low }
    }
}

/// ln of Gamma(n + 1) / (Gamma(a + 1) Gamma(b + 1)) x^a y^b sqrt(2 pi a b / n) with n = a + b: the binomial saddle-point exponent.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Saddle {
    pub a: f64,
    pub b: f64,
    n: f64,
    n_low: f64,
    constant: f64,
    scale: f64,
}

impl Saddle {
    /// For a, b > 0.
    #[inline]
    pub(crate) fn new(a: f64, b: f64) -> Self {
        let n = a + b;
        let back = n - a;
        let n_low = (a - (n - back)) + (b - back);
        let constant = stirling_error(n) - stirling_error(a) - stirling_error(b);
        let scale = (a / n * b / std::f64::consts::TAU).sqrt();
        Self { a, b, n, n_low, constant, scale }
    }

    /// The exponent at the share.
    #[inline]
    pub(crate) fn exponent(&self, at: Share) -> f64 {
        let first = self.n * at.x;
        let first_low = self.n.mul_add(at.x, -first) + self.n * at.x_low + self.n_low * at.x;
        let second = self.n * at.y;
        let second_low = self.n.mul_add(at.y, -second) + self.n * at.y_low + self.n_low * at.y;
        self.constant - deviance(self.a, first, first_low) - deviance(self.b, second, second_low)
    }

    /// x^a y^b / B(a, b) = scale exp(exponent).
    #[inline]
    pub(crate) fn kernel(&self, at: Share) -> f64 {
        self.scale * self.exponent(at).exp()
    }

    /// Its logarithm.
    #[inline]
    pub(crate) fn ln_kernel(&self, at: Share) -> f64 {
        self.scale.ln() + self.exponent(at)
    }

    /// ln of Gamma(n + 1) / (Gamma(a + 1) Gamma(b + 1)) x^a y^b, the binomial probability.
    #[inline]
    pub(crate) fn ln_probability(&self, at: Share) -> f64 {
        self.exponent(at) + 0.5 * (self.n / self.a / self.b).ln() - LN_SQRT_TWO_PI
    }

    /// The binomial probability itself, free of the logarithm's rounding.
    #[inline]
    pub(crate) fn probability(&self, at: Share) -> f64 {
        self.exponent(at).exp() * (self.n / self.a / self.b / std::f64::consts::TAU).sqrt()
    }
}
