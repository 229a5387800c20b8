//! The largest log-likelihood where contrasts have given values.

use super::goal::Goal;
use super::likelihood::{Likelihood, Local};
use crate::math::dense::{Cholesky, NormalMatrix, add_scaled, dot};
use crate::math::design::{along, entries_of};
use crate::math::search::definite;

/// Where a constrained fit ended.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    pub(super) parameters: Vec<f64>,
    pub(super) value: f64,
    /// The multiplier of each contrast: minus the slope of the value by what it is held at.
    pub(super) multipliers: Vec<f64>,
    /// How the parameters move with the value at which a single contrast is held.
    pub(super) along: Vec<f64>,
    /// The likelihood of a law, where it was made more exact on the way.
    pub(super) finer: Option<Likelihood>,
}

const STEPS: usize = 60;
const HALVINGS: usize = 20;
/// How near a contrast must come to its value.
const MET: f64 = 1e-11;
/// Powers of ten that are tried as weights.
const WEIGHTS: i32 = 4;
/// The longest move of a rate's linear predictor in one step.
const LONGEST: f64 = 4.0;

/// When a search counts as settled.
#[derive(Debug, Clone, Copy)]
struct Enough {
    /// The next step would change the log-likelihood by less.
    settled: f64,
    /// The same where no step improves it.
    stalled: f64,
    /// How near the contrasts must then be to their values.
    near: f64,
    /// The latter holds after the last step too.
    at_last: bool,
}

/// Of a likelihood that is exact.
const EXACT: Enough = Enough { settled: 1e-13, stalled: 1e-7, near: 1e-8, at_last: false };
/// Of that of a law: what is left is less than its integrals are exact to.
const OF_LAW: Enough = Enough { settled: 1e-9, stalled: 1e-5, near: 1e-6, at_last: true };
/// The next step would change the likelihood of a law by less where its integrals are made as exact as they must be.
const NEAR: f64 = 1e-3;

/// A step towards the constrained maximum.
struct Step {
    move_by: Vec<f64>,
    multipliers: Vec<f64>,
    along: Vec<f64>,
    /// The largest price at which the step pays, whatever it misses.
    pull: f64,
    /// Half of it is what the log-likelihood still gains.
    decrement: f64,
}

/// Maximises the log-likelihood with every goal at its wanted value, by Newton steps on the Lagrangian with halving; none when
/// that does not settle. The likelihood of a law is made as exact as it must be on the way, unless it is so `already`.
pub(super) fn constrained(
    likelihood: &Likelihood,
    (goals, wanted): (&[Goal<'_>], &[f64]),
    start: &[f64],
    already: bool,
) -> Option<Reached> {
    let law = matches!(likelihood, Likelihood::Law(_));
    let (mut finer, mut exact) = (None, already || !law);
    let enough = if law { OF_LAW } else { EXACT };
    let mut parameters = start.to_vec();
    let mut multipliers = vec![0.0; goals.len()];
    let mut price = 0.0_f64;
    for count in 1..=STEPS {
        crate::control::checkpoint();
        let likelihood = finer.as_ref().unwrap_or(likelihood);
        let local = likelihood.at(&parameters)?;
        let (step, off) = towards(likelihood, (goals, wanted), &parameters, (&local, &multipliers))?;
        let stalled = step.decrement < enough.stalled && off < enough.near;
        let settled = off < MET && step.decrement < enough.settled || count == STEPS && enough.at_last && stalled;
        multipliers.clone_from(&step.multipliers);
        price = (1.5 * step.pull).max(price).max(1e-3);
        let before = (&step.move_by[..], price, price * off - local.value);
        let next = if settled { None } else { moved(likelihood, (goals, wanted), &parameters, before) };
        if !exact && (next.is_none() || step.decrement < NEAR) {
            exact = true;
            let better = likelihood.refined(&parameters);
            if better.is_some() {
                finer = better;
                continue;
            }
        }
        match next {
            Some(next) => parameters = next,
            None if settled || stalled => {
                let along = step.along;
                return Some(Reached { parameters, value: local.value, multipliers, along, finer });
            }
            None => return None,
        }
    }
    None
}

/// The next step, and how far the goals are from their wanted values.
fn towards(
    likelihood: &Likelihood,
    (goals, wanted): (&[Goal<'_>], &[f64]),
    parameters: &[f64],
    (local, multipliers): (&Local, &[f64]),
) -> Option<(Step, f64)> {
    let here: Vec<_> = goals.iter().map(|goal| goal.at(parameters)).collect();
    let missing: Vec<f64> = wanted.iter().zip(&here).map(|(want, at)| want - at.rate).collect();
    let slopes: Vec<&[f64]> = here.iter().map(|at| at.gradient.as_slice()).collect();
    let bent = likelihood.bends().then(|| lagrangian(local, goals, multipliers, parameters));
    let step = bent
        .and_then(|matrix| step(likelihood, (&matrix, false), &local.score, (&slopes, &missing)))
        .or_else(|| step(likelihood, (&local.information, true), &local.score, (&slopes, &missing)))?;
    Some((step, missing.iter().map(|x| x.abs()).sum()))
}

/// The first point along a step, halved as often as needed, that is no worse than `before`: minus the log-likelihood, with what the
/// contrasts are off at their price.
fn moved(
    likelihood: &Likelihood,
    (goals, wanted): (&[Goal<'_>], &[f64]),
    parameters: &[f64],
    (move_by, price, before): (&[f64], f64, f64),
) -> Option<Vec<f64>> {
    let slack = 1e-13 * (1.0 + before.abs()) + likelihood.blur();
    let longest = goals.iter().flat_map(|goal| &goal.parts).flat_map(|(_, blend)| &blend.0);
    let longest = longest.map(|(_, row)| along(row, move_by).abs()).fold(0.0, f64::max);
    let mut length = (LONGEST / longest).min(likelihood.share(parameters, move_by)).min(1.0);
    for _ in 0..HALVINGS {
        let mut next = parameters.to_vec();
        add_scaled(&mut next, length, move_by);
        let off: f64 = goals.iter().zip(wanted).map(|(goal, want)| (want - goal.at(&next).rate).abs()).sum();
        if price * off - likelihood.value(&next) <= before + slack {
            return Some(next);
        }
        length *= 0.5;
    }
    None
}

/// The information with the bends of what is held.
fn lagrangian(local: &Local, goals: &[Goal<'_>], multipliers: &[f64], parameters: &[f64]) -> NormalMatrix {
    let mut matrix = local.information.clone();
    for (goal, multiplier) in goals.iter().zip(multipliers) {
        if *multiplier != 0.0 {
            goal.add_bend(parameters, -multiplier, &mut matrix);
        }
    }
    matrix
}

fn step(
    likelihood: &Likelihood,
    (matrix, whatever): (&NormalMatrix, bool),
    score: &[f64],
    (slopes, missing): (&[&[f64]], &[f64]),
) -> Option<Step> {
    let mut steep = None;
    let (factor, weight) = match matrix.root() {
        Some(factor) => (factor, 0.0),
        None => {
            let (made, factor, weight) = steepened(likelihood, (matrix, whatever), slopes)?;
            steep = Some(made);
            (factor, weight)
        }
    };
    let matrix = steep.as_ref().unwrap_or(matrix);
    let mut move_by = factor.solve(score);
    let solved: Vec<Vec<f64>> = slopes.iter().map(|slope| factor.solve(slope)).collect();
    let inner: Vec<Vec<f64>> = slopes.iter().map(|a| solved.iter().map(|b| dot(a, b)).collect()).collect();
    let rest: Vec<f64> = missing.iter().zip(slopes).map(|(miss, slope)| miss - dot(slope, &move_by)).collect();
    let multipliers = if inner.is_empty() { Vec::new() } else { Cholesky::new(&inner)?.solve(&rest) };
    for (multiplier, solved) in multipliers.iter().zip(&solved) {
        add_scaled(&mut move_by, *multiplier, solved);
    }
    let decrement = dot(&matrix.times(&move_by), &move_by);
    let along = match (solved.as_slice(), slopes) {
        ([solved], [slope]) => {
            let length = dot(slope, solved);
            solved.iter().map(|x| x / length).collect()
        }
        _ => Vec::new(),
    };
    let pull = multipliers.iter().map(|x| x.abs()).fold(0.0, f64::max);
    let multipliers = multipliers.iter().zip(missing).map(|(multiplier, miss)| multiplier - weight * miss).collect();
    Some(Step { move_by, multipliers, along, pull, decrement })
}

/// A law's information that is not positive definite, made so: where it is along what is not held, by a weight on the squares of the slopes of
/// what is held, which leaves the step as it is (Hestenes 1969); else with its spreads for themselves; else, where it is to be made so
/// `whatever` it takes, as free searches do.
fn steepened(
    likelihood: &Likelihood,
    (matrix, whatever): (&NormalMatrix, bool),
    slopes: &[&[f64]],
) -> Option<(NormalMatrix, Cholesky, f64)> {
    let (Likelihood::Law(hill), NormalMatrix::Full(rows)) = (likelihood, matrix) else { return None };
    let apart = parted(rows, hill.coefficients());
    weighed(matrix, slopes)
        .or_else(|| apart.root().map(|factor| (apart.clone(), factor, 0.0)))
        .or_else(|| weighed(&apart, slopes))
        .or_else(|| {
            whatever.then(|| definite(rows, |made, l, _| Some((NormalMatrix::Full(made.to_vec()), l.clone(), 0.0))))?
        })
}

/// A matrix with the smallest weight on the squares of the slopes that makes it positive definite.
fn weighed(matrix: &NormalMatrix, slopes: &[&[f64]]) -> Option<(NormalMatrix, Cholesky, f64)> {
    let NormalMatrix::Full(rows) = matrix else { return None };
    let largest = |values: &mut dyn Iterator<Item = f64>| values.map(f64::abs).fold(0.0, f64::max);
    let diagonal = largest(&mut rows.iter().enumerate().filter_map(|(i, row)| row.get(i).copied()));
    let slope = largest(&mut slopes.iter().flat_map(|slope| slope.iter().copied()));
    (0..=WEIGHTS).find_map(|power| {
        let weight = 10_f64.powi(power) * diagonal / (slope * slope);
        let mut made = matrix.clone();
        slopes.iter().for_each(|slope| made.add_square(weight, &entries_of(slope)));
        made.root().map(|factor| (made, factor, weight))
    })
}

/// The information with nothing between the coefficients and each spread, as it is where a spread is 0.
fn parted(rows: &[Vec<f64>], coefficients: usize) -> NormalMatrix {
    let entry = |i: usize, j: usize, x: f64| match (i.max(j) < coefficients, i == j) {
        (true, _) => x,
        (false, true) => x.abs(),
        (false, false) => 0.0,
    };
    let row = |(i, row): (usize, &Vec<f64>)| row.iter().enumerate().map(|(j, x)| entry(i, j, *x)).collect();
    NormalMatrix::Full(rows.iter().enumerate().map(row).collect())
}
