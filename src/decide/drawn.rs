//! Takes drawn from what a trial tells, seasons to come, and the next trial.
//!
//! A take is drawn from the law whose quantiles are the limits that the trial tells of it at every confidence: the end of Wilson's interval at a
//! drawn t, with the sign of t. What all levels share (places, and how well the spread is known) is drawn once for all of them; it widens the limits
//! of each, and levels are held against each other without it, as a comparison does.

use rayon::prelude::*;

use super::known::Known;
use super::options::TrialToCome;
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::{normal, student_t};
use crate::math::rng::{self, ChaCha8Rng};
use crate::math::special::gauss_hermite;

/// Draws of one level, one entry each.
#[derive(Debug, Clone, Default)]
pub(super) struct LevelDraws {
    /// Its mean take in the seasons that do come, with what all levels share.
    pub(super) with_shared: Vec<f64>,
    /// The same without it, as levels are held against each other.
    pub(super) to_come: Vec<f64>,
    /// Its mean take over all seasons that could come, without it as well.
    pub(super) lasting: Vec<f64>,
    /// What the next trial counts of it, where there is one.
    pub(super) counted: Vec<f64>,
}

/// What is drawn from, beside what the trial tells.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ahead {
    /// Standard deviation of log odds over seasons.
    pub(super) season_sd: f64,
    /// Seasons to come.
    pub(super) seasons: u64,
    pub(super) next_trial: Option<TrialToCome>,
}

/// Draws worked off by one task.
const CHUNK: usize = 64;

/// One value for each draw; draw `i` has stream `first + i`, so nothing depends on threads.
fn each<T: Send>(
    (draws, first, seed): (u64, u64, u64),
    control: &Control,
    one: impl Fn(usize, &mut ChaCha8Rng) -> T + Sync,
) -> Result<Vec<T>> {
    let draws = draws as usize;
    let chunks: Vec<Vec<T>> = (0..draws.div_ceil(CHUNK))
        .into_par_iter()
        .map(|chunk| {
            control.step()?;
            let inside = chunk * CHUNK..((chunk + 1) * CHUNK).min(draws);
            Ok(inside.map(|draw| one(draw, &mut rng::stream(seed, first + draw as u64))).collect())
        })
        .collect::<Result<_>>()?;
    Ok(chunks.into_iter().flatten().collect())
}

/// All levels drawn.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped.
pub(super) fn drawn(
    known: &Known,
    ahead: &Ahead,
    (draws, seed): (u64, u64),
    control: &Control,
) -> Result<Vec<LevelDraws>> {
    let t = pivots(known, (draws, seed), control)?;
    let quantiles = |df: f64| t_points(draws as usize, df);
    let own_points = quantiles(known.df);
    let mut takes: Vec<(Vec<f64>, Vec<f64>)> = Vec::with_capacity(known.levels.len());
    for (at, level) in known.levels.iter().enumerate() {
        control.step()?;
        let of = |which: fn(&(f64, f64)) -> f64| -> Vec<f64> {
            t.iter().filter_map(|draw| draw.get(at)).map(which).collect()
        };
        let end = |t: Vec<f64>, effective: f64| -> Vec<f64> {
            t.into_iter().map(|t| wilson_end(level.take(), effective, t)).collect()
        };
        let own = end(by_rank(&of(|one| one.1), &own_points), level.effective_own);
        // Degrees of freedom of a level over places are others than those of differences, also where places add nothing.
        if known.shared > 0.0 || level.df != known.df {
            takes.push((end(by_rank(&of(|one| one.0), &quantiles(level.df)), level.effective), own));
        } else {
            takes.push((own.clone(), own));
        }
    }
    through_seasons(&takes, known, ahead, (draws, seed), control)
}

/// For every draw and level: t of the take, and t of what the level has of its own.
fn pivots(known: &Known, (draws, seed): (u64, u64), control: &Control) -> Result<Vec<Vec<(f64, f64)>>> {
    let scale = |df: f64, random: &mut ChaCha8Rng| {
        if df.is_finite() { (rng::chi_squared(random, df) / df).sqrt() } else { 1.0 }
    };
    let parts: Vec<(f64, f64)> = known
        .levels
        .iter()
        .map(|level| {
            let share = (known.shared * level.effective).clamp(0.0, 1.0);
            (share.sqrt(), (1.0 - share).sqrt())
        })
        .collect();
    each((draws, 0, seed), control, |_, random| {
        let spread = scale(known.df, random);
        let place = if known.shared > 0.0 { rng::deviate(random) / scale(known.shared_df, random) } else { 0.0 };
        let level = |(common, alone): &(f64, f64)| {
            let own = rng::deviate(random) / spread;
            (common * place + alone * own, own)
        };
        parts.iter().map(level).collect()
    })
}

/// Quantiles of t in the middles of equal shares of its law.
fn t_points(count: usize, df: f64) -> Vec<f64> {
    let quantile = |at: usize| {
        let p = (at as f64 + 0.5) / count as f64;
        if df.is_finite() { student_t::quantile(p, df) } else { normal::quantile(p) }
    };
    let lower: Vec<f64> = (0..count.div_ceil(2)).into_par_iter().map(quantile).collect();
    let upper = lower.iter().take(count / 2).rev().map(|t| -t);
    lower.iter().copied().chain(upper).collect()
}

/// The points in the order of the values: the smallest value has the first. So each law is that of its points, and only how they go together
/// is drawn.
fn by_rank(values: &[f64], points: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    let value = |at: &usize| values.get(*at).copied().unwrap_or_default();
    order.sort_by(|one, other| value(one).total_cmp(&value(other)));
    let mut found = vec![0.0; values.len()];
    for (at, point) in order.into_iter().zip(points) {
        found.get_mut(at).into_iter().for_each(|slot| *slot = *point);
    }
    found
}

/// The end of Wilson's interval at a critical value with a sign: the lower one below 0.
fn wilson_end(take: f64, effective: f64, t: f64) -> f64 {
    let square = t * t / effective;
    let root = (square * take * (1.0 - take) + 0.25 * square * square).sqrt();
    ((take + 0.5 * square + t.signum() * root) / (1.0 + square)).clamp(0.0, 1.0)
}

fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

fn take_at(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

/// What one draw of one level comes to.
#[derive(Debug, Clone, Copy)]
struct One {
    with_shared: f64,
    to_come: f64,
    lasting: f64,
    counted: f64,
}

/// Nodes of the mean over a season.
const NODES: usize = 9;

/// Takes of seasons to come, and what the next trial counts in the first of them. The season of the trial moved each level, too.
fn through_seasons(
    takes: &[(Vec<f64>, Vec<f64>)],
    known: &Known,
    ahead: &Ahead,
    (draws, seed): (u64, u64),
    control: &Control,
) -> Result<Vec<LevelDraws>> {
    let rule = gauss_hermite(NODES);
    let sd = ahead.season_sd;
    let tried = sd / (known.seasons as f64).sqrt();
    let mean = |log_odds: f64| -> f64 {
        rule.nodes.iter().zip(&rule.weights).map(|(z, weight)| weight * take_at(log_odds + sd * z)).sum()
    };
    let one = |draw: usize, random: &mut ChaCha8Rng| -> Vec<One> {
        let level = |(take, own): &(Vec<f64>, Vec<f64>)| {
            let at = |of: &[f64]| of.get(draw).copied().unwrap_or_default();
            let (take, own) = (at(take), at(own));
            if sd == 0.0 {
                return One {
                    with_shared: take,
                    to_come: own,
                    lasting: own,
                    counted: counts(own, known, ahead, random),
                };
            }
            let moved = tried * rng::deviate(random);
            let (with_shared, log_odds) = (logit(take) - moved, logit(own) - moved);
            let shifts: Vec<f64> = (0..ahead.seasons).map(|_| sd * rng::deviate(random)).collect();
            let over = |at: f64| shifts.iter().map(|shift| take_at(at + shift)).sum::<f64>() / ahead.seasons as f64;
            let first = shifts.first().copied().unwrap_or_default();
            One {
                with_shared: over(with_shared),
                to_come: over(log_odds),
                lasting: mean(log_odds),
                counted: counts(take_at(log_odds + first), known, ahead, random),
            }
        };
        takes.iter().map(level).collect()
    };
    let found = each((draws, draws, seed), control, one)?;
    let mut levels = vec![LevelDraws::default(); takes.len()];
    for draw in found {
        for (level, one) in levels.iter_mut().zip(draw) {
            level.with_shared.push(one.with_shared);
            level.to_come.push(one.to_come);
            level.lasting.push(one.lasting);
            level.counted.push(one.counted);
        }
    }
    Ok(levels)
}

/// Trays that are drawn one by one.
const EACH: u64 = 50;

/// The cuttings that root at one level of the next trial.
fn counts(take: f64, known: &Known, ahead: &Ahead, random: &mut ChaCha8Rng) -> f64 {
    let Some(next) = ahead.next_trial else { return 0.0 };
    if next.trays > EACH {
        // Very many trays: one law with the mean and the variance of their sum.
        let all = next.trays * next.cuttings;
        let shared = known.correlation * (next.cuttings as f64 - 1.0) / (all as f64 - 1.0).max(1.0);
        return rng::beta_binomial_from_end(random, all, take, shared) as f64;
    }
    let tray = |_| rng::beta_binomial_from_end(random, next.cuttings, take, known.correlation);
    (0..next.trays).map(tray).sum::<u64>() as f64
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::{by_rank, t_points, wilson_end};

    #[test]
    fn ends_of_the_interval_by_the_sign_of_t() {
        // Wilson 1927 for 48 of 80 at 1.96, by hand: (0.6 + 0.02401 -+ 1.96 sqrt(0.003 + 0.000150063)) / 1.04802.
        let square: f64 = 1.96 * 1.96 / 80.0;
        let (middle, reach) = (0.6 + 0.5 * square, (square * 0.24 + 0.25 * square * square).sqrt());
        assert_relative_eq!(wilson_end(0.6, 80.0, -1.96), (middle - reach) / (1.0 + square), max_relative = 1e-14);
        assert_relative_eq!(wilson_end(0.6, 80.0, 1.96), (middle + reach) / (1.0 + square), max_relative = 1e-14);
        // Where nothing rooted the lower half of the law is 0, where all did the upper is 1.
        assert!(wilson_end(0.0, 20.0, -1.0) < 1e-15 && wilson_end(0.0, 20.0, 1.0) > 0.04);
        assert!(wilson_end(1.0, 20.0, 1.0) > 1.0 - 1e-15 && wilson_end(1.0, 20.0, -1.0) < 0.96);
    }

    #[test]
    fn points_go_by_rank() {
        let points = t_points(5, 4.0);
        assert!(points.iter().zip(points.iter().rev()).all(|(low, high)| (low + high).abs() < 1e-12), "{points:?}");
        assert_eq!(by_rank(&[0.3, -2.0, 9.0], &[1.0, 2.0, 3.0]), [2.0, 1.0, 3.0]);
    }
}
