//! The largest log-likelihood where contrasts have given values.

use super::goal::Goal;
use super::likelihood::{Likelihood, Local};
use crate::math::dense::{Cholesky, NormalMatrix, add_scaled, dot};
use crate::math::design::along;

/// Where a constrained fit ended.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    pub(super) parameters: Vec<f64>,
    pub(super) value: f64,
    /// The multiplier of each contrast: minus the slope of the value by what it is held at.
    pub(super) multipliers: Vec<f64>,
}

const STEPS: usize = 60;
const HALVINGS: usize = 20;
/// The fit has settled when the next step would change the log-likelihood by less.
const SETTLED: f64 = 1e-13;
/// It counts as settled when no step improves it and the next would change it by less.
const STALLED: f64 = 1e-7;
/// How near a contrast must come to its value.
const MET: f64 = 1e-11;
/// The longest move of a rate's linear predictor in one step.
const LONGEST: f64 = 4.0;

/// A step towards the constrained maximum.
struct Step {
    move_by: Vec<f64>,
    multipliers: Vec<f64>,
    /// Half of it is what the log-likelihood still gains.
    decrement: f64,
}

/// Maximises the log-likelihood with every goal at its wanted value, by Newton steps on the Lagrangian with halving; none when
/// that does not settle.
pub(super) fn constrained(
    likelihood: &Likelihood,
    goals: &[Goal<'_>],
    wanted: &[f64],
    start: &[f64],
) -> Option<Reached> {
    let mut parameters = start.to_vec();
    let mut multipliers = vec![0.0; goals.len()];
    let mut price = 0.0_f64;
    for _ in 0..STEPS {
        crate::control::checkpoint();
        let local = likelihood.at(&parameters)?;
        let here: Vec<_> = goals.iter().map(|goal| goal.at(&parameters)).collect();
        let missing: Vec<f64> = wanted.iter().zip(&here).map(|(want, at)| want - at.rate).collect();
        let slopes: Vec<&[f64]> = here.iter().map(|at| at.gradient.as_slice()).collect();
        let bent = likelihood.bends().then(|| lagrangian(&local, goals, &multipliers, &parameters));
        let step = bent
            .and_then(|matrix| step(&matrix, &local.score, &slopes, &missing))
            .or_else(|| step(&local.information, &local.score, &slopes, &missing))?;
        let off: f64 = missing.iter().map(|x| x.abs()).sum();
        multipliers.clone_from(&step.multipliers);
        if off < MET && step.decrement < SETTLED {
            return Some(Reached { parameters, value: local.value, multipliers });
        }
        price = multipliers.iter().map(|x| 1.5 * x.abs()).fold(price, f64::max).max(1e-3);
        let merit = |value: f64, off: f64| -value + price * off;
        let before = merit(local.value, off);
        let slack = 1e-13 * (1.0 + before.abs());
        let longest = goals.iter().flat_map(|goal| &goal.parts).flat_map(|(_, blend)| &blend.0);
        let longest = longest.map(|(_, row)| along(row, &step.move_by).abs()).fold(0.0, f64::max);
        let mut length = (LONGEST / longest).min(1.0);
        let mut moved = None;
        for _ in 0..HALVINGS {
            let mut next = parameters.clone();
            add_scaled(&mut next, length, &step.move_by);
            let off: f64 = goals.iter().zip(wanted).map(|(goal, want)| (want - goal.at(&next).rate).abs()).sum();
            if merit(likelihood.value(&next), off) <= before + slack {
                moved = Some(next);
                break;
            }
            length *= 0.5;
        }
        match moved {
            Some(next) => parameters = next,
            None if step.decrement < STALLED && off < 1e-8 => {
                return Some(Reached { parameters, value: local.value, multipliers });
            }
            None => return None,
        }
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

fn step(matrix: &NormalMatrix, score: &[f64], slopes: &[&[f64]], missing: &[f64]) -> Option<Step> {
    let factor = matrix.root()?;
    let mut move_by = factor.solve(score);
    let solved: Vec<Vec<f64>> = slopes.iter().map(|slope| factor.solve(slope)).collect();
    let inner: Vec<Vec<f64>> = slopes.iter().map(|a| solved.iter().map(|b| dot(a, b)).collect()).collect();
    let rest: Vec<f64> = missing.iter().zip(slopes).map(|(miss, slope)| miss - dot(slope, &move_by)).collect();
    let multipliers = if inner.is_empty() { Vec::new() } else { Cholesky::new(&inner)?.solve(&rest) };
    for (multiplier, solved) in multipliers.iter().zip(&solved) {
        add_scaled(&mut move_by, *multiplier, solved);
    }
    let decrement = dot(&matrix.times(&move_by), &move_by);
    Some(Step { move_by, multipliers, decrement })
}
