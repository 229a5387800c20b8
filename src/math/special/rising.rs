//! Sums over `0 <= j < k` of functions of `c + j t`, from which rising products and their derivatives are made.
//!
//! Unlike differences of ln Gamma, digamma and trigamma at `c / t` they keep all their digits as `t` falls to 0, and are
//! plain powers at `t = 0`.

use std::collections::BTreeMap;

use super::quadrature::{Rule, gauss_sum};

/// Terms taken one by one.
const DIRECT: usize = 32;
/// Nodes per further block. In the block from `k` to `2 k` the pole of `1 / (c + j t)` is at least three half-widths from the
/// middle, so the rule's error is below (3 + sqrt 8)^-20 = 5e-16.
const NODES: usize = 10;

/// Sums over `0 <= j < k` with `r = c / (c + j t)`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RisingSums {
    /// `sum ln(c + j t)`.
    pub ln: f64,
    /// `sum r`.
    pub share: f64,
    /// `sum r^2`.
    pub share_square: f64,
    /// `sum j / (c + j t)`, the derivative of `ln` by `t`.
    pub slope: f64,
    /// `sum (j / (c + j t))^2`, minus the second derivative of `ln` by `t`.
    pub slope_square: f64,
    /// `sum r j / (c + j t)`.
    pub cross: f64,
}

/// How the sums of one trial are taken: a rule for every count above 32.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rising {
    rules: BTreeMap<usize, Rule>,
}

impl Rising {
    /// Prepares the rules for these counts.
    #[must_use]
    pub fn of(counts: impl Iterator<Item = f64>) -> Self {
        let mut rules = BTreeMap::new();
        for count in counts.filter(|k| *k > DIRECT as f64) {
            rules.entry(count as usize).or_insert_with_key(|k| rule(*k));
        }
        Self { rules }
    }

    /// The sums for `k` terms of `c + j t`; `ln_c` is `ln c` and `c > 0`, `t >= 0`.
    ///
    /// ```
    /// use rootling::math::special::Rising;
    /// let sums = Rising::default().sums(3.0, 0.5, 0.5_f64.ln(), 0.25);
    /// // 0.5 x 0.75 x 1 and 0 / 0.5 + 1 / 0.75 + 2 / 1
    /// approx::assert_abs_diff_eq!(sums.ln, 0.375_f64.ln(), epsilon = 1e-15);
    /// approx::assert_abs_diff_eq!(sums.slope, 10.0 / 3.0, epsilon = 1e-15);
    /// ```
    #[must_use]
    pub fn sums(&self, k: f64, c: f64, ln_c: f64, t: f64) -> RisingSums {
        if k < 1.0 {
            return RisingSums::default();
        }
        let mut sums = RisingSums { ln: ln_c, share: 1.0, share_square: 1.0, ..RisingSums::default() };
        let mut product = 1.0;
        for j in 1..DIRECT.min(k as usize) {
            let j = j as f64;
            let term = c + j * t;
            let inverse = 1.0 / term;
            sums.add(1.0, j, c * inverse, inverse);
            product *= term;
            if !(1e-150..1e150).contains(&product) {
                sums.ln += product.ln();
                product = 1.0;
            }
        }
        sums.ln += product.ln();
        if let Some(rule) = self.rules.get(&(k as usize)) {
            for (j, weight) in rule.nodes.iter().zip(&rule.weights) {
                let inverse = 1.0 / (c + j * t);
                sums.add(*weight, *j, c * inverse, inverse);
                sums.ln -= weight * inverse.ln();
            }
        }
        sums
    }

    /// Only `sum ln(c + j t)`.
    #[must_use]
    pub fn ln(&self, k: f64, c: f64, ln_c: f64, t: f64) -> f64 {
        if k < 1.0 {
            return 0.0;
        }
        let (mut ln, mut product) = (ln_c, 1.0);
        for j in 1..DIRECT.min(k as usize) {
            product *= c + j as f64 * t;
            if !(1e-150..1e150).contains(&product) {
                ln += product.ln();
                product = 1.0;
            }
        }
        ln += product.ln();
        if let Some(rule) = self.rules.get(&(k as usize)) {
            ln += rule.nodes.iter().zip(&rule.weights).map(|(j, w)| w * (c + j * t).ln()).sum::<f64>();
        }
        ln
    }
}

impl RisingSums {
    fn add(&mut self, weight: f64, j: f64, share: f64, inverse: f64) {
        let slope = j * inverse;
        self.share += weight * share;
        self.share_square += weight * share * share;
        self.slope += weight * slope;
        self.slope_square += weight * slope * slope;
        self.cross += weight * share * slope;
    }
}

/// Nodes and weights for `32 <= j < k`, block by block of doubling length.
fn rule(k: usize) -> Rule {
    let (mut nodes, mut weights) = (Vec::new(), Vec::new());
    let mut from = DIRECT;
    while from < k {
        crate::control::checkpoint();
        let count = from.min(k - from);
        let block = gauss_sum(count, NODES);
        nodes.extend(block.nodes.iter().map(|j| j + from as f64));
        weights.extend(block.weights);
        from += count;
    }
    Rule { nodes, weights }
}
