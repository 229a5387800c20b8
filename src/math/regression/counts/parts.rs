//! Value, slopes and bends of one row by its predictor and the logarithm of the spread, written out; what a row is expected to hold.

use super::law::Zeros;

/// `ln(1 + t)` of a number of 0 or more. Away from 0 the plain logarithm has all digits, at half the time.
fn ln_one_more(t: f64) -> f64 {
    if t > 0.25 { (1.0 + t).ln() } else { t.ln_1p() }
}

/// `e^x - 1` of a number of 0 or more, in the same way.
fn exp_less_one(x: f64) -> f64 {
    if x > 0.35 { x.exp() - 1.0 } else { x.exp_m1() }
}

/// Value, and derivatives by the predictor (`eta`) and the logarithm of the spread (`wide`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bend {
    pub(super) value: f64,
    /// A number whose logarithm belongs to the value: many are multiplied before one is taken.
    pub(super) product: f64,
    pub(super) eta: f64,
    pub(super) wide: f64,
    pub(super) eta_eta: f64,
    pub(super) eta_wide: f64,
    pub(super) wide_wide: f64,
}

impl Default for Bend {
    fn default() -> Self {
        Self { value: 0.0, product: 1.0, eta: 0.0, wide: 0.0, eta_eta: 0.0, eta_wide: 0.0, wide_wide: 0.0 }
    }
}

/// Numbers beyond this, and below one over it, are taken to their logarithm by themselves.
pub(super) const LARGE: f64 = 1e100;

/// A law at one spread.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    truncated: bool,
    /// Spread, and one over it.
    spread: Option<(f64, f64)>,
}

impl Part {
    pub(super) fn new(truncated: bool, ln_spread: Option<f64>) -> Self {
        Self { truncated, spread: ln_spread.map(|ln| (ln.exp(), (-ln).exp())) }
    }

    /// Cuttings and what they hold together at one predictor, without what counts bring whatever their mean.
    ///
    /// Truncation adds `-ln(1 - P(0))` for each cutting, a function of `ln P(0)` whose slope is `1 / (1 / P(0) - 1)`.
    pub(super) fn of(&self, eta: f64, cuttings: f64, total: f64) -> Bend {
        let (none, mut found) = self.plain(eta, cuttings, total);
        if self.truncated {
            let rate = 1.0 / exp_less_one(-none.value);
            let (by, bend) = (cuttings * rate, cuttings * rate * (1.0 + rate));
            if cuttings == 1.0 && rate < LARGE {
                found.product = 1.0 + rate;
            } else {
                found.value += cuttings * rate.ln_1p();
            }
            found.eta += by * none.eta;
            found.wide += by * none.wide;
            found.eta_eta += by * none.eta_eta + bend * none.eta * none.eta;
            found.eta_wide += by * none.eta_wide + bend * none.eta * none.wide;
            found.wide_wide += by * none.wide_wide + bend * none.wide * none.wide;
        }
        found
    }

    /// `ln P(0)`, and the law without truncation.
    fn plain(&self, eta: f64, cuttings: f64, total: f64) -> (Bend, Bend) {
        let mean = eta.exp();
        let Some((spread, inverse)) = self.spread else {
            let none = Bend { value: -mean, eta: -mean, eta_eta: -mean, ..Bend::default() };
            let fall = cuttings * mean;
            let found = Bend { value: total * eta - fall, eta: total - fall, eta_eta: -fall, ..Bend::default() };
            return (none, found);
        };
        // ln(1 + spread mu), its slope and its bend.
        let t = spread * mean;
        let (widened, slope) = (ln_one_more(t), t / (1.0 + t));
        let bend = slope / (1.0 + t);
        let (kl, kq, kb) = (inverse * widened, inverse * slope, inverse * bend);
        let none = Bend {
            product: 1.0,
            value: -kl,
            eta: -kq,
            wide: kl - kq,
            eta_eta: -kb,
            eta_wide: kq - kb,
            wide_wide: 2.0 * kq - kl - kb,
        };
        let found = Bend {
            product: 1.0,
            value: total * (eta - widened) + cuttings * none.value,
            eta: total * (1.0 - slope) + cuttings * none.eta,
            wide: cuttings * none.wide - total * slope,
            eta_eta: cuttings * none.eta_eta - total * bend,
            eta_wide: cuttings * none.eta_wide - total * bend,
            wide_wide: cuttings * none.wide_wide - total * bend,
        };
        (none, found)
    }
}

/// What a cutting is expected to hold, and how that moves with its predictors and the logarithm of the spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Probability of any, 0 to 1.
    pub any: f64,
    /// Mean count, zeros among them.
    pub mean: f64,
    /// Slopes of `any` by the count part, the zero part, the logarithm of the spread.
    pub any_slopes: [f64; 3],
    /// Those of the mean.
    pub mean_slopes: [f64; 3],
}

impl Expected {
    /// At a predictor `eta` of the count part (`ln mu`), `zeta` of the zero part (a logit), and a spread (0 is a Poisson law).
    #[must_use]
    pub fn at(zeros: Zeros, eta: f64, zeta: f64, spread: f64) -> Self {
        let part = Part { truncated: false, spread: (spread > 0.0).then(|| (spread, 1.0 / spread)) };
        let (none, _) = part.plain(eta, 0.0, 0.0);
        let (mu, nothing) = (eta.exp(), none.value.exp());
        let some = -none.value.exp_m1();
        // Of a truncated law: its mean, and slopes of the logarithm of that.
        let above = mu / some;
        let rate = nothing / some;
        let grows = [1.0 + rate * none.eta, rate * none.wide];
        let t = (-zeta.abs()).exp();
        let near = 1.0 / (1.0 + t);
        let (share, rest) = if zeta > 0.0 { (near, t * near) } else { (t * near, near) };
        let slope = t * near * near;
        let [by_eta, by_wide] = [-nothing * none.eta, -nothing * none.wide];
        match zeros {
            Zeros::Plain => {
                Self { any: some, mean: mu, any_slopes: [by_eta, 0.0, by_wide], mean_slopes: [mu, 0.0, 0.0] }
            }
            Zeros::Truncated => Self {
                any: 1.0,
                mean: above,
                any_slopes: [0.0; 3],
                mean_slopes: [above * grows[0], 0.0, above * grows[1]],
            },
            Zeros::Apart => Self {
                any: share,
                mean: share * above,
                any_slopes: [0.0, slope, 0.0],
                mean_slopes: [share * above * grows[0], slope * above, share * above * grows[1]],
            },
            Zeros::Added => Self {
                any: rest * some,
                mean: rest * mu,
                any_slopes: [rest * by_eta, -slope * some, rest * by_wide],
                mean_slopes: [rest * mu, -slope * mu, 0.0],
            },
        }
    }
}

/// Probabilities of 0, 1, 2, ... up to `most`, at predictors and a spread as [`Expected::at`] has them.
///
/// ```
/// use rootling::math::regression::counts::{Zeros, probabilities};
/// let of = probabilities(Zeros::Plain, 2.0_f64.ln(), 0.0, 0.0, 2);
/// approx::assert_relative_eq!(of[2], 2.0 * (-2.0_f64).exp(), max_relative = 1e-14);
/// ```
#[must_use]
pub fn probabilities(zeros: Zeros, eta: f64, zeta: f64, spread: f64, most: usize) -> Vec<f64> {
    let mut found = vec![0.0; most + 1];
    fill_probabilities(zeros, (eta, zeta, spread), &mut found);
    found
}

/// The same into a list that is there.
pub fn fill_probabilities(zeros: Zeros, (eta, zeta, spread): (f64, f64, f64), found: &mut [f64]) {
    let mu = eta.exp();
    let t = spread * mu;
    let ln_none = if spread > 0.0 { -t.ln_1p() / spread } else { -mu };
    let none = ln_none.exp();
    let some = -ln_none.exp_m1();
    let (share, rest) = (1.0 / (1.0 + (-zeta).exp()), 1.0 / (1.0 + zeta.exp()));
    let (first, by) = match zeros {
        Zeros::Plain => (none, 1.0),
        Zeros::Truncated => (0.0, 1.0 / some),
        Zeros::Apart => (rest, share / some),
        Zeros::Added => (share + rest * none, rest),
    };
    let mut one = by * none;
    let step = mu / (1.0 + t);
    for (count, slot) in found.iter_mut().enumerate() {
        *slot = one;
        let y = count as f64;
        // P(y + 1) / P(y).
        one *= step * (1.0 + spread * y) / (y + 1.0);
    }
    found.first_mut().into_iter().for_each(|slot| *slot = first);
}
