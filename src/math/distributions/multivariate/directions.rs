//! The largest of correlated |t| statistics by directions, for few dimensions.
//!
//! T = (radius / S) A u with u uniform on the sphere of as many dimensions as the correlation has rank, and radius^2 / S^2 rank times F.
//! Given a direction, P(max |T_j| > t) = P(rank F > t^2 / w^2) with w = max |a_j u|, a smooth function of w; so one set of directions
//! serves every t. With the next |a_j u| beside the largest, the part that a sum over all statistics counts too often is averaged
//! instead, which is small in the tail: small P values keep their digits. Both averages are joined, the second with the greater weight
//! the smaller the sum is.
//!
//! # References
//! Deak 1980, Numerische Mathematik 35:369-380 (directions); Genz & Bretz 2009, Computation of Multivariate Normal and t
//! Probabilities, section 4.

use super::points::{LANES, Points, Precision, SHIFTS, mean_and_error};
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::fisher_f;
use crate::math::distributions::normal_table::NormalTable;
use rayon::prelude::*;

/// Most dimensions: beyond, the length of T hardly varies and directions help no more.
const MOST_RANK: usize = 12;
/// Stretches of 0 to 1 over which |a_j u| is counted, each value shared by its two neighbours.
const BINS: usize = 512;
/// Lattice of the first round: 8 << 6 points per shift.
const FIRST_ROUND: usize = 6;
/// Variance left below which a statistic is a combination of others.
const DEPENDENT: f64 = 1e-9;
/// ln(t / w) covered by the table of the tail, and points per unit of it.
const FROM: f64 = -8.0;
const TO: f64 = 12.0;
const PER_UNIT: f64 = 32.0;

/// How often |a_j u| came near each value, by shift, and on average as last entry.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Directions {
    /// Of the largest.
    largest: Vec<Vec<f64>>,
    /// Of all others.
    others: Vec<Vec<f64>>,
    /// ln P(rank F > y^2) at y = exp(FROM), ...
    tail: Vec<f64>,
    pub(super) points: u64,
    pub(super) reached: bool,
}

impl Directions {
    /// None when the matrix has too many dimensions. `alone` gives the tail of one statistic, `at` the t values at which the error
    /// is looked at.
    pub(super) fn new(
        correlation: &[Vec<f64>],
        dof: f64,
        (alone, at): (impl Fn(f64) -> f64, &[f64]),
        precision: &Precision,
        control: &Control,
    ) -> Result<Option<Self>> {
        let Some((rows, rank)) = factor(correlation) else { return Ok(None) };
        let mut found =
            Self { largest: Vec::new(), others: Vec::new(), tail: table(rank as f64, dof), points: 0, reached: false };
        let bounds: Vec<f64> = at.iter().map(|t| alone(*t) * rows.len() as f64).collect();
        for round in FIRST_ROUND.. {
            let points = Points::new(rank, precision.seed, 0);
            let counts: Vec<(Vec<f64>, Vec<f64>)> = (0..SHIFTS)
                .into_par_iter()
                .map(|shift| {
                    control.step()?;
                    Ok(count(&rows, &points, (shift, round)))
                })
                .collect::<Result<_>>()?;
            (found.largest, found.others) = counts.into_iter().unzip();
            for list in [&mut found.largest, &mut found.others] {
                let average =
                    (0..=BINS).map(|bin| list.iter().filter_map(|row| row.get(bin)).sum::<f64>() / SHIFTS as f64);
                let average = average.collect();
                list.push(average);
            }
            found.points = Points::size(round) * SHIFTS as u64;
            found.reached = at.iter().zip(&bounds).all(|(t, bound)| {
                let values: Vec<f64> = found.tails(*t, *bound).into_iter().take(SHIFTS).collect();
                let (value, error) = mean_and_error(&values);
                error <= precision.absolute.max(precision.relative * value.min(1.0 - value))
            });
            if found.reached || 2 * found.points > precision.most_points {
                break;
            }
        }
        Ok(Some(found))
    }

    /// P(largest > t) by every shift, then by their average; `bound` is the sum of the tails of all statistics.
    pub(super) fn tails(&self, t: f64, bound: f64) -> Vec<f64> {
        let ln_t = t.ln();
        let beyond: Vec<f64> = (0..=BINS).map(|bin| self.beyond(ln_t - (bin as f64 / BINS as f64).ln())).collect();
        let second = (-bound).exp();
        let mean = |counts: &Vec<f64>| counts.iter().zip(&beyond).map(|(count, p)| count * p).sum::<f64>();
        let one = |(largest, others): (&Vec<f64>, &Vec<f64>)| {
            (1.0 - second) * mean(largest) + second * (bound - mean(others))
        };
        self.largest.iter().zip(&self.others).map(one).collect()
    }

    /// P(rank F > y^2) for ln y: cubic through the four nearest points of the table.
    fn beyond(&self, ln_y: f64) -> f64 {
        let place = (ln_y - FROM) * PER_UNIT;
        if place < 1.0 {
            return 1.0;
        }
        let index = place as usize;
        let Some([a, b, c, d]) = self.tail.get(index - 1..index + 3).and_then(|part| <[f64; 4]>::try_from(part).ok())
        else {
            return 0.0;
        };
        let u = place - index as f64;
        let (u1, u2, u3) = (u + 1.0, u - 1.0, u - 2.0);
        let value = -a * u * u2 * u3 / 6.0 + b * u1 * u2 * u3 / 2.0 - c * u1 * u * u3 / 2.0 + d * u1 * u * u2 / 6.0;
        value.exp()
    }
}

fn table(rank: f64, dof: f64) -> Vec<f64> {
    let last = ((TO - FROM) * PER_UNIT) as i32;
    let at = |i: i32| {
        let y = (FROM + f64::from(i) / PER_UNIT).exp();
        fisher_f::sf(y * y / rank, rank, dof).max(f64::MIN_POSITIVE).ln()
    };
    (0..=last).map(at).collect()
}

/// Rows a_j of a factor with as many columns as the rank; none when these are too many.
fn factor(correlation: &[Vec<f64>]) -> Option<(Vec<Vec<f64>>, usize)> {
    let size = correlation.len();
    let mut left: Vec<f64> = vec![1.0; size];
    let mut rows: Vec<Vec<f64>> = vec![Vec::new(); size];
    loop {
        let (pivot, most) = left.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let rank = rows.first().map_or(0, Vec::len);
        if most < DEPENDENT {
            return Some((rows, rank));
        }
        if rank == MOST_RANK {
            return None;
        }
        let chosen = rows.get(pivot)?.clone();
        let own = most.sqrt();
        for (j, (row, left)) in rows.iter_mut().zip(&mut left).enumerate() {
            let entry = *correlation.get(j)?.get(pivot)?;
            let known: f64 = row.iter().zip(&chosen).map(|(a, b)| a * b).sum();
            let value = if j == pivot { own } else { (entry - known) / own };
            row.push(value);
            *left = if j == pivot { 0.0 } else { (*left - value * value).max(0.0) };
        }
    }
}

/// Shares of directions by the largest |a_j u|, and of the others, for one shift of one round.
fn count(rows: &[Vec<f64>], points: &Points, (shift, round): (usize, usize)) -> (Vec<f64>, Vec<f64>) {
    let table = NormalTable::get();
    let share = 1.0 / Points::size(round) as f64;
    let (mut largest, mut others) = (vec![0.0; BINS + 1], vec![0.0; BINS + 1]);
    let mut z: Vec<[f64; LANES]> = Vec::new();
    points.mean(shift, round, |x| {
        z.clear();
        z.extend(x.iter().map(|lanes| lanes.map(|p| table.isf(p.clamp(1e-15, 1.0 - 1e-15)))));
        let mut squares = [0.0; LANES];
        for lanes in &z {
            squares.iter_mut().zip(lanes).for_each(|(sum, x)| *sum += x * x);
        }
        let scales = squares.map(|sum| BINS as f64 / sum.sqrt());
        let mut most = [0.0_f64; LANES];
        for row in rows {
            let mut dots = [0.0; LANES];
            for (a, lanes) in row.iter().zip(&z) {
                dots.iter_mut().zip(lanes).for_each(|(dot, x)| *dot += a * x);
            }
            for ((dot, scale), most) in dots.iter().zip(&scales).zip(&mut most) {
                let place = dot.abs() * scale;
                add(&mut others, place, share);
                *most = most.max(place);
            }
        }
        for place in most {
            add(&mut others, place, -share);
            add(&mut largest, place, share);
        }
        0.0
    });
    (largest, others)
}

/// Shares a value between its two neighbours.
#[inline]
fn add(counts: &mut [f64], place: f64, share: f64) {
    let index = (place as usize).min(BINS - 1);
    let part = place - index as f64;
    if let Some([low, high]) = counts.get_mut(index..index + 2) {
        *low += share * (1.0 - part);
        *high += share * part;
    }
}
