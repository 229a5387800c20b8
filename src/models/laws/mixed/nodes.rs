//! Where integrands of random effects are looked at.

use crate::math::special::gauss_hermite;

/// Node counts tried in turn.
pub(super) const NODES: [usize; 10] = [5, 7, 11, 15, 21, 31, 45, 65, 95, 135];

/// Where an integrand is looked at, in units of its width around its mode.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Nodes {
    /// Gauss and Hermite's, with the log of their weight divided by the normal density (without its constant).
    Hermite(Vec<(f64, f64)>),
    /// Evenly spaced, outwards from the mode until nothing is left. The error falls off exponentially with their number
    /// also where the integrand is steep on one side, as where whole groups rooted (Trefethen and Weideman 2014, SIAM
    /// Review 56:385-458, section 5).
    Even(f64),
}

/// Above so many nodes they are evenly spaced.
const MOST_HERMITE: usize = 15;
/// Half the width, in standard deviations, over which a normal density falls by [`GONE`].
const HALF_WIDTH: f64 = 8.25;
/// Evenly spaced nodes end where the log of the integrand lies so far below its top.
const GONE: f64 = 34.0;
/// Evenly spaced nodes on one side at most.
const MOST_STEPS: usize = 500;

impl Nodes {
    /// So many nodes; of evenly spaced ones so many over a normal density.
    pub(super) fn new(n: usize) -> Self {
        if n > MOST_HERMITE {
            return Self::Even(2.0 * HALF_WIDTH / n as f64);
        }
        let rule = gauss_hermite(n);
        Self::Hermite(rule.nodes.iter().zip(&rule.weights).map(|(z, w)| (*z, w.ln() + 0.5 * z * z)).collect())
    }

    /// About how many there are.
    pub(super) fn count(&self) -> usize {
        match self {
            Self::Hermite(nodes) => nodes.len(),
            Self::Even(step) => (2.0 * HALF_WIDTH / step) as usize,
        }
    }

    /// Visits every node: its place and the log of its weight go in, the log of the integrand there (with the weight)
    /// comes out.
    pub(super) fn visit(&self, mut at: impl FnMut(f64, f64) -> f64) {
        match self {
            Self::Hermite(nodes) => nodes.iter().for_each(|(z, ln_weight)| {
                at(*z, *ln_weight);
            }),
            Self::Even(step) => {
                let ln_weight = step.ln() - 0.5 * (2.0 * std::f64::consts::PI).ln();
                let mut top = at(0.0, ln_weight);
                for side in [-1.0, 1.0] {
                    for k in 1..=MOST_STEPS {
                        let found = at(side * k as f64 * step, ln_weight);
                        top = top.max(found);
                        if found.is_nan() || found <= top - GONE {
                            break;
                        }
                    }
                }
            }
        }
    }
}
