//! Random tables with given margins.

use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::hypergeometric::ln_pmf;
use crate::math::rng::{stream, uniform};
use crate::math::special::{LN_SQRT_TWO_PI, deviance, ln_gamma, stirling_error};

/// Draws that share one random stream.
const BATCH: u64 = 500;
/// Factorials up to this number are tabulated.
const TABULATED: u64 = 1 << 20;

/// Standard deviations up to this one are gone through by inversion.
const STEPS_WORTH: f64 = 40.0;

/// Number among the first `successes` when `draws` are taken from `successes + failures`: by inversion from the most likely
/// number outwards, for wide laws by the ratio of uniforms, whose cost does not grow with the counts.
///
/// # References
/// Stadlober E (1990), J. Comput. Appl. Math. 31:181-189.
pub(crate) fn hypergeometric(rng: &mut ChaCha8Rng, successes: u64, failures: u64, draws: u64) -> u64 {
    let (least, most) = (draws.saturating_sub(failures), successes.min(draws));
    if least >= most {
        return least;
    }
    let (s, f, n) = (successes as f64, failures as f64, draws as f64);
    let (all, share) = (s + f, n / (s + f));
    let variance = s * share * (1.0 - share) * (f / (all - 1.0));
    if variance > STEPS_WORTH * STEPS_WORTH {
        return by_ratio(rng, (s, f, n), s * share, variance);
    }
    let mode = (((n + 1.0) * (s + 1.0) / (s + f + 2.0)).floor() as u64).clamp(least, most);
    // P(k + 1) / P(k)
    let ratio = |k: u64| {
        let k = k as f64;
        (s - k) / (k + 1.0) * (n - k) / (f - n + k + 1.0)
    };
    let at_mode = ln_pmf(mode as f64, s, f, n).exp();
    let mut left = uniform(rng) - at_mode;
    let (mut down, mut up) = (mode, mode);
    let (mut below, mut above) = (at_mode, at_mode);
    while left >= 0.0 {
        let (can_fall, can_rise) = (down > least, up < most);
        if !can_fall && !can_rise {
            // Rounding left a speck of probability.
            return mode;
        }
        if can_rise {
            above *= ratio(up);
            up += 1;
            left -= above;
            if left < 0.0 {
                return up;
            }
        }
        if can_fall {
            down -= 1;
            below /= ratio(down);
            left -= below;
            if left < 0.0 {
                return down;
            }
        }
    }
    mode
}

/// A point uniform in the region where `u^2` is at most the probability over that of the mode; the number is the slope's.
fn by_ratio(rng: &mut ChaCha8Rng, (s, f, n): (f64, f64, f64), mean: f64, variance: f64) -> u64 {
    let mode = ((n + 1.0) * (s + 1.0) / (s + f + 2.0)).floor();
    let ln_at_mode = ln_pmf(mode, s, f, n);
    // 2 sqrt(2 / e) standard deviations and 3 - 2 sqrt(3 / e) hold the region for every such law.
    let width = 1.715_527_769_921_413_5 * (variance + 0.5).sqrt() + 0.898_916_162_058_898_8;
    loop {
        let u = 1.0 - uniform(rng);
        let number = (mean + 0.5 + width * (uniform(rng) - 0.5) / u).floor();
        // Beyond the ends the probability is 0 and its logarithm minus infinity.
        if 2.0 * u.ln() <= ln_pmf(number, s, f, n) - ln_at_mode {
            return number as u64;
        }
    }
}

/// A random table with the given margins, column by column, every table as likely as its probability under no association.
///
/// # References
/// Patefield 1981, Appl. Stat. 30:91-97 (the conditional distribution of one cell after the other).
pub(crate) fn table(rng: &mut ChaCha8Rng, rows: &[u64], columns: &[u64]) -> Vec<Vec<u64>> {
    let mut left = rows.to_vec();
    columns
        .iter()
        .map(|column| {
            let mut draws = *column;
            let mut room: u64 = left.iter().sum();
            left.iter_mut()
                .map(|row| {
                    room -= *row;
                    let count = hypergeometric(rng, *row, room, draws);
                    draws -= count;
                    *row -= count;
                    count
                })
                .collect()
        })
        .collect()
}

/// How many of `draws` random tables meet each of several conditions, asked of the table's columns. Does not depend on the
/// number of threads.
///
/// # Errors
/// [`Error::Interrupted`](crate::Error) when the control was stopped.
pub(crate) fn count_tables<const K: usize>(
    margins: (&[u64], &[u64]),
    draws: u64,
    seed: u64,
    control: &Control,
    meets: impl Fn(&[Vec<u64>]) -> [bool; K] + Sync,
) -> Result<[u64; K]> {
    control.expect(draws);
    let batches: Result<Vec<[u64; K]>> = (0..draws.div_ceil(BATCH))
        .into_par_iter()
        .map(|batch| {
            let mut rng = stream(seed, batch);
            let mut hits = [0; K];
            let size = BATCH.min(draws - batch * BATCH);
            for _ in 0..size {
                control.step()?;
                let drawn = table(&mut rng, margins.0, margins.1);
                for (hit, met) in hits.iter_mut().zip(meets(&drawn)) {
                    *hit += u64::from(met);
                }
            }
            control.finish(size);
            Ok(hits)
        })
        .collect();
    let mut sums = [0; K];
    for hits in batches? {
        for (sum, hit) in sums.iter_mut().zip(hits) {
            *sum += hit;
        }
    }
    Ok(sums)
}

/// Number of `draws` random tables that are not more probable than `cells`, with relative slack.
pub(super) fn not_more_probable(
    cells: &[Vec<u64>],
    margins: (&[u64], &[u64]),
    plan: (u64, u64),
    control: &Control,
) -> Result<u64> {
    let slack = super::margins::SLACK;
    let column = |at: usize| -> Vec<u64> { cells.iter().filter_map(|row| row.get(at)).copied().collect() };
    let observed: Vec<Vec<u64>> = (0..margins.1.len()).map(column).collect();
    let total: u64 = margins.0.iter().sum();
    if total > TABULATED {
        // Logarithms of such factorials would leave no digits for their difference.
        let weight = |columns: &[Vec<u64>]| beside_expected(columns, margins, total as f64);
        let limit = weight(&observed) - slack;
        let [hits] = count_tables(margins, plan.0, plan.1, control, |columns| [weight(columns) >= limit])?;
        return Ok(hits);
    }
    let ln_factorials: Vec<f64> = (0..=total).map(|n| ln_gamma(n as f64 + 1.0)).collect();
    let ln = |n: &u64| ln_factorials.get(*n as usize).copied().unwrap_or(f64::INFINITY);
    let weight = |columns: &[Vec<u64>]| -> f64 { columns.iter().flatten().map(ln).sum() };
    let limit = weight(&observed) - slack;
    let [hits] = count_tables(margins, plan.0, plan.1, control, |columns| [weight(columns) >= limit])?;
    Ok(hits)
}

/// Minus ln P of a table but for a constant of its margins, as the distance of each count from the expected one.
fn beside_expected(by_column: &[Vec<u64>], (rows, columns): (&[u64], &[u64]), total: f64) -> f64 {
    let cells = by_column.iter().zip(columns).flat_map(|(cells, column)| {
        cells.iter().zip(rows).map(move |(count, row)| (*count as f64, *row as f64 / total * *column as f64))
    });
    let part = |(count, mean): (f64, f64)| {
        let own = if count > 0.0 { 0.5 * count.ln() + stirling_error(count) + LN_SQRT_TWO_PI } else { 0.0 };
        deviance(count, mean, 0.0) + own
    };
    cells.map(part).sum()
}
