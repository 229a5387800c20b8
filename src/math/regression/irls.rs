//! Binomial regression by reweighted least squares, with or without the Jeffreys prior penalty.

use std::ops::Range;

use super::information::Information;
use super::link::{Link, Point, logit_kernel};
use super::restriction::Restriction;
use crate::control::Control;
use crate::error::{ModelError, Result};
use crate::math::dense::{Cholesky, Qr, add_scaled, dot};
use crate::math::design::{Columns, Entries, Products, RunSums};
use crate::math::search::{DECREMENT, STALLED_DECREMENT};

/// A binomial regression `link(p) = X b + offset` of counts `rooted ~ binomial(stuck, p)`, one per row of `X`.
#[derive(Debug, Clone, Copy)]
pub struct Regression<'a> {
    /// Design.
    pub columns: &'a Columns,
    /// Cuttings rooted.
    pub rooted: &'a [f64],
    /// Cuttings stuck.
    pub stuck: &'a [f64],
    /// Fixed part of the linear predictor; empty for none.
    pub offset: &'a [f64],
    /// What each row's log-likelihood is multiplied by; empty for 1.
    pub weights: &'a [f64],
    /// Link.
    pub link: Link,
    /// Add the penalty `0.5 ln |X' W X|` of the whole design.
    pub penalised: bool,
    /// Asked at every part of the rows.
    pub control: &'a Control,
}

/// Where a fit ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Coefficients.
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
    /// Rows whose fitted rate runs to 0 or 1 without end (maximum likelihood only).
    pub runaway: Vec<usize>,
    /// The information of the whole design there; none of a restricted fit or when it is singular.
    pub information: Option<Information>,
}

const ITERATIONS: u64 = 2000;
const LONGEST_STEP: f64 = 8.0;
/// Steps without a smaller decrement after which a fit counts as stalled.
const STALLED_STEPS: u32 = 8;
/// A fitted rate this near to 0 or 1 that still moves is running away.
pub(super) const AT_THE_EDGE: f64 = 1e-11;
/// Its companions in the same direction are named once they are this near.
const NEAR_THE_EDGE: f64 = 1e-4;
/// Steps are taken from products of columns while every column keeps this share of its length squared beside those before it;
/// an orthogonal decomposition of the weighted design takes over below.
const SAFE_SHARE: f64 = 1e-11;
/// A full step that moves no linear predictor of a logit further than this raises the likelihood: with `d = g' I^-1 g` it rises by at
/// least `d (1 - (e^s - s - 1) / s^2)` for a largest move `s` (Bach 2010, Electronic J. Statist. 4:384-414, proposition 1), which is above
/// 0 for `s < 1.79`. So the likelihood need not be worked out to accept it.
const SURE_STEP: f64 = 1.5;

/// One row at its linear predictor, its counts multiplied by its weight.
struct Row {
    point: Point,
    y: f64,
    m: f64,
}

/// Is the likelihood worked out along with its derivatives?
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Kernel {
    Now,
    Later,
}

/// Sums over rows at one set of coefficients; the kernel is 0 where it was left for later.
pub(super) struct Sums {
    pub(super) kernel: f64,
    pub(super) score: Vec<f64>,
    pub(super) products: Products,
    /// Some row all rooted or none rooted has a rate at the edge.
    pub(super) edge: bool,
}

impl Sums {
    fn join(&mut self, other: &Self) {
        self.kernel += other.kernel;
        add_scaled(&mut self.score, 1.0, &other.score);
        self.products.join(&other.products);
        self.edge |= other.edge;
    }
}

struct State {
    coef: Vec<f64>,
    sums: Sums,
    /// None where the likelihood was left for later.
    objective: Option<f64>,
    information: Option<Information>,
}

/// A step, and `g' I^-1 g` where it starts.
struct Step {
    by: Vec<f64>,
    decrement: f64,
    gradient_max: f64,
    /// The information of the free coefficients in rows, where something is held or penalised.
    metric: Vec<Vec<f64>>,
    /// Its decomposition, where nothing is.
    root: Option<Cholesky>,
}

impl Regression<'_> {
    #[inline]
    fn row(&self, row: usize, coef: &[f64], entries: &mut Entries) -> Option<Row> {
        self.columns.entries(row, entries);
        let part = |(column, value): &(usize, f64)| coef.get(*column).map_or(0.0, |b| b * value);
        let eta: f64 = entries.iter().map(part).sum::<f64>() + self.offset.get(row).copied().unwrap_or(0.0);
        let weight = self.weights.get(row).copied().unwrap_or(1.0);
        let (y, m) = (weight * self.rooted.get(row)?, weight * self.stuck.get(row)?);
        Some(Row { point: self.link.at(eta), y, m })
    }

    /// Kernel, weight, score and whether a row all rooted or none rooted is at the edge.
    #[inline]
    pub(super) fn terms(&self, row: usize, eta: f64, kernel: Kernel) -> Option<(f64, f64, f64, bool)> {
        let weight = self.weights.get(row).copied().unwrap_or(1.0);
        let (y, m) = (weight * self.rooted.get(row)?, weight * self.stuck.get(row)?);
        let point = if kernel == Kernel::Now { self.link.at(eta) } else { self.link.rates(eta) };
        let value = if kernel == Kernel::Now { point.kernel(y, m) } else { 0.0 };
        let edge = (y == m && point.rest < AT_THE_EDGE) || (y == 0.0 && point.mean < AT_THE_EDGE);
        Some((value, m * point.weight(), y * point.up - (m - y) * point.down, edge))
    }

    fn part(&self, range: Range<usize>, coef: &[f64], kernel: Kernel) -> Result<Sums> {
        self.control.step()?;
        let (width, kinds) = (self.columns.width(), self.columns.kinds());
        let mut sums = Sums { kernel: 0.0, score: vec![0.0; width], products: Products::new(width), edge: false };
        let (mut run, mut numbers, mut along) = (RunSums::new(kinds), vec![0.0; kinds], vec![0.0; kinds]);
        let mut active = Vec::new();
        for rows in self.columns.runs(range) {
            // Within a run only the numbers differ from row to row: sums are made of those, and handed to the columns at its end.
            self.columns.active(rows.start, &mut active);
            along.fill(0.0);
            for (kind, column) in &active {
                if let (Some(sum), Some(b)) = (along.get_mut(*kind), coef.get(*column)) {
                    *sum += b;
                }
            }
            run.clear();
            for row in rows {
                self.columns.numbers(row, &mut numbers);
                let eta = dot(&along, &numbers) + self.offset.get(row).copied().unwrap_or(0.0);
                let Some((value, w, u, near)) = self.terms(row, eta, kernel) else { continue };
                sums.kernel += value;
                sums.edge |= near;
                run.add(w, u, &numbers);
            }
            run.hand_over(&active, &mut sums.products, &mut sums.score);
        }
        Ok(sums)
    }

    fn sums(&self, coef: &[f64], kernel: Kernel) -> Result<Sums> {
        if let Some(rows) = self.columns.coded() {
            return self.coded(rows, coef, kernel);
        }
        let join = |total: &mut Result<Sums>, part: Result<Sums>| match (total.as_mut(), part) {
            (Ok(total), Ok(part)) => total.join(&part),
            (Ok(_), Err(error)) => *total = Err(error),
            (Err(_), _) => {}
        };
        let joined = self.columns.joined(|range| self.part(range, coef, kernel), join);
        joined.unwrap_or_else(|| self.part(0..0, coef, kernel))
    }

    fn state(&self, coef: Vec<f64>, kernel: Kernel) -> Result<State> {
        let sums = self.sums(&coef, kernel)?;
        let (mut objective, mut information) = ((kernel == Kernel::Now).then_some(sums.kernel), None);
        if self.penalised {
            let found = Information::new(&sums.products, || self.weighted(&coef));
            objective =
                Some(found.as_ref().map_or(f64::NEG_INFINITY, |found| sums.kernel + 0.5 * found.ln_determinant()));
            information = found;
        }
        Ok(State { coef, sums, objective, information })
    }

    /// The kernel at coefficients and the linear predictor they give.
    fn kernel(&self, coef: &[f64], eta: &[f64]) -> f64 {
        if let Some(rows) = self.columns.coded().filter(|_| self.has_odds(coef)) {
            let odds = rows.along(&rows.places(coef).map(f64::exp), |a, b| a * b);
            let counts = self.rooted.iter().zip(self.stuck);
            return odds
                .iter()
                .zip(eta)
                .zip(counts)
                .map(|((odds, eta), (y, m))| logit_kernel(*odds, *eta, *y, *m))
                .sum();
        }
        let one = |row: usize| {
            let weight = self.weights.get(row).copied().unwrap_or(1.0);
            Some(weight * self.link.kernel(*eta.get(row)?, *self.rooted.get(row)?, *self.stuck.get(row)?))
        };
        self.columns.in_parts(|range| range.filter_map(one).sum::<f64>()).into_iter().sum()
    }

    fn eta(&self, coef: &[f64]) -> Vec<f64> {
        let mut eta = self.columns.times(coef);
        add_scaled(&mut eta, 1.0, self.offset);
        eta
    }

    /// The columns times the roots of the weights `m p'^2 / (p (1 - p))`.
    fn weighted(&self, coef: &[f64]) -> Vec<Vec<f64>> {
        let mut entries = Entries::new();
        let root = |row: usize| {
            let found = self.row(row, coef, &mut entries);
            found.map_or(0.0, |found| (found.m * found.point.weight()).sqrt())
        };
        let roots: Vec<f64> = (0..self.columns.rows()).map(root).collect();
        let mut x = self.columns.to_dense();
        x.iter_mut().for_each(|column| column.iter_mut().zip(&roots).for_each(|(x, w)| *x *= w));
        x
    }

    /// The information of the whole design at some coefficients; none when it is singular.
    ///
    /// # Errors
    /// When asked to stop.
    pub fn information(&self, coef: &[f64]) -> Result<Option<Information>> {
        Ok(Information::new(&self.sums(coef, Kernel::Later)?.products, || self.weighted(coef)))
    }

    /// The leverage of each row in the fit at these coefficients: `w x' I^-1 x`.
    #[must_use]
    pub fn leverages(&self, coef: &[f64], information: &Information) -> Vec<f64> {
        let over = |range: Range<usize>| -> Vec<f64> {
            let mut entries = Entries::new();
            let one = |row| {
                let found = self.row(row, coef, &mut entries);
                found.map_or(0.0, |found| found.m * found.point.weight() * information.spread(&entries))
            };
            range.map(one).collect()
        };
        self.columns.in_parts(over).concat()
    }

    /// The score of the coefficients, with that of the penalty: `x (y p'/p - (m - y) p'/(1 - p) + h w' / (2 w))`.
    fn score(&self, state: &State) -> Vec<f64> {
        let mut score = state.sums.score.clone();
        let Some(information) = &state.information else { return score };
        let parts = self.columns.in_parts(|range| {
            let (mut sum, mut entries) = (vec![0.0; score.len()], Entries::new());
            for row in range {
                let Some(Row { point, m, .. }) = self.row(row, &state.coef, &mut entries) else { continue };
                let leverage = m * point.weight() * information.spread(&entries);
                for (column, value) in &entries {
                    if let Some(sum) = sum.get_mut(*column) {
                        *sum += 0.5 * leverage * point.bend * value;
                    }
                }
            }
            sum
        });
        parts.iter().for_each(|part| add_scaled(&mut score, 1.0, part));
        score
    }

    /// The penalised score and the information at some coefficients, for score tests; none when the information is singular.
    ///
    /// # Errors
    /// When asked to stop.
    pub fn score_and_information(&self, coef: &[f64]) -> Result<Option<(Vec<f64>, Information)>> {
        let state = self.state(coef.to_vec(), Kernel::Now)?;
        let score = self.score(&state);
        let found = Information::new(&state.sums.products, || self.weighted(coef));
        Ok(found.map(|information| (score, information)))
    }

    fn step(&self, state: &State, free: &Restriction) -> Result<Step> {
        let score = self.score(state);
        let gradient = free.gradient(&score);
        let gradient_max = gradient.iter().fold(0.0_f64, |most, g| most.max(g.abs()));
        let whole = free.is_none() && !self.penalised;
        let metric = if whole { Vec::new() } else { free.matrix(&state.sums.products.rows()) };
        let root = if whole { state.sums.products.root() } else { Cholesky::new(&metric) };
        if let Some(root) = root.filter(|root| root.smallest_share() > SAFE_SHARE) {
            let half = root.forward(&gradient);
            let decrement = dot(&half, &half);
            let by = root.backward(half);
            return Ok(Step { by, decrement, gradient_max, metric, root: whole.then_some(root) });
        }
        let x = free.columns(self.weighted(&state.coef));
        let qr = Qr::new(&x, 0.0);
        if qr.rank() < x.len() {
            return Err(stuck("the information matrix is singular"));
        }
        let projected = qr.solve_lower(&gradient);
        let decrement = dot(&projected, &projected);
        Ok(Step { by: qr.solve_upper(&projected), decrement, gradient_max, metric, root: None })
    }

    /// Maximises the (penalised) likelihood over the free coefficients from `start` by Fisher scoring with step halving.
    ///
    /// # Errors
    /// [`ModelError::NotFitted`] when no step improves the fit before the tolerance is met; when asked to stop.
    ///
    /// # References
    /// `McCullagh` and Nelder (1989), Generalized Linear Models, section 2.5; Firth (1993), Biometrika 80:27-38.
    pub fn solve(&self, start: &[f64], free: &Restriction) -> Result<Solution> {
        let first = if self.penalised { Kernel::Now } else { Kernel::Later };
        let mut state = self.state(free.apply(&free.coordinates(start)), first)?;
        let (mut best, mut stalled) = (f64::INFINITY, 0_u32);
        let mut pace = Pace { last: Vec::new(), decrement: f64::INFINITY, factor: 1.0 };
        for iteration in 0..ITERATIONS {
            let mut step = self.step(&state, free)?;
            if !(step.decrement.is_finite() && state.objective.is_none_or(f64::is_finite)) {
                return Err(stuck("the information matrix is singular"));
            }
            let moved = free.direction(&step.by);
            let runaway = if !self.penalised && state.sums.edge { self.runaway(&state, &moved) } else { Vec::new() };
            stalled = if step.decrement < best * 0.999 { 0 } else { stalled + 1 };
            best = best.min(step.decrement);
            let settled = step.decrement < STALLED_DECREMENT && stalled >= STALLED_STEPS;
            let converged = step.decrement < DECREMENT || settled;
            if converged || !runaway.is_empty() {
                let known = self.known_information(&mut state, step.root.as_ref(), free);
                let record = (iteration, converged, step.gradient_max);
                return Ok(self.solution(state, record, runaway, known));
            }
            let may_be_sure = self.link == Link::Logit && !self.penalised;
            let longest = self.columns.longest(&moved, if may_be_sure { SURE_STEP } else { LONGEST_STEP });
            let sure = may_be_sure && longest <= SURE_STEP;
            let mut factor = LONGEST_STEP / longest;
            factor = if self.penalised { factor.min(pace.next(&step)) } else { factor.min(1.0) };
            step.by.iter_mut().for_each(|x| *x *= factor);
            match self.next(&state, &step.by, free, sure)? {
                Some(reached) => state = reached,
                None if step.decrement < STALLED_DECREMENT => stalled = STALLED_STEPS,
                None => return Err(stuck("no step improves the likelihood")),
            }
        }
        Err(stuck("the estimates had not settled after 2000 steps"))
    }

    fn known_information(&self, state: &mut State, root: Option<&Cholesky>, free: &Restriction) -> Option<Information> {
        if !free.is_none() {
            return None;
        }
        let found = state.information.take();
        let products = &state.sums.products;
        found
            .or_else(|| Information::of(products, root?))
            .or_else(|| Information::new(products, || self.weighted(&state.coef)))
    }

    fn solution(
        &self,
        state: State,
        record: (u64, bool, f64),
        runaway: Vec<usize>,
        information: Option<Information>,
    ) -> Solution {
        let eta = self.eta(&state.coef);
        let (iterations, converged, gradient_max) = record;
        let kernel = if state.objective.is_some() { state.sums.kernel } else { self.kernel(&state.coef, &eta) };
        let objective = state.objective.unwrap_or(kernel);
        let coef = state.coef;
        Solution { coef, eta, kernel, objective, iterations, converged, gradient_max, runaway, information }
    }

    /// The state after the step, halved until it does not lower what is maximised; none when that never happens.
    fn next(&self, from: &State, step: &[f64], free: &Restriction, sure: bool) -> Result<Option<State>> {
        let (home, mut length) = (free.coordinates(&from.coef), 1.0);
        let along = |length: f64| {
            let mut next = home.clone();
            add_scaled(&mut next, length, step);
            free.apply(&next)
        };
        if sure {
            return Ok(Some(self.state(along(1.0), Kernel::Later)?));
        }
        let reached = from.objective.unwrap_or_else(|| self.kernel(&from.coef, &self.eta(&from.coef)));
        let slack = 1e-13 * (1.0 + reached.abs());
        for _ in 0..40 {
            let state = self.state(along(length), Kernel::Now)?;
            if state.objective.is_some_and(|objective| objective >= reached - slack) {
                return Ok(Some(state));
            }
            length *= 0.5;
        }
        Ok(None)
    }

    /// Counts all rooted or none rooted whose rate is at the edge and moves on while the step raises no misfit
    /// anywhere: the step is then a direction in which the likelihood rises for ever.
    fn runaway(&self, state: &State, moved: &[f64]) -> Vec<usize> {
        let steps = self.columns.times(moved);
        let longest = steps.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
        if longest < 1e-3 {
            return Vec::new();
        }
        let (mut found, mut at_edge, mut entries) = (Vec::new(), false, Entries::new());
        for (index, step) in steps.iter().enumerate() {
            let Some(Row { point, y, m }) = self.row(index, &state.coef, &mut entries) else { continue };
            let (none, all) = (y == 0.0, y == m);
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
    fn next(&mut self, step: &Step) -> f64 {
        if step.decrement > 0.05 * self.decrement {
            let agree = step.metric.iter().zip(&step.by).map(|(row, b)| b * dot(row, &self.last)).sum::<f64>() > 0.0;
            self.factor = if agree { (1.3 * self.factor).min(1.9) } else { (0.6 * self.factor).max(0.02) };
        }
        (self.last, self.decrement) = (step.by.clone(), step.decrement);
        self.factor
    }
}

fn stuck(reason: &str) -> crate::Error {
    ModelError::NotFitted {
        reason: reason.to_owned(),
        try_next: "fit fewer effects or join levels with few cuttings".to_owned(),
    }
    .into()
}
