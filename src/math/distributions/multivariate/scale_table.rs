//! The studentising scale S = sqrt(chi-squared / df) as a function of a normal score, tabulated.

use super::points::{LANES, Lanes};
use crate::math::distributions::chi_mixture::ln_scale_density;
use crate::math::distributions::normal_table::{NormalTable, density};
use crate::math::distributions::{chi_squared, normal};

const REACH: f64 = 8.25;
const PER_UNIT: f64 = 8.0;

/// Maps a uniform number to S: cubic pieces for ln S against the normal score, slopes exact; relative error below 1e-6.
pub(crate) struct ScaleTable {
    /// ln S and its slope at -REACH, ...; empty for infinite df.
    at: Vec<(f64, f64)>,
    table: NormalTable,
}

impl ScaleTable {
    pub(crate) fn new(df: f64) -> Self {
        let last = if df == f64::INFINITY { -1 } else { (2.0 * REACH * PER_UNIT) as i32 };
        let point = |i: i32| {
            let score = f64::from(i) / PER_UNIT - REACH;
            let square = if score < 0.0 {
                chi_squared::quantile(normal::cdf(score), df)
            } else {
                chi_squared::isf(normal::sf(score), df)
            };
            let t = 0.5 * (square / df).ln();
            (t, density(score) / ln_scale_density(t, df).exp())
        };
        Self { at: (0..=last).map(point).collect(), table: NormalTable::get() }
    }

    /// True when S is random, so that a coordinate is needed.
    pub(crate) fn is_random(&self) -> bool {
        !self.at.is_empty()
    }

    /// The scales of the first coordinate, if S is random, and the coordinates left.
    pub(crate) fn split<'a>(&self, point: &'a [Lanes]) -> (Lanes, &'a [Lanes]) {
        match point.split_first() {
            Some((first, rest)) if self.is_random() => (first.map(|x| self.scale(x)), rest),
            _ => ([1.0; LANES], point),
        }
    }

    /// S at the point with probability `x` below it.
    #[inline]
    fn scale(&self, x: f64) -> f64 {
        let score = -self.table.isf(x.clamp(1e-15, 1.0 - 1e-15));
        let place = (score + REACH) * PER_UNIT;
        let index = place.max(0.0) as usize;
        let u = place - index as f64;
        let (Some((a, slope_a)), Some((b, slope_b))) = (self.at.get(index), self.at.get(index + 1)) else { return 1.0 };
        let (da, db) = (slope_a / PER_UNIT, slope_b / PER_UNIT);
        let v = 1.0 - u;
        let cubic = v * v * (a * (1.0 + 2.0 * u) + u * da) + u * u * (b * (1.0 + 2.0 * v) - v * db);
        cubic.exp()
    }
}
