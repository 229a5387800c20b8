//! The likelihood of one batch along a shift of its logit: at all nodes of a table at once, and its slope at one shift.

use crate::math::distributions::beta_binomial::ln_product;
use crate::math::special::expit;

/// One batch in the likelihood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Counted {
    pub(super) started: f64,
    pub(super) alive: f64,
    pub(super) logit: f64,
}

/// Up to this many plants the products are walked factor by factor, at all nodes side by side.
const WALKED: f64 = 256.0;
/// Factors between two looks at whether a product is about to leave the range.
const BETWEEN_LOOKS: usize = 4;

/// Adds ln of the likelihood of a batch, without its constant, at every node; `odds` is exp of the nodes' shifts.
pub(super) fn add_likelihood<const NODES: usize>(
    batch: &Counted,
    g: f64,
    odds: &[f64; NODES],
    into: &mut [f64; NODES],
) {
    let own = batch.logit.exp();
    let alive = odds.map(|shifted| own * shifted / (1.0 + own * shifted));
    let dead = odds.map(|shifted| 1.0 / (1.0 + own * shifted));
    let all = ln_product(1.0, batch.started, g);
    let n_dead = batch.started - batch.alive;
    if batch.started > WALKED {
        for (sum, (alive, dead)) in into.iter_mut().zip(alive.iter().zip(&dead)) {
            *sum += ln_product(*alive, batch.alive, g) + ln_product(*dead, n_dead, g) - all;
        }
        return;
    }
    let (mut sums, mut products) = ([-all; NODES], [1.0; NODES]);
    multiply(&mut sums, &mut products, &alive, batch.alive as usize, g);
    multiply(&mut sums, &mut products, &dead, n_dead as usize, g);
    for (sum, (one, product)) in into.iter_mut().zip(sums.iter().zip(&products)) {
        *sum += one + product.ln();
    }
}

/// Multiplies each product by base (base + g) ... (base + (count - 1) g), and takes to the sum what would leave the range.
fn multiply<const NODES: usize>(
    sums: &mut [f64; NODES],
    products: &mut [f64; NODES],
    bases: &[f64; NODES],
    count: usize,
    g: f64,
) {
    for i in 0..count {
        let off = g * i as f64;
        products.iter_mut().zip(bases).for_each(|(product, base)| *product *= base + off);
        if i % BETWEEN_LOOKS != 0 {
            continue;
        }
        for (sum, product) in sums.iter_mut().zip(products.iter_mut()) {
            if !(1e-120..=1e120).contains(product) {
                *sum += product.ln();
                *product = 1.0;
            }
        }
    }
}

/// First derivative by the logit of ln of the likelihood of one batch.
pub(super) fn slope(batch: &Counted, shift: f64, g: f64) -> f64 {
    let rate = expit(batch.logit + shift);
    // With no correlation the sums are counts over rates.
    rate * (1.0 - rate)
        * (sum_of_inverses(rate, batch.alive, g) - sum_of_inverses(1.0 - rate, batch.started - batch.alive, g))
}

/// Terms of a long sum that are taken one by one; the rest follows from its integral.
const FIRST: f64 = 32.0;

/// 1 / base + 1 / (base + g) + ... + 1 / (base + (count - 1) g).
///
/// A long sum is its first terms and the formula of Euler and Maclaurin: with u + g t, t from 0 to N, the integral, half the difference of
/// the ends and three corrections by derivatives; since u is more than 32 g the next is below 1e-14 of a term.
fn sum_of_inverses(base: f64, count: f64, g: f64) -> f64 {
    let walked = if count > WALKED { FIRST } else { count };
    let (mut sum, mut i) = (0.0, 0.0);
    while i < walked {
        sum += 1.0 / (g * i + base);
        i += 1.0;
    }
    let left = count - walked;
    if left <= 0.0 {
        return sum;
    }
    let (first, last) = (g * walked + base, g * count + base);
    let integral = if g > 0.0 { (g * left / first).ln_1p() / g } else { left / first };
    let between = |power: i32| first.powi(-power) - last.powi(-power);
    sum + integral + between(1) / 2.0 + g * between(2) / 12.0 - g.powi(3) * between(4) / 120.0
        + g.powi(5) * between(6) / 252.0
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::{Counted, add_likelihood, slope, sum_of_inverses};
    use crate::math::distributions::beta_binomial::ln_pmf;
    use crate::math::special::{expit, ln_choose};

    const SHIFTS: [f64; 5] = [-3.0, -0.5, 0.0, 0.75, 3.0];

    fn along(batch: &Counted, g: f64) -> [f64; 5] {
        let mut sums = [0.0; 5];
        add_likelihood(batch, g, &SHIFTS.map(f64::exp), &mut sums);
        sums
    }

    #[test]
    fn likelihood_along_nodes_is_that_of_the_law_itself() {
        for (started, alive, logit) in
            [(20.0, 17.0, 1.5), (20.0, 0.0, -2.0), (250.0, 250.0, 4.0), (3000.0, 2100.0, 0.8)]
        {
            for g in [0.0_f64, 1e-7, 0.02, 0.4] {
                let got = along(&Counted { started, alive, logit }, g);
                for (shift, value) in SHIFTS.iter().zip(got) {
                    let wanted =
                        ln_pmf(alive, started, expit(logit + shift), g / (1.0 + g)) - ln_choose(started, alive);
                    assert_relative_eq!(value, wanted, epsilon = 1e-13, max_relative = 1e-11);
                }
            }
        }
    }

    #[test]
    fn slope_is_that_of_the_likelihood() {
        // A sixth-order difference of the law's logarithm, from batches that are walked and from long ones.
        for (started, alive) in [(20.0, 15.0), (250.0, 10.0), (40_000.0, 31_000.0)] {
            for g in [0.0_f64, 1e-6, 0.03] {
                let (logit, h) = (1.1, 1e-2);
                let at = |off: f64| ln_pmf(alive, started, expit(logit + off), g / (1.0 + g));
                let pair = |k: f64| at(k * h) - at(-k * h);
                let wanted = (45.0 * pair(1.0) - 9.0 * pair(2.0) + pair(3.0)) / (60.0 * h);
                let got = slope(&Counted { started, alive, logit }, 0.0, g);
                assert_relative_eq!(got, wanted, epsilon = 1e-7, max_relative = 1e-7);
            }
        }
    }

    #[test]
    fn long_sums_are_those_walked() {
        for (base, g) in [(0.9, 0.0), (0.9, 1e-9), (0.3, 0.02), (1e-3, 0.6), (0.02, 3.0)] {
            let walked: f64 = (0..70_000).map(|i| 1.0 / (base + g * f64::from(i))).sum();
            assert_relative_eq!(sum_of_inverses(base, 70_000.0, g), walked, max_relative = 1e-11, epsilon = 0.0);
        }
    }
}
