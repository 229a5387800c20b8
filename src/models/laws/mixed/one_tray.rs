//! The log-density of one tray's count under either law, for rates that are not linear in their parameters.

use super::beta_likelihood::terms;
use super::logit_tray::logit_tray;
use super::tray_terms::TrayTerms;
use crate::math::regression::Link;
use crate::math::special::{Rising, RisingSums};

/// A law of the trays of one treatment. Densities are even in the spread, so a spread of 0 (the binomial law) is an ordinary point.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum TrayDensity {
    /// Beta-binomial; the spread is `sqrt(rho / (1 - rho))`.
    Beta(Rising),
    /// A normal effect of the tray on the log odds, integrated out to rounding; the spread is its standard deviation.
    Random,
}

impl TrayDensity {
    /// The beta-binomial law for these numbers of cuttings (and all that are no larger than 32).
    pub(crate) fn beta(counts: impl Iterator<Item = f64>) -> Self {
        Self::Beta(Rising::of(counts))
    }

    /// True for normal effects: their rates over all trays differ from that of a typical tray.
    pub(crate) fn is_random(&self) -> bool {
        matches!(self, Self::Random)
    }

    /// What a tray of `m` cuttings takes from its log-density whatever its rate: value and derivatives by the spread.
    pub(crate) fn whole(&self, m: f64, s: f64) -> TrayTerms {
        let Self::Beta(rising) = self else { return TrayTerms::default() };
        let (t, whole) = (s * s, rising.sums(m, 1.0, 0.0, s * s));
        let ss = 2.0 * whole.slope - 4.0 * t * whole.slope_square;
        TrayTerms { value: whole.ln, s: 2.0 * s * whole.slope, ss, ..TrayTerms::default() }
    }

    /// Without [`TrayDensity::whole`]: `y` rooted of `m` where a typical tray (random) or all trays together (beta-binomial) have the log odds `eta`.
    pub(crate) fn at(&self, eta: f64, (y, m): (f64, f64), s: f64) -> TrayTerms {
        match self {
            Self::Beta(rising) => {
                let t = s * s;
                let one = terms(rising, &Link::Logit.at(eta), (y, m, t), &RisingSums::default());
                TrayTerms {
                    value: one.value,
                    e: one.e,
                    ee: one.ee,
                    s: 2.0 * s * one.t,
                    ss: 2.0 * one.t + 4.0 * t * one.tt,
                    es: 2.0 * s * one.et,
                }
            }
            Self::Random => logit_tray((y, m), eta, s),
        }
    }
}
