//! Lattice points with random shifts.
//!
//! # References
//! Sloan & Joe 1994, Lattice Methods for Multiple Integration; Hickernell 2002 (folding); Cranley & Patterson 1976, SIAM J. Numer. Anal. 13:904-914 (shifts);
//! Genz & Bretz 2009, Computation of Multivariate Normal and t Probabilities, section 4.2.

use super::vectors::VECTORS;
use crate::error::Result;
use crate::math::distributions::rng::{stream, uniform};

/// Points are evaluated this many at a time.
pub(crate) const LANES: usize = 8;
/// One coordinate of that many points.
pub(crate) type Lanes = [f64; LANES];

/// Products of a row with several points.
#[inline]
pub(super) fn along(row: &[f64], points: &[Lanes]) -> Lanes {
    let mut sums = [0.0; LANES];
    for (a, z) in row.iter().zip(points) {
        for (sum, z) in sums.iter_mut().zip(z) {
            *sum += a * z;
        }
    }
    sums
}

/// Independent random shifts, from whose spread the error is taken.
pub(crate) const SHIFTS: usize = 8;
/// 99 % point of Student's t with 7 degrees of freedom, two-sided: from standard error to error bound.
const BOUND: f64 = 3.499_483;

/// How exact an average must be, and how long it may take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precision {
    /// Absolute error of the probability that is good enough.
    pub absolute: f64,
    /// Error relative to the probability, or its complement where that is smaller, that is good enough; the looser of the two
    /// decides.
    pub relative: f64,
    /// Most points per probability (in [`Largest`](super::Largest): per node and statistic).
    pub most_points: u64,
    /// Seed of the shifts.
    pub seed: u64,
}

impl Default for Precision {
    /// 1e-5 absolute or 2e-3 relative (a P value of 0.05 to 0.0001), at most a million points, seed 1.
    fn default() -> Self {
        Self { absolute: 1e-5, relative: 2e-3, most_points: 1_000_000, seed: 1 }
    }
}

/// A probability with the error of its computation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probability {
    /// The probability.
    pub value: f64,
    /// Error bound at about 99 % confidence; 0 where a closed form was used.
    pub error: f64,
    /// Points used.
    pub points: u64,
    /// True when the error is within what was asked for.
    pub reached: bool,
}

impl Probability {
    pub(crate) fn exact(value: f64) -> Self {
        Self { value, error: 0.0, points: 0, reached: true }
    }
}

/// Mean of the shift means and its error bound.
pub(crate) fn mean_and_error(means: &[f64]) -> (f64, f64) {
    let n = means.len() as f64;
    let mean = means.iter().sum::<f64>() / n;
    let squares: f64 = means.iter().map(|m| (m - mean) * (m - mean)).sum();
    (mean, BOUND * (squares / (n * (n - 1.0))).sqrt())
}

/// Lattice rounds: round r has 8, 16, ... points per shift; rounds beyond the last size repeat it under new shifts.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Points {
    dimension: usize,
    seed: u64,
    set: u64,
}

impl Points {
    /// Different `set`s have independent shifts, so that their errors average out.
    pub(crate) fn new(dimension: usize, seed: u64, set: u64) -> Self {
        Self { dimension, seed, set }
    }

    /// Points of each shift in a round.
    pub(crate) fn size(round: usize) -> u64 {
        (LANES as u64) << round.min(VECTORS.len() - 1)
    }

    /// Mean of `f` over the points of one shift in a round, [`LANES`] at a time and in order; each coordinate folded (2x or
    /// 2 - 2x), which doubles the order of convergence for smooth integrands. `f` sums over its lanes.
    pub(crate) fn mean(&self, shift: usize, round: usize, mut f: impl FnMut(&[Lanes]) -> f64) -> f64 {
        let size = Self::size(round);
        let again = (round + 1).saturating_sub(VECTORS.len()) as u64;
        let mut rng = stream(self.seed, (again << 40) + self.set * SHIFTS as u64 + shift as u64);
        let shifts: Vec<f64> = (0..self.dimension).map(|_| uniform(&mut rng)).collect();
        let steps = steps(self.dimension, round.min(VECTORS.len() - 1), size);
        let mut point = vec![[0.0; LANES]; self.dimension];
        let mut total = 0.0;
        for first in (0..size).step_by(LANES) {
            for ((x, step), shift) in point.iter_mut().zip(&steps).zip(&shifts) {
                for (lane, x) in x.iter_mut().enumerate() {
                    let turns = (first + lane as u64) as f64 * step + shift;
                    // The fraction by a cast: a rounding function is a call on the baseline processor.
                    *x = (2.0 * (turns - (turns as u64) as f64) - 1.0).abs();
                }
            }
            total += f(&point);
        }
        total / size as f64
    }
}

/// Generating vector over the number of points; roots of primes beyond its 100 coordinates.
fn steps(dimension: usize, round: usize, size: u64) -> Vec<f64> {
    let vector: &[u16] = VECTORS.get(round).map_or(&[], |vector| vector);
    let beyond = primes(dimension.saturating_sub(vector.len())).into_iter().map(|p| f64::from(p).sqrt().fract());
    vector.iter().map(|z| f64::from(*z) / size as f64).chain(beyond).take(dimension).collect()
}

/// Rounds until `enough(mean, error)`, or until another would exceed `most_points`.
pub(crate) struct Settled {
    /// Mean of each shift.
    pub means: Vec<f64>,
    pub points: u64,
    pub reached: bool,
}

/// Runs rounds from `first` on; `round` gives the means of all shifts.
pub(crate) fn settle(
    first: usize,
    most_points: u64,
    enough: impl Fn(f64, f64) -> bool,
    mut round: impl FnMut(usize) -> Result<Vec<f64>>,
) -> Result<Settled> {
    let mut means = vec![0.0; SHIFTS];
    let mut points = 0;
    for number in first.. {
        let again = (number + 1).saturating_sub(VECTORS.len()) as f64;
        for (mean, new) in means.iter_mut().zip(round(number)?) {
            // Rounds of the last size are averaged; smaller ones are left behind.
            *mean = (*mean * again + new) / (again + 1.0);
        }
        points += Points::size(number) * SHIFTS as u64;
        let (value, error) = mean_and_error(&means);
        let reached = enough(value, error);
        if reached || points + Points::size(number + 1) * SHIFTS as u64 > most_points {
            return Ok(Settled { means, points, reached });
        }
    }
    Ok(Settled { means, points, reached: false })
}

fn primes(count: usize) -> Vec<u32> {
    let mut found: Vec<u32> = Vec::with_capacity(count);
    let mut next = 2;
    while found.len() < count {
        if found.iter().take_while(|p| *p * *p <= next).all(|p| next % p != 0) {
            found.push(next);
        }
        next += 1;
    }
    found
}
