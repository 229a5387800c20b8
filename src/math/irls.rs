//! Binomial regression by reweighted least squares, with or without the Jeffreys prior penalty.

use serde::{Deserialize, Serialize};

use crate::error::{ModelError, Result};
use crate::math::convergence::{DECREMENT, STALLED_DECREMENT};
use crate::math::distributions::normal;
use crate::math::linalg::{Qr, add_scaled, dot, times};

/// The scale on which effects add up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Link {
    /// Log odds.
    #[default]
    Logit,
    /// Normal quantile.
    Probit,
    /// `ln(-ln(1 - p))`.
    Cloglog,
    /// `-ln(-ln p)`, the mirror of the complementary log-log.
    Loglog,
}

/// What the likelihood needs at one value of the linear predictor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Probability of rooting `p`.
    pub mean: f64,
    /// `1 - p`, without cancellation.
    pub rest: f64,
    /// `ln p`.
    pub ln_mean: f64,
    /// `ln(1 - p)`.
    pub ln_rest: f64,
    /// `p' / p`.
    pub up: f64,
    /// `p' / (1 - p)`.
    pub down: f64,
    /// `w' / w` of the weight `w = p'^2 / (p (1 - p))`.
    pub bend: f64,
}

impl Point {
    /// Fisher information per cutting.
    #[must_use]
    pub fn weight(&self) -> f64 {
        self.up * self.down
    }

    /// `p'`, the slope of the rate.
    #[must_use]
    pub fn slope(&self) -> f64 {
        self.up * self.mean
    }

    /// `p'' / p'`.
    #[must_use]
    pub fn turn(&self) -> f64 {
        0.5 * (self.bend + self.up - self.down)
    }

    /// `y ln p + (m - y) ln(1 - p)`.
    #[inline]
    #[must_use]
    pub fn kernel(&self, y: f64, m: f64) -> f64 {
        // 0 times minus infinity is 0 here.
        let part = |n: f64, ln: f64| if n == 0.0 { 0.0 } else { n * ln };
        part(y, self.ln_mean) + part(m - y, self.ln_rest)
    }

    /// The same with rooted and not rooted exchanged and `eta` reversed.
    fn mirrored(self) -> Self {
        let Self { mean, rest, ln_mean, ln_rest, up, down, bend } = self;
        Self { mean: rest, rest: mean, ln_mean: ln_rest, ln_rest: ln_mean, up: down, down: up, bend: -bend }
    }
}

impl Link {
    /// Everything at `eta`; extreme values are held where nothing under- or overflows.
    #[must_use]
    pub fn at(self, eta: f64) -> Point {
        match self {
            Self::Logit => {
                let eta = eta.clamp(-300.0, 300.0);
                let small = (-eta.abs()).exp();
                let (ln_big, ln_small) = (-small.ln_1p(), -eta.abs() - small.ln_1p());
                let (big, small) = (1.0 / (1.0 + small), small / (1.0 + small));
                let (mean, rest, ln_mean, ln_rest) =
                    if eta >= 0.0 { (big, small, ln_big, ln_small) } else { (small, big, ln_small, ln_big) };
                Point { mean, rest, ln_mean, ln_rest, up: rest, down: mean, bend: rest - mean }
            }
            Self::Probit => {
                let eta = eta.clamp(-36.0, 36.0);
                let (mean, rest) = (normal::cdf(eta), normal::sf(eta));
                let density = (-0.5 * eta * eta).exp() / (2.0 * std::f64::consts::PI).sqrt();
                let (up, down) = (density / mean, density / rest);
                let ln_mean = if eta > 0.0 { (-rest).ln_1p() } else { mean.ln() };
                let ln_rest = if eta > 0.0 { rest.ln() } else { (-mean).ln_1p() };
                Point { mean, rest, ln_mean, ln_rest, up, down, bend: -2.0 * eta - up + down }
            }
            Self::Cloglog => {
                let rate = eta.clamp(-300.0, 5.5).exp();
                let (mean, rest) = (-(-rate).exp_m1(), (-rate).exp());
                let up = rate / rate.exp_m1();
                Point { mean, rest, ln_mean: mean.ln(), ln_rest: -rate, up, down: rate, bend: 2.0 - rate - up }
            }
            Self::Loglog => Self::Cloglog.at(-eta).mirrored(),
        }
    }

    /// Log-likelihood of `y` rooted of `m` at `eta` without the binomial coefficient, and its first three derivatives by `eta`.
    #[inline]
    #[must_use]
    pub fn derivatives(self, eta: f64, y: f64, m: f64) -> [f64; 4] {
        let point = self.at(eta);
        let Point { mean, rest, up, down, .. } = point;
        let value = point.kernel(y, m);
        if self == Self::Logit {
            let spread = m * mean * rest;
            return [value, y * rest - (m - y) * mean, -spread, -spread * (rest - mean)];
        }
        // With s = p'' / p': up' = up (s - up), down' = down (s + down).
        let s = point.turn();
        let s_slope = match self {
            Self::Logit => -2.0 * mean * rest,
            Self::Probit => -1.0,
            Self::Cloglog => -down,
            Self::Loglog => -up,
        };
        let (up1, down1) = (up * (s - up), down * (s + down));
        let up2 = up1 * (s - up) + up * (s_slope - up1);
        let down2 = down1 * (s + down) + down * (s_slope + down1);
        let rest = m - y;
        [value, y * up - rest * down, y * up1 - rest * down1, y * up2 - rest * down2]
    }

    /// The first and second derivative of [`Link::derivatives`] alone, for searches that need no value.
    #[inline]
    #[must_use]
    pub fn slopes(self, eta: f64, y: f64, m: f64) -> [f64; 2] {
        if self == Self::Logit {
            let small = (-eta.abs().min(300.0)).exp();
            let (far, near) = (1.0 / (1.0 + small), small / (1.0 + small));
            let (mean, rest) = if eta >= 0.0 { (far, near) } else { (near, far) };
            return [y * rest - (m - y) * mean, -m * mean * rest];
        }
        let [_, first, second, _] = self.derivatives(eta, y, m);
        [first, second]
    }

    /// The name in words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Logit => "logit",
            Self::Probit => "probit",
            Self::Cloglog => "complementary log-log",
            Self::Loglog => "log-log",
        }
    }
}

/// A binomial regression: `n` counts, columns of length `n`.
#[derive(Debug, Clone, Copy)]
pub struct Problem<'a> {
    /// Design columns whose coefficients are free.
    pub x: &'a [Vec<f64>],
    /// Cuttings rooted.
    pub rooted: &'a [f64],
    /// Cuttings stuck.
    pub stuck: &'a [f64],
    /// Fixed part of the linear predictor.
    pub offset: &'a [f64],
    /// Link.
    pub link: Link,
    /// Columns whose information makes the penalty `0.5 ln |X' W X|`; none for maximum likelihood.
    pub penalty: Option<&'a [Vec<f64>]>,
}

/// Where a fit ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Free coefficients.
    pub coef: Vec<f64>,
    /// Linear predictor.
    pub eta: Vec<f64>,
    /// `sum y ln p + (m - y) ln(1 - p)`, without binomial coefficients.
    pub kernel: f64,
    /// The kernel plus the penalty, if any: what was maximised.
    pub objective: f64,
    /// Steps taken.
    pub iterations: u64,
    /// Tolerance met.
    pub converged: bool,
    /// Largest score entry.
    pub gradient_max: f64,
    /// Counts whose fitted rate runs to 0 or 1 without end (maximum likelihood only).
    pub runaway: Vec<usize>,
}

const ITERATIONS: u64 = 2000;
const LONGEST_STEP: f64 = 8.0;
/// Steps without a smaller decrement after which a fit counts as stalled.
const STALLED_STEPS: u32 = 8;
/// A fitted rate this near to 0 or 1 that still moves is running away.
const AT_THE_EDGE: f64 = 1e-11;
/// Its companions in the same direction are named once they are this near.
const NEAR_THE_EDGE: f64 = 1e-4;

struct State {
    eta: Vec<f64>,
    points: Vec<Point>,
    kernel: f64,
    objective: f64,
    hat: Vec<f64>,
}

impl Problem<'_> {
    fn state(&self, coef: &[f64]) -> State {
        let mut eta = times(self.x, coef, self.stuck.len());
        add_scaled(&mut eta, 1.0, self.offset);
        let points: Vec<Point> = eta.iter().map(|eta| self.link.at(*eta)).collect();
        let kernel = points
            .iter()
            .zip(self.rooted.iter().zip(self.stuck))
            .map(|(point, (y, m))| y * point.ln_mean + (m - y) * point.ln_rest)
            .sum();
        let (mut objective, mut hat) = (kernel, vec![0.0; eta.len()]);
        if let Some(full) = self.penalty {
            let qr = Qr::new(&weighted(full, &self.root_weights(&points)), 0.0);
            objective += 0.5 * qr.ln_determinant();
            if qr.rank() < full.len() {
                objective = f64::NEG_INFINITY;
            }
            hat = qr.hat(eta.len());
        }
        State { eta, points, kernel, objective, hat }
    }

    /// Square roots of the weights `m p'^2 / (p (1 - p))`.
    fn root_weights(&self, points: &[Point]) -> Vec<f64> {
        points.iter().zip(self.stuck).map(|(point, m)| (m * point.weight()).sqrt()).collect()
    }

    /// Score of each linear predictor: `y p'/p - (m - y) p'/(1 - p) + h w' / (2 w)`.
    fn scores(&self, state: &State) -> Vec<f64> {
        let counts = self.rooted.iter().zip(self.stuck);
        let points = state.points.iter().zip(&state.hat);
        points
            .zip(counts)
            .map(|((point, hat), (y, m))| y * point.up - (m - y) * point.down + 0.5 * hat * point.bend)
            .collect()
    }

    /// The weighted design's decomposition at a linear predictor.
    #[must_use]
    pub fn information(&self, eta: &[f64]) -> Qr {
        let points: Vec<Point> = eta.iter().map(|eta| self.link.at(*eta)).collect();
        Qr::new(&weighted(self.x, &self.root_weights(&points)), 0.0)
    }

    /// Maximises the (penalised) likelihood from `start` by Fisher scoring with step halving.
    ///
    /// # Errors
    /// [`ModelError::NotFitted`] when no step improves the fit before the tolerance is met.
    ///
    /// # References
    /// McCullagh and Nelder (1989), Generalized Linear Models, section 2.5; Firth (1993), Biometrika 80:27-38.
    pub fn solve(&self, start: &[f64]) -> Result<Solution> {
        let mut coef = start.to_vec();
        let mut state = self.state(&coef);
        let (mut best, mut stalled) = (f64::INFINITY, 0_u32);
        let mut pace = Pace { last: Vec::new(), decrement: f64::INFINITY, factor: 1.0 };
        for iteration in 0..ITERATIONS {
            let score = self.scores(&state);
            let gradient_max = self.x.iter().map(|column| dot(column, &score).abs()).fold(0.0, f64::max);
            let roots = self.root_weights(&state.points);
            let qr = Qr::new(&weighted(self.x, &roots), 0.0);
            if qr.rank() < self.x.len() || !state.objective.is_finite() {
                return Err(stuck("the information matrix is singular"));
            }
            let z: Vec<f64> = score.iter().zip(&roots).map(|(u, w)| if *w > 0.0 { u / w } else { 0.0 }).collect();
            let projected = qr.project(&z);
            let decrement = dot(&projected, &projected);
            let mut step = qr.solve_upper(&projected);
            let moved = times(self.x, &step, state.eta.len());
            let runaway = if self.penalty.is_none() { self.runaway(&state, &moved) } else { Vec::new() };
            stalled = if decrement < best * 0.999 { 0 } else { stalled + 1 };
            best = best.min(decrement);
            let converged = decrement < DECREMENT || (decrement < STALLED_DECREMENT && stalled >= STALLED_STEPS);
            if converged || !runaway.is_empty() {
                let State { eta, kernel, objective, .. } = state;
                return Ok(Solution {
                    coef,
                    eta,
                    kernel,
                    objective,
                    iterations: iteration,
                    converged,
                    gradient_max,
                    runaway,
                });
            }
            let longest = moved.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
            let mut factor = LONGEST_STEP / longest;
            factor = if self.penalty.is_some() { factor.min(pace.next(moved, decrement)) } else { factor.min(1.0) };
            step.iter_mut().for_each(|x| *x *= factor);
            match self.halve(&coef, &step, &state) {
                Some((next, reached)) => (coef, state) = (next, reached),
                None if decrement < STALLED_DECREMENT => stalled = STALLED_STEPS,
                None => return Err(stuck("no step improves the likelihood")),
            }
        }
        Err(stuck("the estimates had not settled after 2000 steps"))
    }

    fn halve(&self, coef: &[f64], step: &[f64], from: &State) -> Option<(Vec<f64>, State)> {
        let slack = 1e-13 * (1.0 + from.objective.abs());
        let mut length = 1.0;
        for _ in 0..40 {
            let mut next = coef.to_vec();
            add_scaled(&mut next, length, step);
            let state = self.state(&next);
            if state.objective >= from.objective - slack {
                return Some((next, state));
            }
            length *= 0.5;
        }
        None
    }

    /// Counts all rooted or none rooted whose rate is at the edge and moves on while the step raises no misfit
    /// anywhere: the step is then a direction in which the likelihood rises for ever.
    fn runaway(&self, state: &State, moved: &[f64]) -> Vec<usize> {
        let longest = moved.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
        if longest < 1e-3 {
            return Vec::new();
        }
        let (mut found, mut at_edge) = (Vec::new(), false);
        let counts = self.rooted.iter().zip(self.stuck);
        for (index, ((point, step), (y, m))) in state.points.iter().zip(moved).zip(counts).enumerate() {
            let (none, all) = (*y == 0.0, y == m);
            let outward = if all { *step } else { -*step };
            let harmless = if none || all { outward > -1e-4 * longest } else { step.abs() < 1e-4 * longest };
            if !harmless {
                return Vec::new();
            }
            let misfit = if all { point.rest } else { point.mean };
            if (none || all) && misfit < NEAR_THE_EDGE && outward > 0.1 * longest {
                found.push(index);
                at_edge |= misfit < AT_THE_EDGE;
            }
        }
        if at_edge { found } else { Vec::new() }
    }
}

/// Step length of the penalised fit. The scoring step leaves the curvature of the penalty out, so it may swing around the
/// optimum or creep towards it; it is shortened while steps turn back on each other, lengthened while they agree.
struct Pace {
    last: Vec<f64>,
    decrement: f64,
    factor: f64,
}

impl Pace {
    fn next(&mut self, moved: Vec<f64>, decrement: f64) -> f64 {
        if decrement > 0.05 * self.decrement {
            let agree = dot(&moved, &self.last) > 0.0;
            self.factor = if agree { (1.3 * self.factor).min(1.9) } else { (0.6 * self.factor).max(0.02) };
        }
        (self.last, self.decrement) = (moved, decrement);
        self.factor
    }
}

fn weighted(x: &[Vec<f64>], roots: &[f64]) -> Vec<Vec<f64>> {
    x.iter().map(|column| column.iter().zip(roots).map(|(x, w)| x * w).collect()).collect()
}

fn stuck(reason: &str) -> crate::Error {
    ModelError::NotFitted {
        reason: reason.to_owned(),
        try_next: "fit fewer effects or join levels with few cuttings".to_owned(),
    }
    .into()
}
