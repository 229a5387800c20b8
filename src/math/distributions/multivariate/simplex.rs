//! The range of equal means in the directions of a family that may be all differences of as many means.

use super::points::{LANES, Lanes, along};
use crate::math::dense::{add_scaled, dot};

/// Turns towards the nearest rotation; each doubles the digits once near.
const TURNS: usize = 60;

/// One row per mean: the differences of two rows over the root of two are all differences of equal means.
#[derive(Debug, Clone)]
pub(super) struct Simplex {
    rows: Vec<Vec<f64>>,
}

impl Simplex {
    /// Turned as near as it goes to statistics that are taken for all pairs of means in the order 0 1, 0 2, .., 1 2, ..; none when their
    /// number and rank are not those of all pairs.
    pub(super) fn near(factor: &[Vec<f64>], rank: usize) -> Option<Self> {
        let groups = rank + 1;
        if groups < 3 || groups * (groups - 1) / 2 != factor.len() {
            return None;
        }
        let plain: Vec<Vec<f64>> = (0..groups).map(|i| (0..rank).map(|j| helmert(i, j)).collect()).collect();
        let pairs = (0..groups).flat_map(|i| (i + 1..groups).map(move |j| (i, j)));
        let mut towards = vec![vec![0.0; rank]; rank];
        for ((i, j), row) in pairs.zip(factor) {
            let sign = sign(factor, (i, j), row);
            let ends = plain.get(i)?.iter().zip(plain.get(j)?);
            for (line, (a, b)) in towards.iter_mut().zip(ends) {
                add_scaled(line, sign * (a - b), row);
            }
        }
        let turn = nearest_rotation(towards)?;
        let turned = |row: &Vec<f64>| {
            let mut out = vec![0.0; rank];
            row.iter().zip(&turn).for_each(|(x, line)| add_scaled(&mut out, *x, line));
            out
        };
        Some(Self { rows: plain.iter().map(turned).collect() })
    }

    pub(super) fn groups(&self) -> usize {
        self.rows.len()
    }

    /// The range at several points, over the root of two.
    pub(super) fn range(&self, points: &[Lanes], scales: &Lanes) -> Lanes {
        let (mut low, mut high) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
        for row in &self.rows {
            for ((low, high), x) in low.iter_mut().zip(&mut high).zip(along(row, points)) {
                *low = low.min(x);
                *high = high.max(x);
            }
        }
        let mut out = [0.0; LANES];
        for ((out, scale), (low, high)) in out.iter_mut().zip(scales).zip(low.iter().zip(&high)) {
            *out = (high - low) * scale * std::f64::consts::FRAC_1_SQRT_2;
        }
        out
    }
}

/// Helmert's orthonormal contrasts: mean `i` in contrast `j`.
fn helmert(i: usize, j: usize) -> f64 {
    let size = (j + 1) as f64;
    let length = (size * (size + 1.0)).sqrt();
    if i <= j {
        1.0 / length
    } else if i == j + 1 {
        -size / length
    } else {
        0.0
    }
}

/// Which way round a difference was taken, told from those with the first mean: 0 j agrees with 0 1, and i j is opposed to 0 i.
fn sign(factor: &[Vec<f64>], (i, j): (usize, usize), row: &[f64]) -> f64 {
    let of_first =
        |j: usize| factor.get(j - 1).zip(factor.first()).map_or(1.0, |(row, first)| dot(row, first).signum());
    if i == 0 {
        return of_first(j);
    }
    factor.get(i - 1).map_or(1.0, |first| -dot(row, first).signum() * of_first(i))
}

/// The rotation nearest to a matrix, by Newton and Schulz; none when it does not settle.
fn nearest_rotation(mut x: Vec<Vec<f64>>) -> Option<Vec<Vec<f64>>> {
    let length = x.iter().map(|row| dot(row, row)).sum::<f64>().sqrt();
    x.iter_mut().flatten().for_each(|entry| *entry /= length);
    for _ in 0..TURNS {
        // X (3 - X'X) / 2, with X X' in place of X'X from the left.
        let inner: Vec<Vec<f64>> = x.iter().map(|a| x.iter().map(|b| dot(a, b)).collect()).collect();
        let off = inner.iter().enumerate().flat_map(|(i, row)| row.iter().enumerate().map(move |(j, v)| (i, j, v)));
        let off = off.map(|(i, j, v)| (v - f64::from(u8::from(i == j))).abs()).fold(0.0, f64::max);
        if off < 1e-12 {
            return Some(x);
        }
        let next = |(row, inner): (&Vec<f64>, &Vec<f64>)| {
            let mut out: Vec<f64> = row.iter().map(|v| 1.5 * v).collect();
            inner.iter().zip(&x).for_each(|(w, other)| add_scaled(&mut out, -0.5 * w, other));
            out
        };
        x = x.iter().zip(&inner).map(next).collect();
    }
    None
}
