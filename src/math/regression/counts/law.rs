//! The logarithm of the probability of a count, with its derivatives.

use super::jet::Jet;
use crate::math::special::ln_gamma;

/// The law of a count of mean `mu`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CountLaw {
    /// Variance `mu`.
    Poisson,
    /// Variance `mu + spread mu^2`.
    NegativeBinomial,
}

/// What becomes of zeros.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zeros {
    /// As many as the law has.
    Plain,
    /// None: counts are of those that have one or more.
    Truncated,
    /// A part of their own: `logit P(count > 0) = zero part`, and counts above 0 are truncated.
    Apart,
    /// Some are added: `logit P(added) = zero part`, others come from the law.
    Added,
}

/// Logarithm of the spread at which a negative binomial is a Poisson law to all digits.
pub(super) const NO_SPREAD: f64 = -36.0;

/// What is known of a count without its mean: `ln count!` and what a spread does to its rising product.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Counted {
    pub(super) count: u64,
    ln_factorial: f64,
    /// `sum over j < count of ln(1 + spread j)`, by the logarithm of the spread.
    rising: Jet,
}

impl Counted {
    /// Of counts in rising order, each with how often it was met.
    pub(super) fn all(tally: &[(u64, f64)], ln_spread: Option<f64>) -> Vec<Self> {
        let spread = ln_spread.map(f64::exp);
        let (mut value, mut first, mut second, mut from) = (0.0, 0.0, 0.0, 1);
        let one = |(count, _): &(u64, f64)| {
            let mut rising = Jet::constant(0.0);
            if let (Some(ln_spread), Some(spread)) = (ln_spread, spread) {
                for j in from..*count {
                    let t = spread * j as f64;
                    value += t.ln_1p();
                    first += t / (1.0 + t);
                    second += t / ((1.0 + t) * (1.0 + t));
                }
                from = from.max(*count);
                rising = Jet::coordinate(ln_spread, 2).through(value, first, second);
            }
            Self { count: *count, ln_factorial: ln_gamma(*count as f64 + 1.0), rising }
        };
        tally.iter().map(one).collect()
    }

    /// What it brings whatever its mean: value, slope and bend by the logarithm of the spread.
    pub(super) fn alone(&self) -> (f64, f64, f64) {
        let ([.., slope], [.., [.., bend]]) = (self.rising.gradient, self.rising.hessian);
        (self.rising.value - self.ln_factorial, slope, bend)
    }
}

/// One mean, zero part and spread: what all counts of a pattern share.
#[derive(Debug, Clone, Copy)]
pub(super) struct Setting {
    zeros: Zeros,
    /// `ln mu`.
    eta: Jet,
    zeta: Jet,
    /// `ln(1 + spread mu)`; of a Poisson law 0.
    widened: Jet,
    /// `ln P(0)` of the law.
    ln_none: Jet,
    /// `ln(1 - P(0))`.
    ln_some: Jet,
}

impl Setting {
    pub(super) fn new(zeros: Zeros, eta: f64, zeta: f64, ln_spread: Option<f64>) -> Self {
        let (eta, zeta) = (Jet::coordinate(eta, 0), Jet::coordinate(zeta, 1));
        let (widened, ln_none) = match ln_spread {
            None => (Jet::constant(0.0), -eta.exp()),
            Some(ln_spread) => {
                let a = Jet::coordinate(ln_spread, 2);
                let widened = (a + eta).softplus();
                (widened, -((-a).exp() * widened))
            }
        };
        Self { zeros, eta, zeta, widened, ln_none, ln_some: ln_none.ln_one_less_exp() }
    }

    /// `ln P(count)`.
    pub(super) fn ln_probability(&self, counted: &Counted) -> Jet {
        let y = counted.count as f64;
        let law = || {
            counted.rising + self.eta.scaled(y) - self.widened.scaled(y) + self.ln_none
                - Jet::constant(counted.ln_factorial)
        };
        match (self.zeros, counted.count) {
            (Zeros::Plain, _) => law(),
            (Zeros::Truncated, _) => law() - self.ln_some,
            (Zeros::Apart, 0) => -self.zeta.softplus(),
            (Zeros::Apart, _) => -(-self.zeta).softplus() + law() - self.ln_some,
            (Zeros::Added, 0) => (-(-self.zeta).softplus()).ln_sum_exp(self.ln_none - self.zeta.softplus()),
            (Zeros::Added, _) => law() - self.zeta.softplus(),
        }
    }
}
