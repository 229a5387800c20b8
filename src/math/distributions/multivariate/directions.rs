//! Distribution of the largest of many correlated |t| statistics by directions: one set of points for all P values and quantiles.
//!
//! The statistics are `T = R A u / S` with the rows of `A` of unit length, `u` a uniform direction in as many dimensions as the
//! correlations have rank, `R` chi and `S` the common scale. So P(largest > t) = E h(t / m(u)) with `m(u)` the largest |a'u| and `h` the
//! tail of `R / S`, known exactly: only the direction is left to quasi-random points, and how many statistics there are hardly matters.
//! All 28 differences of eight means ask for seven dimensions.
//!
//! The number N of statistics beyond t has the known mean `n P(|T| > t)`, and the same points give its mean too. What they miss of it is
//! taken off by regression. Small P values hence keep their digits: where two statistics hardly ever exceed t together, N is the answer.
//! Where the family may be all differences of some means, so is the range of equal means in the same directions, turned as near to the
//! family as it goes: its distribution is known too.
//!
//! `m(u)` and all |a'u| are kept as weights on Chebyshev nodes, by which any smooth function of them is averaged.
//!
//! # References
//! Deak 1980, Numer. Math. 35:35-43 (directions); Genz & Bretz 2009, Computation of Multivariate Normal and t Probabilities;
//! Schoenemann 1966, Psychometrika 31:1-10 (the nearest rotation).

use super::points::{LANES, Lanes, Points, Precision, Probability, SHIFTS, along, mean_and_error};
use super::rectangle::check_dof;
use super::simplex::Simplex;
use crate::control::Control;
use crate::error::{NumericError, Result};
use crate::math::dense::{add_scaled, dot};
use crate::math::distributions::normal_table::NormalTable;
use crate::math::distributions::{fisher_f, student_t, studentized_range};
use crate::math::search::brent;
use rayon::prelude::*;
use std::f64::consts::SQRT_2;
use std::sync::OnceLock;

/// A row with less variance left is a combination of those before it.
const DEPENDENT: f64 = 1e-10;
/// A matrix with less variance left than this is no correlation matrix.
const NEGATIVE: f64 = -1e-6;
/// Cells of the sizes 0 to 1.
const CELLS: usize = 2048;
/// Chebyshev nodes on 0 to 1.
const NODES: usize = 64;
/// Points of which the regression is found, and the cells of its functions.
const PILOT: u64 = 512;
const PILOT_CELLS: usize = 80;
/// t at which the regression is found.
const STEPS: usize = 24;
const STEP: f64 = 0.5;
/// The first round that is run: 2,048 points of each shift; and how many there are.
const FIRST: usize = 8;
const ROUNDS: usize = 13;
/// Values of t at which the error is looked at.
const CHECKED: [f64; 4] = [1.5, 2.5, 3.5, 5.0];
/// Products of points, statistics and dimensions at most.
const MOST_WORK: u64 = 4_000_000_000;

/// The distribution of the largest |t|, ready for any number of P values and quantiles.
#[derive(Debug, Clone)]
pub(crate) struct Directions {
    df: f64,
    rank: f64,
    count: f64,
    /// Means whose range is compared.
    groups: Option<usize>,
    nodes: Vec<f64>,
    /// By shift.
    shifts: Vec<Weights>,
    /// What a statistic too many, and the range beyond t too often, count at t = 0, 0.5, 1, ...
    slopes: Vec<[f64; 2]>,
    points: u64,
    reached: bool,
}

/// Chebyshev nodes, and the values at each cell of the polynomials that are 1 at one of them and 0 at the others.
struct Grid {
    nodes: Vec<f64>,
    basis: Vec<Vec<f64>>,
}

/// The same for all families.
fn grid() -> &'static Grid {
    static GRID: OnceLock<Grid> = OnceLock::new();
    GRID.get_or_init(|| {
        let angle = |k: usize| std::f64::consts::PI * (k as f64 + 0.5) / NODES as f64;
        let nodes: Vec<f64> = (0..NODES).map(|k| 0.5 - 0.5 * angle(k).cos()).collect();
        let basis = (0..=CELLS).map(|cell| basis(&nodes, cell as f64 / CELLS as f64)).collect();
        Grid { nodes, basis }
    })
}

/// Something for the largest size, for all sizes together, and for the range.
type Three<T> = [T; 3];
/// Weights of the nodes.
type Weights = Three<Vec<f64>>;

/// The statistics as rows of unit length, and the range beside them.
struct Family {
    factor: Vec<Vec<f64>>,
    simplex: Option<Simplex>,
    rank: usize,
}

impl Directions {
    /// For statistics with the given correlations and `df` degrees of freedom of the common scale.
    ///
    /// # Errors
    /// [`NumericError::NotCovariance`]; [`NumericError::DegreesOfFreedom`]; [`Interrupted`](crate::Error::Interrupted) when stopped.
    pub(crate) fn new(correlation: &[Vec<f64>], df: f64, precision: &Precision, control: &Control) -> Result<Self> {
        check_dof(df)?;
        let factor = factor(correlation)?;
        let rank = factor.first().map_or(0, Vec::len);
        let simplex = Simplex::near(&factor, rank);
        let family = Family { factor, simplex, rank };
        let Grid { nodes, basis } = grid();
        let mut found = Self {
            df,
            rank: rank as f64,
            count: correlation.len() as f64,
            groups: family.simplex.as_ref().map(Simplex::groups),
            nodes: nodes.clone(),
            shifts: Vec::new(),
            slopes: Vec::new(),
            points: 0,
            reached: false,
        };
        found.slopes = found.regression(&family.pilot(precision.seed));
        let points = Points::new(rank, precision.seed, 0);
        let most = precision.most_points.min(MOST_WORK / (correlation.len() * rank).max(1) as u64);
        let affordable = |round: &usize| Points::size(*round) * SHIFTS as u64 <= most;
        let last = (0..ROUNDS).rev().find(affordable).unwrap_or(0);
        let mut round = FIRST.min(last);
        loop {
            let one = |shift: usize| {
                control.step()?;
                Ok(family.drawn(&points, (shift, round), basis))
            };
            found.shifts = (0..SHIFTS).into_par_iter().map(one).collect::<Result<_>>()?;
            found.points += Points::size(round) * SHIFTS as u64;
            let beyond = CHECKED.iter().map(|t| found.share_of_allowed(*t, precision)).fold(0.0, f64::max);
            found.reached = beyond <= 1.0;
            if found.reached || round == last {
                break;
            }
            // The error falls nearly as the number of points rises: on to where it should be small enough.
            round = (round + beyond.log2().round().clamp(1.0, ROUNDS as f64) as usize).min(last);
        }
        Ok(found)
    }

    /// The error at t as a share of the one allowed.
    fn share_of_allowed(&self, t: f64, precision: &Precision) -> f64 {
        let Probability { value, error, .. } = self.sf(t);
        error / (precision.relative * value).max(precision.absolute)
    }

    /// The tail of R / S beyond t / m, at m from 0 to 1.
    fn beyond(&self, t: f64, m: f64) -> f64 {
        if m <= 0.0 { 0.0 } else { fisher_f::sf((t / m).powi(2) / self.rank, self.rank, self.df) }
    }

    /// What a statistic beyond t too many counts, and the range beyond t, at t = 0, 0.5, 1, ...: regression of "any beyond" over the pilot.
    fn regression(&self, pilot: &[Pilot]) -> Vec<[f64; 2]> {
        let slope = |step: usize| {
            let t = STEP * step as f64;
            let cells: Vec<f64> =
                (0..=PILOT_CELLS).map(|cell| self.beyond(t, cell as f64 / PILOT_CELLS as f64)).collect();
            let at = |size: &f64| cells.get((size * PILOT_CELLS as f64 + 0.5) as usize).copied().unwrap_or(0.0);
            let all = pilot.iter().map(|one| {
                let any = at(&one.sizes.iter().copied().fold(0.0, f64::max));
                [any, one.sizes.iter().map(at).sum(), at(&one.range)]
            });
            let all: Vec<Three<f64>> = all.collect();
            let mean = |which: fn(&Three<f64>) -> f64| all.iter().map(which).sum::<f64>() / all.len() as f64;
            let means = [mean(|x| x[0]), mean(|x| x[1]), mean(|x| x[2])];
            let (mut nn, mut nr, mut rr, mut na, mut ra) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for [any, number, range] in &all {
                let [any, number, range] = [any - means[0], number - means[1], range - means[2]];
                (nn, nr, rr) = (nn + number * number, nr + number * range, rr + range * range);
                (na, ra) = (na + number * any, ra + range * any);
            }
            two(nn, nr, rr, (na, ra))
        };
        (0..=STEPS).into_par_iter().map(slope).collect()
    }

    /// The regression's slopes at t.
    fn slopes(&self, t: f64) -> [f64; 2] {
        let place = (t / STEP).min(STEPS as f64 - 1e-9);
        let step = place as usize;
        let at = |step: usize| self.slopes.get(step).copied().unwrap_or([1.0, 0.0]);
        let ([n0, r0], [n1, r1], share) = (at(step), at(step + 1), place - step as f64);
        [(1.0 - share) * n0 + share * n1, (1.0 - share) * r0 + share * r1]
    }

    /// P(largest > t) with its error: the single-step adjusted P value of a statistic t.
    pub(crate) fn sf(&self, t: f64) -> Probability {
        if t.is_nan() {
            return Probability { value: f64::NAN, error: f64::NAN, points: 0, reached: false };
        }
        if t <= 0.0 {
            return Probability::exact(1.0);
        }
        let alone = student_t::two_sided(t, self.df);
        let tails: Vec<f64> = self.nodes.iter().map(|m| self.beyond(t, *m)).collect();
        let ([by_number, by_range], number) = (self.slopes(t), self.count * alone);
        let range = self.groups.map_or(0.0, |groups| studentized_range::sf(t * SQRT_2, groups, self.df));
        let one = |[largest, all, ranges]: &Weights| {
            dot(largest, &tails) + by_number * (number - dot(all, &tails)) + by_range * (range - dot(ranges, &tails))
        };
        let (value, error) = mean_and_error(&self.shifts.iter().map(one).collect::<Vec<f64>>());
        let value = value.clamp(alone, number.min(1.0).max(alone));
        Probability { value, error, points: self.points, reached: self.reached }
    }

    /// t with P(largest > t) = `p`, 0 < p < 1: the critical value of simultaneous intervals at level 1 - p.
    ///
    /// # Errors
    /// [`NumericError::NoSignChange`] when there is none, as for p outside (0, 1).
    pub(crate) fn isf(&self, p: f64) -> Result<f64> {
        // One statistic gives the least, all on their own shares the most.
        let at = |share: f64| -student_t::quantile(0.5 * share, self.df);
        let miss = |t: f64| (self.sf(t).value / p).ln();
        brent(miss, (at(p) - 0.02).max(1e-6), at(p / self.count) + 0.02, 1e-12)
    }
}

/// Slopes of a regression on two, on the first alone where the second adds nothing.
fn two(nn: f64, nr: f64, rr: f64, (na, ra): (f64, f64)) -> [f64; 2] {
    let left = nn * rr - nr * nr;
    match (nn > 1e-300, left > 1e-9 * nn * rr) {
        (true, true) => [(na * rr - ra * nr) / left, (ra * nn - na * nr) / left],
        (true, false) => [(na / nn).clamp(0.0, 1.0), 0.0],
        (false, _) => [1.0, 0.0],
    }
}

/// Sizes of all statistics at a point, and the range there.
struct Pilot {
    sizes: Vec<f64>,
    range: f64,
}

impl Family {
    /// The weights of the nodes by the points of a shift.
    fn drawn(&self, points: &Points, place: (usize, usize), basis: &[Vec<f64>]) -> Weights {
        let [mut largest, mut all, mut ranges] = [(); 3].map(|()| vec![0.0; CELLS + 2]);
        self.each(points, place, |sizes, range| {
            let mut most = [0.0_f64; LANES];
            for lanes in sizes {
                for (most, size) in most.iter_mut().zip(lanes) {
                    *most = most.max(*size);
                    add(&mut all, *size);
                }
            }
            most.iter().for_each(|size| add(&mut largest, *size));
            range.iter().for_each(|size| add(&mut ranges, *size));
        });
        let share = 1.0 / Points::size(place.1) as f64;
        [largest, all, ranges].map(|cells| {
            let mut out = vec![0.0; NODES];
            let used = cells.iter().zip(basis).filter(|(weight, _)| **weight > 0.0);
            used.for_each(|(weight, row)| add_scaled(&mut out, share * weight, row));
            out
        })
    }

    /// The sizes of all statistics, and of the range, at every point of a shift, some points at a time.
    fn each(&self, points: &Points, (shift, round): (usize, usize), mut see: impl FnMut(&[Lanes], &Lanes)) {
        let table = NormalTable::get();
        let mut normal = vec![[0.0; LANES]; self.rank];
        let mut sizes = vec![[0.0; LANES]; self.factor.len()];
        points.mean(shift, round, |x| {
            let mut lengths = [0.0; LANES];
            for (z, x) in normal.iter_mut().zip(x) {
                for ((z, x), length) in z.iter_mut().zip(x).zip(&mut lengths) {
                    *z = table.isf(x.clamp(1e-15, 1.0 - 1e-15));
                    *length += *z * *z;
                }
            }
            let scales = lengths.map(|length: f64| 1.0 / length.max(1e-300).sqrt());
            for (size, row) in sizes.iter_mut().zip(&self.factor) {
                let sums = along(row, &normal);
                for ((size, sum), scale) in size.iter_mut().zip(sums).zip(&scales) {
                    *size = (sum * scale).abs();
                }
            }
            see(&sizes, &self.simplex.as_ref().map_or([0.0; LANES], |simplex| simplex.range(&normal, &scales)));
            0.0
        });
    }

    /// Some points, one by one.
    fn pilot(&self, seed: u64) -> Vec<Pilot> {
        let points = Points::new(self.rank, seed, 1);
        let round = (0..ROUNDS).find(|round| Points::size(*round) >= PILOT).unwrap_or(0);
        let mut out = Vec::new();
        self.each(&points, (0, round), |sizes, range| {
            let of = |lane: usize| sizes.iter().filter_map(|lanes| lanes.get(lane).copied()).collect();
            out.extend(range.iter().enumerate().map(|(lane, range)| Pilot { sizes: of(lane), range: *range }));
        });
        out
    }
}

/// Shares a size between the two ends of its cell.
#[inline]
fn add(cells: &mut [f64], size: f64) {
    let place = size.min(1.0) * CELLS as f64;
    let cell = place as usize;
    let share = place - cell as f64;
    if let Some([low, high]) = cells.get_mut(cell..cell + 2) {
        *low += 1.0 - share;
        *high += share;
    }
}

/// Values at x of the polynomials that are 1 at one Chebyshev node and 0 at all others.
fn basis(nodes: &[f64], x: f64) -> Vec<f64> {
    let angle = |k: usize| std::f64::consts::PI * (k as f64 + 0.5) / nodes.len() as f64;
    let sign = |k: usize| if k.is_multiple_of(2) { 1.0 } else { -1.0 };
    let part = |(k, node): (usize, &f64)| sign(k) * angle(k).sin() / (x - node);
    let parts: Vec<f64> = nodes.iter().enumerate().map(part).collect();
    match parts.iter().position(|part| !part.is_finite()) {
        Some(hit) => (0..nodes.len()).map(|k| f64::from(u8::from(k == hit))).collect(),
        None => {
            let sum: f64 = parts.iter().sum();
            parts.iter().map(|part| part / sum).collect()
        }
    }
}

/// Rows of unit length whose products are the correlations, in as few dimensions as these have rank.
///
/// # Errors
/// [`NumericError::NotCovariance`] when the matrix is not positive semidefinite.
fn factor(correlation: &[Vec<f64>]) -> Result<Vec<Vec<f64>>> {
    let mut rows: Vec<Vec<f64>> = vec![Vec::new(); correlation.len()];
    loop {
        let left: Vec<f64> = rows.iter().map(|row| 1.0 - dot(row, row)).collect();
        if let Some(row) = left.iter().position(|left| *left < NEGATIVE) {
            return Err(NumericError::NotCovariance { row }.into());
        }
        let most = left.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
        let Some((chosen, most)) = most.filter(|(_, left)| **left > DEPENDENT) else { break };
        let (pivot, own) = (rows.get(chosen).cloned().unwrap_or_default(), most.sqrt());
        for ((index, row), entries) in rows.iter_mut().enumerate().zip(correlation) {
            let entry = if index == chosen { 1.0 } else { entries.get(chosen).copied().unwrap_or(0.0) };
            row.push((entry - dot(row, &pivot)) / own);
        }
    }
    for row in &mut rows {
        let length = dot(row, row).sqrt();
        row.iter_mut().for_each(|x| *x /= length);
    }
    Ok(rows)
}
