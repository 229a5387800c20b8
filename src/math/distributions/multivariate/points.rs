//! Quasi-random points with random shifts.
//!
//! # References
//! Richtmyer 1951 (multiples of square roots of primes); Cranley & Patterson 1976, SIAM J. Numer. Anal. 13:904-914 (shifts);
//! Genz & Bretz 2009, Computation of Multivariate Normal and t Probabilities, section 4.2.

use crate::math::rng::{stream, uniform};

/// Points are evaluated this many at a time.
pub(crate) const LANES: usize = 8;
/// One coordinate of that many points.
pub(crate) type Lanes = [f64; LANES];

/// Independent random shifts, from whose spread the error is taken.
pub(crate) const SHIFTS: usize = 8;
/// 99 % point of Student's t with 7 degrees of freedom, two-sided: from standard error to error bound.
const BOUND: f64 = 3.499_483;

/// How exact an average must be, and how long it may take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precision {
    /// Absolute error of the probability that is good enough.
    pub absolute: f64,
    /// Relative error that is good enough; the looser of the two decides.
    pub relative: f64,
    /// Most points per probability (in [`Largest`](super::Largest): per node and statistic).
    pub most_points: u64,
    /// Seed of the shifts.
    pub seed: u64,
}

impl Default for Precision {
    /// 1e-5 absolute or 5e-4 relative, at most a million points, seed 1.
    fn default() -> Self {
        Self { absolute: 1e-5, relative: 5e-4, most_points: 1_000_000, seed: 1 }
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

/// The points of all shifts in `dimension` coordinates.
pub(crate) struct Points {
    steps: Vec<f64>,
    shifts: Vec<Vec<f64>>,
}

impl Points {
    /// Different `set`s have independent shifts, so that their errors average out.
    pub(crate) fn new(dimension: usize, seed: u64, set: u64) -> Self {
        let steps = primes(dimension).into_iter().map(|p| f64::from(p).sqrt().fract()).collect();
        let shifts = (0..SHIFTS as u64).map(|replicate| {
            let mut rng = stream(seed, set * SHIFTS as u64 + replicate);
            (0..dimension).map(|_| uniform(&mut rng)).collect()
        });
        Self { steps, shifts: shifts.collect() }
    }

    /// Sum of `f` over points `from..to` of one shift, [`LANES`] at a time and in order; each coordinate folded (2x or 2 - 2x),
    /// which doubles the order of convergence for smooth integrands. `f` sums over its lanes; from and to are multiples of `LANES`.
    pub(crate) fn sum(&self, shift: usize, from: u64, to: u64, mut f: impl FnMut(&[Lanes]) -> f64) -> f64 {
        let Some(shift) = self.shifts.get(shift) else { return f64::NAN };
        let mut point = vec![[0.0; LANES]; self.steps.len()];
        let mut total = 0.0;
        for first in (from..to).step_by(LANES) {
            for ((x, step), shift) in point.iter_mut().zip(&self.steps).zip(shift) {
                for (lane, x) in x.iter_mut().enumerate() {
                    let n = (first + lane as u64 + 1) as f64;
                    let turns = n * step + shift;
                    // The fraction by a cast: a rounding function is a call on the baseline processor.
                    *x = (2.0 * (turns - (turns as u64) as f64) - 1.0).abs();
                }
            }
            total += f(&point);
        }
        total
    }
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
