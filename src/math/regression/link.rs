//! Links of binomial regressions: what the likelihood needs at one value of the linear predictor.

use crate::choice::choice;
use crate::math::distributions::normal;

/// The scale on which effects add up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Link {
    /// Log odds.
    #[default]
    Logit,
    /// Normal quantile.
    Probit,
    /// `ln(-ln(1 - p))`.
    ComplementaryLogLog,
    /// `-ln(-ln p)`, the mirror of the complementary log-log.
    LogLog,
}

choice!(
    Link, "link":
    Logit = "logit",
    Probit = "probit",
    ComplementaryLogLog = "complementary-log-log",
    LogLog = "log-log",
);

/// What the likelihood needs at one value of the linear predictor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Probability of rooting `p`.
    pub mean: f64,
    /// `1 - p`, without cancellation.
    pub rest: f64,
    /// `ln p`.
    pub ln_mean: f64,
    /// `ln(1 - p)`.
    pub ln_rest: f64,
    /// `p' / p`.
    pub up: f64,
    /// `p' / (1 - p)`.
    pub down: f64,
    /// `w' / w` of the weight `w = p'^2 / (p (1 - p))`.
    pub bend: f64,
}

impl Point {
    /// Fisher information per cutting.
    #[must_use]
    pub fn weight(&self) -> f64 {
        self.up * self.down
    }

    /// `p'`, the slope of the rate.
    #[must_use]
    pub fn slope(&self) -> f64 {
        self.up * self.mean
    }

    /// `p'' / p'`.
    #[must_use]
    pub fn turn(&self) -> f64 {
        0.5 * (self.bend + self.up - self.down)
    }

    /// `y ln p + (m - y) ln(1 - p)`.
    #[inline]
    #[must_use]
    pub fn kernel(&self, y: f64, m: f64) -> f64 {
        // 0 times minus infinity is 0 here.
        let part = |n: f64, ln: f64| if n == 0.0 { 0.0 } else { n * ln };
        part(y, self.ln_mean) + part(m - y, self.ln_rest)
    }

    /// The same with rooted and not rooted exchanged and `eta` reversed.
    fn mirrored(self) -> Self {
        let Self { mean, rest, ln_mean, ln_rest, up, down, bend } = self;
        Self { mean: rest, rest: mean, ln_mean: ln_rest, ln_rest: ln_mean, up: down, down: up, bend: -bend }
    }
}

impl Link {
    /// Everything at `eta`; extreme values are held where nothing under- or overflows.
    #[must_use]
    pub fn at(self, eta: f64) -> Point {
        match self {
            Self::Logit => {
                let eta = eta.clamp(-300.0, 300.0);
                let small = (-eta.abs()).exp();
                let ln_big = -ln_one_and(small);
                let ln_small = ln_big - eta.abs();
                let big = 1.0 / (1.0 + small);
                let small = small * big;
                let (mean, rest, ln_mean, ln_rest) =
                    if eta >= 0.0 { (big, small, ln_big, ln_small) } else { (small, big, ln_small, ln_big) };
                Point { mean, rest, ln_mean, ln_rest, up: rest, down: mean, bend: rest - mean }
            }
            Self::Probit => {
                let eta = eta.clamp(-36.0, 36.0);
                let (mean, rest) = (normal::cdf(eta), normal::sf(eta));
                let density = (-0.5 * eta * eta).exp() / (2.0 * std::f64::consts::PI).sqrt();
                let (up, down) = (density / mean, density / rest);
                let ln_mean = if eta > 0.0 { (-rest).ln_1p() } else { mean.ln() };
                let ln_rest = if eta > 0.0 { rest.ln() } else { (-mean).ln_1p() };
                Point { mean, rest, ln_mean, ln_rest, up, down, bend: -2.0 * eta - up + down }
            }
            Self::ComplementaryLogLog => {
                let rate = eta.clamp(-300.0, 5.5).exp();
                let (mean, rest) = (-(-rate).exp_m1(), (-rate).exp());
                let up = rate / rate.exp_m1();
                Point { mean, rest, ln_mean: mean.ln(), ln_rest: -rate, up, down: rate, bend: 2.0 - rate - up }
            }
            Self::LogLog => Self::ComplementaryLogLog.at(-eta).mirrored(),
        }
    }

    /// [`Link::at`] without the logarithms, which are none for the logit: all that a step needs.
    #[inline]
    #[must_use]
    pub(crate) fn rates(self, eta: f64) -> Point {
        if self != Self::Logit {
            return self.at(eta);
        }
        let small = (-eta.abs().min(300.0)).exp();
        let big = 1.0 / (1.0 + small);
        let small = small * big;
        let (mean, rest) = if eta >= 0.0 { (big, small) } else { (small, big) };
        Point { mean, rest, ln_mean: f64::NAN, ln_rest: f64::NAN, up: rest, down: mean, bend: rest - mean }
    }

    /// Log-likelihood of `y` rooted of `m` at `eta` without the binomial coefficient.
    #[inline]
    #[must_use]
    pub(crate) fn kernel(self, eta: f64, y: f64, m: f64) -> f64 {
        if self != Self::Logit {
            return self.at(eta).kernel(y, m);
        }
        let eta = eta.clamp(-300.0, 300.0);
        logit_kernel(eta.exp(), eta, y, m)
    }

    /// Log-likelihood of `y` rooted of `m` at `eta` without the binomial coefficient, and its first three derivatives by `eta`.
    #[inline]
    #[must_use]
    pub fn derivatives(self, eta: f64, y: f64, m: f64) -> [f64; 4] {
        let point = self.at(eta);
        let Point { mean, rest, up, down, .. } = point;
        let value = point.kernel(y, m);
        if self == Self::Logit {
            let spread = m * mean * rest;
            return [value, y * rest - (m - y) * mean, -spread, -spread * (rest - mean)];
        }
        // With s = p'' / p': up' = up (s - up), down' = down (s + down).
        let s = point.turn();
        let s_slope = match self {
            Self::Logit => -2.0 * mean * rest,
            Self::Probit => -1.0,
            Self::ComplementaryLogLog => -down,
            Self::LogLog => -up,
        };
        let (up1, down1) = (up * (s - up), down * (s + down));
        let up2 = up1 * (s - up) + up * (s_slope - up1);
        let down2 = down1 * (s + down) + down * (s_slope + down1);
        let rest = m - y;
        [value, y * up - rest * down, y * up1 - rest * down1, y * up2 - rest * down2]
    }

    /// The log-likelihood of [`Link::derivatives`] and its first two derivatives, for integrals.
    #[inline]
    #[must_use]
    pub fn density(self, eta: f64, y: f64, m: f64) -> [f64; 3] {
        if self == Self::Logit {
            let held = eta.abs().min(300.0);
            let small = (-held).exp();
            let far = 1.0 / (1.0 + small);
            let near = small * far;
            let (mean, rest, lost) = if eta >= 0.0 { (far, near, m - y) } else { (near, far, y) };
            return [-m * ln_one_and(small) - lost * held, y * rest - (m - y) * mean, -m * mean * rest];
        }
        let [value, first, second, _] = self.derivatives(eta, y, m);
        [value, first, second]
    }

    /// The first and second derivative of [`Link::derivatives`] alone, for searches that need no value.
    #[inline]
    #[must_use]
    pub fn slopes(self, eta: f64, y: f64, m: f64) -> [f64; 2] {
        if self == Self::Logit {
            let Point { mean, rest, .. } = self.rates(eta);
            return [y * rest - (m - y) * mean, -m * mean * rest];
        }
        let [_, first, second, _] = self.derivatives(eta, y, m);
        [first, second]
    }

    /// The name in words.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Logit => "logit",
            Self::Probit => "probit",
            Self::ComplementaryLogLog => "complementary log-log",
            Self::LogLog => "log-log",
        }
    }
}

/// Log-likelihood of `y` rooted of `m` under a logit at `odds = e^eta`, without the binomial coefficient.
#[inline]
pub(super) fn logit_kernel(odds: f64, eta: f64, y: f64, m: f64) -> f64 {
    let (small, lost) = if eta >= 0.0 { (1.0 / odds, m - y) } else { (odds, y) };
    -m * ln_one_and(small) - lost * eta.abs()
}

/// `ln(1 + x)` of an `x` from 0 to 1. The plain logarithm is the faster one; what 1 + x loses is below 5e-16 of the result above 1/4.
#[inline]
fn ln_one_and(x: f64) -> f64 {
    if x > 0.25 { (1.0 + x).ln() } else { x.ln_1p() }
}
