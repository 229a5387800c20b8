//! Distribution of the largest of many correlated t statistics.
//!
//! The tail is split by which statistic is the largest: P(max T > t) = `int_t^inf` f(u) H(u) du with f the density of one t statistic
//! and H(u) = `sum_j` P(all other `T_i` <= u | `T_j` = u). Each term is a rectangle probability of one rank less and nearly 1 in the tail,
//! so that small P values keep their digits: their *relative* error falls as they do. H is a smooth function of one number: it is
//! computed at Chebyshev nodes once and then serves every P value and every quantile, which therefore agree with each other.
//!
//! # References
//! Genz & Bretz 2009, Computation of Multivariate Normal and t Probabilities; Hothorn, Bretz & Westfall 2008, Biometrical Journal
//! 50:346-363 (use for simultaneous inference); Trefethen 2013, Approximation Theory and Approximation Practice (interpolation).

use super::conditional::{Bounds, Conditional};
use super::panel::{AVERAGE, Panel};
use super::points::{Points, Precision, Probability, SHIFTS, Settled, mean_and_error, settle};
use super::rectangle::{check_dof, correlation_of};
use super::scale_table::ScaleTable;
use crate::control::Control;
use crate::error::{NumericError, Result};
use crate::math::distributions::dunnett::Sides;
use crate::math::distributions::normal_table::{NormalTable, density};
use crate::math::distributions::{normal, student_t};
use crate::math::search::brent;
use rayon::prelude::*;

/// Two statistics with 1 - |r| below this are one.
const SAME: f64 = 1e-10;
/// Lowest normal score of the nodes for one side; H is below 1e-6 there.
const BOTTOM: f64 = -5.0;
/// Chebyshev nodes from 0 upward, at least and at most.
const NODES: usize = 26;
const MOST_NODES: usize = 130;
/// Highest normal score of the nodes; above it (P values below 1e-15) H is taken as constant, which is right to 1e-3 for
/// correlations up to 0.75.
const TOP: f64 = 8.0;
/// Score at which the variables are put in order.
const ORDER_AT: f64 = 2.5;
/// Steps of Simpson's rule from a score to its tail.
const STEPS: u32 = 96;

/// The distribution of the largest T (or |T|), ready for any number of P values and quantiles.
#[derive(Debug, Clone, PartialEq)]
pub struct Largest {
    df: f64,
    sides: Sides,
    /// H from score 0 upward.
    upper: Panel,
    /// H below score 0, where one-sided limits may lie; none where the largest cannot be negative.
    lower: Option<Panel>,
    /// Number of different statistics.
    size: usize,
    points: u64,
    reached: bool,
}

impl Largest {
    /// For statistics with the given covariance (only its correlations matter) and `df` degrees of freedom of the common scale.
    ///
    /// # Errors
    /// [`NumericError::NotCovariance`]; [`NumericError::NoVariance`]; [`NumericError::DegreesOfFreedom`];
    /// [`Interrupted`](crate::Error::Interrupted) when stopped.
    ///
    /// ```
    /// use rootling::control::Control;
    /// use rootling::math::distributions::{dunnett::Sides, multivariate::{Largest, Precision}, studentized_range};
    /// // The three differences of three equal groups: the studentised range over sqrt 2.
    /// let r = [vec![1.0, 0.5, -0.5], vec![0.5, 1.0, 0.5], vec![-0.5, 0.5, 1.0]];
    /// let largest = Largest::new(&r, 10.0, Sides::Two, &Precision::default(), &Control::new())?;
    /// let got = largest.sf(3.0);
    /// approx::assert_abs_diff_eq!(got.value, studentized_range::sf(3.0 * 2.0_f64.sqrt(), 3, 10.0), epsilon = got.error + 1e-7);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn new(
        covariance: &[Vec<f64>],
        df: f64,
        sides: Sides,
        precision: &Precision,
        control: &Control,
    ) -> Result<Self> {
        check_dof(df)?;
        let (correlation, deviations) = correlation_of(covariance)?;
        if let Some(row) = deviations.iter().position(|s| *s <= 0.0) {
            return Err(NumericError::NoVariance { row }.into());
        }
        let kept = different(&correlation, sides);
        let pick = |row: &Vec<f64>| kept.iter().filter_map(|j| row.get(*j)).copied().collect::<Vec<f64>>();
        let distinct: Vec<Vec<f64>> = kept.iter().filter_map(|i| correlation.get(*i)).map(pick).collect();
        // H may be steep at 0, where Chebyshev nodes crowd; it breaks off there when one statistic is another's opposite.
        let opposite = distinct.iter().flatten().any(|r| 1.0 + r <= SAME);
        let nodes = nodes(&distinct, sides);
        let lower = (sides == Sides::One && !opposite).then(|| Panel::new(BOTTOM, 0.0, 2 * nodes / 3));
        let upper = Panel::new(0.0, TOP, nodes);
        let mut largest = Self { df, sides, upper, lower, size: kept.len(), points: 0, reached: true };
        if kept.len() > 1 {
            let parts = (0..kept.len()).map(|j| Given::new(&distinct, j, df, sides)).collect::<Result<Vec<_>>>()?;
            let work = Work::new(&parts, df, sides, precision, control);
            largest.fill(&work)?;
        }
        Ok(largest)
    }

    /// Computes H at all nodes.
    fn fill(&mut self, work: &Work<'_>) -> Result<()> {
        let mut first = 0;
        for panel in std::iter::once(&mut self.upper).chain(self.lower.as_mut()) {
            let scores = panel.scores().to_vec();
            let found: Vec<Settled> =
                scores.par_iter().enumerate().map(|(k, score)| work.node(*score, first + k)).collect::<Result<_>>()?;
            first += scores.len();
            for one in found {
                panel.push(&one.means);
                self.points += one.points * self.size as u64;
                self.reached &= one.reached;
            }
        }
        Ok(())
    }

    /// P(largest > t) with its error: the single-step adjusted P value of a statistic t.
    #[must_use]
    pub fn sf(&self, t: f64) -> Probability {
        if t.is_nan() {
            return Probability { value: f64::NAN, error: f64::NAN, points: 0, reached: false };
        }
        if self.sides == Sides::Two && t <= 0.0 {
            return Probability::exact(1.0);
        }
        if self.size <= 1 {
            return Probability::exact(if self.size == 0 { 0.0 } else { self.alone(t) });
        }
        let means: Vec<f64> = (0..SHIFTS).map(|shift| self.tail(t, shift)).collect();
        let (value, error) = mean_and_error(&means);
        Probability { value: value.clamp(0.0, 1.0), error, points: self.points, reached: self.reached }
    }

    /// P(largest <= t) with its error.
    #[must_use]
    pub fn cdf(&self, t: f64) -> Probability {
        let upper = self.sf(t);
        Probability { value: 1.0 - upper.value, ..upper }
    }

    /// t with P(largest > t) = `p`, 0 < p < 1: the critical value of simultaneous intervals at level 1 - p.
    ///
    /// # Errors
    /// [`NumericError::NoSignChange`] when there is none, as for p outside (0, 1).
    pub fn isf(&self, p: f64) -> Result<f64> {
        let sides = if self.sides == Sides::Two { 2.0 } else { 1.0 };
        // One statistic gives the least, all on their own shares the most.
        let at = |share: f64| -student_t::quantile(share / sides, self.df);
        if self.size <= 1 {
            return Ok(at(p));
        }
        let miss = |t: f64| (self.tail(t, AVERAGE) / p).ln();
        let low = if self.sides == Sides::Two { at(p).max(1e-3) - 0.02 } else { at(p) - 0.02 };
        brent(miss, low, at(p / self.size as f64) + 0.02, 1e-12)
    }

    /// Tail of one statistic alone.
    fn alone(&self, t: f64) -> f64 {
        if self.sides == Sides::Two { student_t::two_sided(t, self.df) } else { upper_tail(t, self.df) }
    }

    /// Normal score with the same upper tail as t.
    fn score_of(&self, t: f64) -> f64 {
        if self.df == f64::INFINITY {
            return t;
        }
        if t < 0.0 { normal::quantile(upper_tail(-t, self.df)) } else { normal::isf(upper_tail(t, self.df)) }
    }

    /// P(largest > t) by one shift or the average.
    fn tail(&self, t: f64, row: usize) -> f64 {
        let score = self.score_of(t);
        if score >= 0.0 {
            return self.alone(t) * self.mean_beyond(score, row);
        }
        let Some(lower) = &self.lower else { return 1.0 };
        // From the score up to 0, then the rest.
        let reach = score.max(BOTTOM).abs().sqrt();
        let step = reach / f64::from(STEPS);
        let part = |i: u32| {
            let x = step * f64::from(i);
            simpson(i) * 2.0 * x * density(x * x) * lower.at(-x * x, row)
        };
        0.5 * self.mean_beyond(0.0, row) + step / 3.0 * (0..=STEPS).map(part).sum::<f64>()
    }

    /// Mean of H over the normal tail beyond a score >= 0: Simpson's rule in x with z = score + x^2, fine near the score.
    fn mean_beyond(&self, score: f64, row: usize) -> f64 {
        // phi falls by e^-44 within this width.
        let width = (score * score + 88.0).sqrt() - score;
        let step = width.sqrt() / f64::from(STEPS);
        let (mut sum, mut weights) = (0.0, 0.0);
        for i in 0..=STEPS {
            let x = step * f64::from(i);
            // The same rule for the weight alone, so that the error of the rule cancels where H is flat.
            let weight = simpson(i) * x * (-0.5 * x * x * (x * x + 2.0 * score)).exp();
            sum += weight * self.upper.at(score + x * x, row);
            weights += weight;
        }
        sum / weights
    }
}

/// Number of nodes that resolve the steepest part of H: from 0 it rises within sqrt((1 - r) / (1 + r)) for the correlation
/// of largest size (one side: the most negative); nodes near an end lie as the inverse square of their number.
fn nodes(correlation: &[Vec<f64>], sides: Sides) -> usize {
    let others = correlation.iter().enumerate().flat_map(|(i, row)| row.iter().take(i));
    let close = others.map(|r| if sides == Sides::Two { r.abs() } else { -r }).fold(0.0, f64::max).min(1.0 - SAME);
    let needed = (18.0 * ((1.0 + close) / (1.0 - close)).powf(0.25)) as usize;
    needed.clamp(NODES, MOST_NODES)
}

/// Simpson's weights 1, 4, 2, ..., 4, 1.
fn simpson(i: u32) -> f64 {
    if i == 0 || i == STEPS { 1.0 } else { f64::from(2 + 2 * (i % 2)) }
}

fn upper_tail(t: f64, df: f64) -> f64 {
    if df == f64::INFINITY { normal::sf(t) } else { student_t::sf(t, df) }
}

/// The t value with the upper tail of a normal score.
fn quantile_at(score: f64, df: f64) -> f64 {
    if df == f64::INFINITY {
        return score;
    }
    let t = -student_t::quantile(normal::sf(score.abs()), df);
    if score < 0.0 { -t } else { t }
}

/// Positions of the first of every set of statistics that are the same (for two sides, up to sign).
fn different(correlation: &[Vec<f64>], sides: Sides) -> Vec<usize> {
    let mut kept: Vec<usize> = Vec::new();
    for (i, row) in correlation.iter().enumerate() {
        let same = |j: &usize| {
            let r = row.get(*j).copied().unwrap_or(0.0);
            1.0 - if sides == Sides::Two { r.abs() } else { r } <= SAME
        };
        if !kept.iter().any(same) {
            kept.push(i);
        }
    }
    kept
}

/// All other statistics given that one of them has the value u.
struct Given {
    factor: Conditional,
    /// For each other statistic its correlation with the given one and its remaining standard deviation (0 if none).
    others: Vec<(f64, f64)>,
    df: f64,
    sides: Sides,
}

impl Given {
    fn new(correlation: &[Vec<f64>], given: usize, df: f64, sides: Sides) -> Result<Self> {
        let with: Vec<f64> = correlation.get(given).cloned().unwrap_or_default();
        let others: Vec<(usize, f64, f64)> = with
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != given)
            .map(|(i, r)| (i, *r, if 1.0 - r.abs() <= SAME { 0.0 } else { ((1.0 - r) * (1.0 + r)).sqrt() }))
            .collect();
        let rest = |(i, ri, si): &(usize, f64, f64)| {
            let row = correlation.get(*i);
            let entry = |(j, rj, sj): &(usize, f64, f64)| {
                let r = row.and_then(|row| row.get(*j)).copied().unwrap_or(0.0);
                match (i == j, si * sj > 0.0) {
                    (_, false) => 0.0,
                    (true, true) => 1.0,
                    (false, true) => (r - ri * rj) / (si * sj),
                }
            };
            others.iter().map(entry).collect::<Vec<f64>>()
        };
        let partial: Vec<Vec<f64>> = others.iter().map(rest).collect();
        let others = others.iter().map(|(_, r, s)| (*r, *s)).collect();
        let mut given = Self { factor: Conditional::new(&[], &[], &[])?, others, df, sides };
        let (mut lower, mut upper) = (Vec::new(), Vec::new());
        given.limits(quantile_at(ORDER_AT, df), &mut lower, &mut upper);
        given.factor = Conditional::new(&partial, &lower, &upper)?;
        Ok(given)
    }

    /// Bounds of the others at u, in their remaining standard deviations and the scale of df + 1.
    fn limits(&self, u: f64, lower: &mut Vec<f64>, upper: &mut Vec<f64>) {
        let spread = if self.df == f64::INFINITY { 1.0 } else { ((self.df + u * u) / (self.df + 1.0)).sqrt() };
        lower.clear();
        upper.clear();
        for (r, s) in &self.others {
            let own = if *s > 0.0 { s * spread } else { 1.0 };
            upper.push((u - r * u) / own);
            lower.push(if self.sides == Sides::Two { (-u - r * u) / own } else { f64::NEG_INFINITY });
        }
    }
}

/// What every node needs.
struct Work<'a> {
    parts: &'a [Given],
    scales: ScaleTable,
    dimension: usize,
    df: f64,
    sides: Sides,
    precision: &'a Precision,
    control: &'a Control,
}

impl<'a> Work<'a> {
    fn new(parts: &'a [Given], df: f64, sides: Sides, precision: &'a Precision, control: &'a Control) -> Self {
        let scales = ScaleTable::new(df + 1.0);
        let dimension = parts.iter().map(|part| part.factor.dimension()).max().unwrap_or(0);
        let dimension = dimension + usize::from(scales.is_random());
        Self { parts, scales, dimension, df, sides, precision, control }
    }

    /// Rounds until H at a score is exact enough; every node and statistic has its own shifts.
    fn node(&self, score: f64, number: usize) -> Result<Settled> {
        let u = quantile_at(score, self.df);
        let share = normal::sf(score) * if self.sides == Sides::Two { 2.0 } else { 1.0 };
        let set = |j: usize| Points::new(self.dimension, self.precision.seed, (number * self.parts.len() + j) as u64);
        let enough =
            |value: f64, error: f64| error <= (self.precision.relative * value).max(self.precision.absolute / share);
        settle(0, self.precision.most_points, enough, |round| {
            let mut sums = vec![0.0; SHIFTS];
            for (j, part) in self.parts.iter().enumerate() {
                self.control.step()?;
                self.add(part, &set(j), (u, round), &mut sums);
            }
            Ok(sums)
        })
    }

    fn add(&self, part: &Given, points: &Points, (u, round): (f64, usize), sums: &mut [f64]) {
        let (mut lower, mut upper) = (Vec::new(), Vec::new());
        part.limits(u, &mut lower, &mut upper);
        if !part.factor.possible(&lower, &upper) {
            return;
        }
        let table = NormalTable::get();
        let mut y = Vec::with_capacity(part.factor.rank());
        for (shift, sum) in sums.iter_mut().enumerate() {
            *sum += points.mean(shift, round, |x| {
                let (scales, x) = self.scales.split(x);
                part.factor.evaluate(table, &Bounds { lower: &lower, upper: &upper, scales }, x, &mut y)
            });
        }
    }
}
