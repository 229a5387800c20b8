//! The normal tail and its inverse for loops that need millions of them: a table and Taylor's series between its points.
//!
//! Relative error below 2e-12 for the tail, absolute error 1e-7 for the inverse (`tests/rust/multiplicity.rs` holds them to it); single
//! values belong to [`normal`](super::normal), which keeps all digits.

use super::normal;
use std::sync::LazyLock;

/// The table covers -REACH to REACH; beyond it the exact routine answers.
const REACH: f64 = 9.25;
const PER_UNIT: f64 = 64.0;
const FRAC_1_SQRT_TAU: f64 = 0.398_942_280_401_432_7;

/// Tail and density at -REACH, -REACH + 1/64, ...
static TABLE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    let last = (2.0 * REACH * PER_UNIT) as i32;
    (0..=last).map(|i| f64::from(i) / PER_UNIT - REACH).map(|x| (normal::sf(x), density(x))).collect()
});

const QUANTILES_PER_UNIT: f64 = 1024.0;
/// Cubic pieces serve from this one on, p >= 1/64.
const LEAST_QUANTILE: usize = 16;

/// Upper quantiles at p = 0, 1/1024, ... a little beyond 1/2, and their slopes per step.
static QUANTILES: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    let point = |p: f64| {
        let x = normal::isf(p);
        (x, -1.0 / (density(x) * QUANTILES_PER_UNIT))
    };
    (0..=QUANTILES_PER_UNIT as usize / 2 + 1).map(|i| point(i as f64 / QUANTILES_PER_UNIT)).collect()
});

/// Standard normal density.
#[inline]
pub(crate) fn density(x: f64) -> f64 {
    FRAC_1_SQRT_TAU * (-0.5 * x * x).exp()
}

/// The table, fetched once outside the loop.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NormalTable {
    tails: &'static [(f64, f64)],
    quantiles: &'static [(f64, f64)],
}

impl NormalTable {
    pub(crate) fn get() -> Self {
        Self { tails: &TABLE, quantiles: &QUANTILES }
    }

    /// P(X > x): Taylor's series to the sixth power about the nearest point, derivatives by Hermite polynomials.
    #[inline]
    pub(crate) fn sf(self, x: f64) -> f64 {
        // Casts instead of rounding functions, which are calls on the baseline processor; NaN and values outside give None.
        let place = (x + REACH) * PER_UNIT + 0.5;
        let index = if place >= 0.5 { place as u32 as usize } else { usize::MAX };
        let Some(&(tail, density)) = self.tails.get(index) else { return normal::sf(x) };
        let at = index as f64 / PER_UNIT - REACH;
        let d = x - at;
        let h2 = at * at - 1.0;
        let h3 = at * (h2 - 2.0);
        let h4 = at * h3 - 3.0 * h2;
        let h5 = at * h4 - 4.0 * h3;
        let series = 1.0
            - d * (at * (1.0 / 2.0)
                - d * (h2 * (1.0 / 6.0) - d * (h3 * (1.0 / 24.0) - d * (h4 * (1.0 / 120.0) - d * h5 * (1.0 / 720.0)))));
        tail - density * d * series
    }

    /// P(X > x) to 1e-6 relative and 1e-10 absolute: Taylor's series to the third power.
    #[inline]
    pub(crate) fn rough_sf(self, x: f64) -> f64 {
        let place = (x + REACH) * PER_UNIT + 0.5;
        let index = if place >= 0.5 { place as u32 as usize } else { usize::MAX };
        let Some(&(tail, density)) = self.tails.get(index) else { return normal::sf(x) };
        let at = index as f64 / PER_UNIT - REACH;
        let d = x - at;
        tail - density * d * (1.0 - d * (at * (1.0 / 2.0) - d * ((at * at - 1.0) * (1.0 / 6.0))))
    }

    /// x with P(X > x) = p, 0 < p < 1.
    #[inline]
    pub(crate) fn isf(self, p: f64) -> f64 {
        let (near, sign) = if p > 0.5 { (1.0 - p, -1.0) } else { (p, 1.0) };
        let place = near * QUANTILES_PER_UNIT;
        let index = place as u32 as usize;
        let Some(&[(a, da), (b, db)]) = self.quantiles.get(index..index + 2) else { return f64::NAN };
        if index < LEAST_QUANTILE {
            return sign * self.far(near);
        }
        let u = place - index as f64;
        let v = 1.0 - u;
        sign * (v * v * (a + u * (2.0 * a + da)) + u * u * (b + v * (2.0 * b - db)))
    }

    /// A rational start and one step of Halley's method.
    #[cold]
    fn far(self, p: f64) -> f64 {
        let x = normal::rough_isf(p.max(f64::MIN_POSITIVE).ln());
        let newton = (self.sf(x) - p) / density(x);
        x + newton / (1.0 - 0.5 * x * newton)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{abs_diff_eq, relative_eq};

    #[test]
    fn tables_hold_what_they_promise() {
        let table = NormalTable::get();
        for i in -9_240..=9_240 {
            let x = f64::from(i) * 1e-3 + 3e-4;
            let exact = normal::sf(x);
            assert!(relative_eq!(table.sf(x), exact, epsilon = 0.0, max_relative = 2e-12), "{x}");
            assert!(abs_diff_eq!(table.rough_sf(x), exact, epsilon = 1e-10), "{x}");
            if x < 8.0 {
                assert!(relative_eq!(table.rough_sf(x), exact, epsilon = 0.0, max_relative = 1e-6), "{x}");
            }
        }
        for i in 1..100_000 {
            let p = f64::from(i) * 1e-5;
            assert!(abs_diff_eq!(table.isf(p), normal::isf(p), epsilon = 1e-7), "{p}");
        }
        for p in [1e-300, 1e-50, 1e-10, 1e-3] {
            assert!(relative_eq!(table.isf(p), normal::isf(p), epsilon = 0.0, max_relative = 1e-7), "{p}");
        }
    }
}
