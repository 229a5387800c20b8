//! The normal tail and its inverse for loops that need millions of them: a table and Taylor's series between its points.
//!
//! Relative error below 2e-12 for the tail and 1e-9 for the inverse (`tests/rust/multiplicity.rs` holds them to it); single
//! values belong to [`normal`](super::normal), which keeps all digits.

use super::normal;
use std::sync::LazyLock;

/// The table covers -REACH to REACH; beyond it the exact routine answers.
const REACH: f64 = 10.0;
const PER_UNIT: f64 = 64.0;
const FRAC_1_SQRT_TAU: f64 = 0.398_942_280_401_432_7;

/// Tail and density at -REACH, -REACH + 1/64, ...
static TABLE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    let last = (2.0 * REACH * PER_UNIT) as i32;
    (0..=last).map(|i| f64::from(i) / PER_UNIT - REACH).map(|x| (normal::sf(x), density(x))).collect()
});

/// Standard normal density.
#[inline]
pub(crate) fn density(x: f64) -> f64 {
    FRAC_1_SQRT_TAU * (-0.5 * x * x).exp()
}

/// The table, fetched once outside the loop.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NormalTable(&'static [(f64, f64)]);

impl NormalTable {
    pub(crate) fn get() -> Self {
        Self(&TABLE)
    }

    /// P(X > x): Taylor's series to the sixth power about the nearest point, derivatives by Hermite polynomials.
    #[inline]
    pub(crate) fn sf(self, x: f64) -> f64 {
        // Casts instead of rounding functions, which are calls on the baseline processor; NaN and values outside give None.
        let place = (x + REACH) * PER_UNIT + 0.5;
        let index = if place >= 0.5 { place as usize } else { usize::MAX };
        let Some(&(tail, density)) = self.0.get(index) else { return normal::sf(x) };
        let at = index as f64 / PER_UNIT - REACH;
        let d = x - at;
        let h2 = at * at - 1.0;
        let h3 = at * (h2 - 2.0);
        let h4 = at * h3 - 3.0 * h2;
        let h5 = at * h4 - 4.0 * h3;
        let series = 1.0
            - d * (at / 2.0 - d * (h2 / 6.0 - d * (h3 / 24.0 - d * (h4 / 120.0 - d * (h5 / 720.0)))));
        tail - density * d * series
    }

    /// x with P(X > x) = p, 0 < p < 1: a start and one step of Halley's method.
    #[inline]
    pub(crate) fn isf(self, p: f64) -> f64 {
        if p > 0.5 { -self.upper(1.0 - p) } else { self.upper(p) }
    }

    #[inline]
    fn upper(self, p: f64) -> f64 {
        let place = p * STARTS;
        let index = place as usize;
        let x = match STARTING.get(index..index + 2) {
            Some(&[a, b]) if index >= LEAST_START => a + (b - a) * (place - index as f64),
            _ => normal::rough_isf(p.max(f64::MIN_POSITIVE).ln()),
        };
        let newton = (self.sf(x) - p) / density(x);
        x + newton / (1.0 - 0.5 * x * newton)
    }
}

/// Quantiles at multiples of 1 / STARTS up to 1/2, between which straight lines are good to 1e-3 from the `LEAST_START`th on.
static STARTING: LazyLock<Vec<f64>> =
    LazyLock::new(|| (0..=STARTS as usize / 2 + 1).map(|i| normal::isf(i as f64 / STARTS)).collect());
const STARTS: f64 = 1024.0;
const LEAST_START: usize = 10;
