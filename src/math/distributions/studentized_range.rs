//! Studentised range: the largest minus the smallest of `groups` independent normal values, over an independent estimate of
//! their standard deviation with `df` degrees of freedom.
//!
//! With z the smallest value, A = P(Z > z) and B = P(z < Z <= z + w), k groups, the range W of unit normals has
//! P(W <= w) = k int phi(z) B^(k-1) dz and P(W > w) = k int phi(z) (A^(k-1) - B^(k-1)) dz. The difference is
//! P(Z > z + w) (A^(k-2) + A^(k-3) B + ... + B^(k-2)), a sum of positive terms, so that neither tail loses digits. The
//! expectation over the scale and both integrals use the trapezoidal rule.
//!
//! Checked for 2 to 200 groups and df from 1 to infinity against 33-digit integrals: relative error below 1e-10 in both tails,
//! down to 1e-20.
//!
//! # References
//! Tukey 1953, The problem of multiple comparisons; Hartley 1942, Biometrika 32:334-348 (the range);
//! Copenhaver & Holland 1988, J. Statist. Comput. Simul. 30:1-15 (accuracy).

use super::chi_mixture::ChiMixture;
use super::normal_table::{NormalTable, density};
use super::student_t;

/// The smaller of the tails asked for is computed directly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tail {
    Lower,
    Upper,
}

/// Step in z for two groups; the error of the rule stays below 1e-13.
const RANGE_STEP: f64 = 0.42;

fn valid(groups: usize, df: f64) -> bool {
    groups >= 2 && df >= 1.0
}

/// P(Q <= q) for `groups` >= 2 and `df` >= 1 (infinity allowed; NaN otherwise).
///
/// ```
/// use rootling::math::distributions::{student_t, studentized_range};
/// // Two groups: Q = sqrt 2 |T|.
/// let got = studentized_range::cdf(3.0, 2, 10.0);
/// approx::assert_abs_diff_eq!(got, 1.0 - student_t::two_sided(3.0 / 2.0_f64.sqrt(), 10.0), epsilon = 1e-12);
/// ```
#[must_use]
pub fn cdf(q: f64, groups: usize, df: f64) -> f64 {
    if !valid(groups, df) || q.is_nan() {
        return f64::NAN;
    }
    if q <= 0.0 {
        return 0.0;
    }
    let lower = tail(Tail::Lower, q, groups, df);
    if lower < 0.5 { lower } else { 1.0 - tail(Tail::Upper, q, groups, df) }
}

/// P(Q > q), the adjusted P value of a pairwise difference: relative accuracy in the tail.
///
/// ```
/// // Upper 5 % point of 3 groups with 10 degrees of freedom: 3.877 (Pearson & Hartley 1970, table 29, from memory).
/// let got = rootling::math::distributions::studentized_range::sf(3.877, 3, 10.0);
/// approx::assert_relative_eq!(got, 0.05, epsilon = 0.0, max_relative = 1e-3);
/// ```
#[must_use]
pub fn sf(q: f64, groups: usize, df: f64) -> f64 {
    if !valid(groups, df) || q.is_nan() {
        return f64::NAN;
    }
    if q <= 0.0 {
        return 1.0;
    }
    let upper = tail(Tail::Upper, q, groups, df);
    if upper < 0.5 { upper } else { 1.0 - tail(Tail::Lower, q, groups, df) }
}

/// q with P(Q <= q) = p.
///
/// ```
/// use rootling::math::distributions::studentized_range::{quantile, sf};
/// let q = quantile(0.95, 8, 20.0);
/// approx::assert_relative_eq!(sf(q, 8, 20.0), 0.05, epsilon = 0.0, max_relative = 1e-9);
/// ```
#[must_use]
pub fn quantile(p: f64, groups: usize, df: f64) -> f64 {
    if p > 0.5 { solve(Tail::Upper, 1.0 - p, groups, df) } else { solve(Tail::Lower, p, groups, df) }
}

/// q with P(Q > q) = p.
#[must_use]
pub fn isf(p: f64, groups: usize, df: f64) -> f64 {
    if p > 0.5 { solve(Tail::Lower, 1.0 - p, groups, df) } else { solve(Tail::Upper, p, groups, df) }
}

fn tail(side: Tail, q: f64, groups: usize, df: f64) -> f64 {
    if q == f64::INFINITY {
        return if side == Tail::Lower { 1.0 } else { 0.0 };
    }
    let range = Range::new(groups);
    ChiMixture::new(df, q, groups as f64, |w| range.tail(side, w)).value(q.ln()).min(1.0)
}

fn solve(side: Tail, p: f64, groups: usize, df: f64) -> f64 {
    if !valid(groups, df) || !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p == 0.0 {
        return if side == Tail::Lower { 0.0 } else { f64::INFINITY };
    }
    let start = rough(side, p, groups, df);
    let range = Range::new(groups);
    let mut mixture = ChiMixture::new(df, start, groups as f64, |w| range.tail(side, w));
    mixture.solve(p, start.ln(), side == Tail::Lower).map_or(f64::NAN, f64::exp)
}

/// A start: every pair on its own share of the upper tail, or every gap on its share of the lower one.
fn rough(side: Tail, p: f64, groups: usize, df: f64) -> f64 {
    let k = groups as f64;
    let pairs = 0.5 * k * (k - 1.0);
    let upper = if side == Tail::Upper { p } else { 1.0 - p };
    if upper < 0.9 {
        return -std::f64::consts::SQRT_2 * student_t::quantile(0.5 * upper / pairs, df);
    }
    // Density near 0: P(W <= w) = k^(1/2) (w / sqrt(2 pi))^(k-1) (1 + O(w^2)).
    let lower = if side == Tail::Lower { p } else { 1.0 - p };
    ((lower.ln() - 0.5 * k.ln()) / (k - 1.0)).exp() * std::f64::consts::TAU.sqrt()
}

/// Tails of the range of `groups` unit normals.
struct Range {
    groups: usize,
    step: f64,
    /// Number of the first lattice point.
    first: i32,
    /// At each lattice point z: density, P(Z > z), P(Z <= z).
    lattice: Vec<(f64, f64, f64)>,
    table: NormalTable,
}

/// Below this width P(z < Z <= z + w) is the density in the middle times w, bent: a difference of tails would lose the digits of w, and the
/// next term is below 1e-12.
const NARROW: f64 = 1e-3;

/// Lattice ends: terms beyond are below 1e-17 of the sum while w < 60, where the tail itself is below 1e-390.
const LOW: f64 = -31.0;
const HIGH: f64 = 9.4;

impl Range {
    fn new(groups: usize) -> Self {
        // The smallest of k values has a spread of about 1 / sqrt(2 ln k).
        let step = RANGE_STEP / (1.0 + 0.35 * (groups as f64).ln());
        let table = NormalTable::get();
        let first = (LOW / step).floor() as i32;
        let last = (HIGH / step).ceil() as i32;
        let point = |z: f64| (density(z), table.sf(z), table.sf(-z));
        let lattice = (first..=last).map(|i| point(step * f64::from(i))).collect();
        Self { groups, step, first, lattice, table }
    }

    fn tail(&self, side: Tail, w: f64) -> f64 {
        let (low, high) = match side {
            Tail::Upper => (-(0.5 * w * w + 80.0).sqrt(), 6.6 - 0.5 * w),
            Tail::Lower => (-HIGH, HIGH),
        };
        let place = |z: f64| usize::try_from((z / self.step) as i32 - self.first).unwrap_or(0);
        let (from, to) = (place(low), place(high));
        let points = self.lattice.iter().enumerate().take(to + 1).skip(from);
        let sum: f64 =
            points.map(|(i, at)| self.term(side, self.step * f64::from(self.first + i as i32), *at, w)).sum();
        sum * self.step * self.groups as f64
    }

    fn term(&self, side: Tail, z: f64, (density, above, below): (f64, f64, f64), w: f64) -> f64 {
        let m = self.groups - 1;
        match side {
            Tail::Upper => {
                let beyond = self.table.sf(z + w);
                density * beyond * power_quotient(above, above - beyond, m)
            }
            Tail::Lower if w < NARROW => {
                let middle = z + 0.5 * w;
                let bend = (middle * middle - 1.0) * w * w / 24.0;
                density * power(self::density(middle) * w * (1.0 + bend), m)
            }
            Tail::Lower if z + 0.5 * w > 0.0 => density * power(above - self.table.sf(z + w), m),
            Tail::Lower => density * power(self.table.sf(-z - w) - below, m),
        }
    }
}

fn power(base: f64, exponent: usize) -> f64 {
    base.powi(i32::try_from(exponent).unwrap_or(i32::MAX))
}

/// (a^m - b^m) / (a - b) for a >= b >= 0 by doubling: sums of positive terms only.
fn power_quotient(a: f64, b: f64, m: usize) -> f64 {
    let (mut quotient, mut pa, mut pb) = (1.0, a, b);
    let bits = usize::BITS - m.leading_zeros();
    for bit in (0..bits.saturating_sub(1)).rev() {
        quotient *= pa + pb;
        pa *= pa;
        pb *= pb;
        if m >> bit & 1 == 1 {
            quotient = pa + b * quotient;
            pa *= a;
            pb *= b;
        }
    }
    quotient
}
