//! Units side by side, rooms or grafters: each against its own expectation and against how the others differ from theirs.

use serde::{Deserialize, Serialize};

use crate::math::distributions::rng::{deviate, stream};
use crate::math::distributions::student_t;
use crate::math::special::{expit, logit};
use crate::watch::baseline::{Baseline, Expectations, Mix, between};
use crate::watch::crop::{Batch, Grouping};

/// One unit beside the others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PlaceBeside {
    /// The level.
    pub level: String,
    /// Batches.
    pub n_batches: u64,
    /// Plants started.
    pub started: u64,
    /// Plants alive.
    pub alive: u64,
    /// Rate alive.
    pub value: f64,
    /// Rate expected of its mix and time of year.
    pub expected: f64,
    /// Lower limit of its rate, for all units together; None where the others cannot tell.
    pub low: Option<f64>,
    /// Upper limit of its rate.
    pub high: Option<f64>,
    /// How the other units differ: standard deviation of the logit.
    pub spread: Option<f64>,
    /// How far it lies from the others, in standard errors that heed this spread.
    pub statistic: Option<f64>,
    /// Degrees of freedom of that.
    pub df: f64,
    /// P value, two-sided, of this unit by itself.
    pub p: Option<f64>,
    /// P value by the law of the largest of all units.
    pub p_adjusted: Option<f64>,
}

/// How far the largest of several units lies out by chance.
const DRAWS: u64 = 4_999;
const SEED: u64 = 1;
/// Fewer other units than this tell nothing of how units differ.
const OTHERS: usize = 2;

/// A unit's value and the variance that it has by itself.
type Unit = (f64, f64);

/// A unit beside the others: where these put it, with what variance, and how they differ.
#[derive(Debug, Clone, Copy)]
struct Beside {
    centre: f64,
    variance: f64,
    square: f64,
}

/// The unit at a place beside all others: the spread between units is that of the others alone, or the unit judged would hide itself in it (among
/// n units none can lie farther than (n - 1) / sqrt(n) of their common standard deviations from their mean).
fn beside(units: &[Unit], at: usize) -> Option<Beside> {
    let own = units.get(at)?;
    let others: Vec<Unit> = units.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, unit)| *unit).collect();
    let found = between(&others)?;
    Some(Beside { centre: found.mean, variance: own.1 + found.square + found.mean_variance, square: found.square })
}

fn statistic(units: &[Unit], at: usize) -> Option<f64> {
    let beside = beside(units, at)?;
    Some((units.get(at)?.0 - beside.centre) / beside.variance.sqrt())
}

/// The largest statistics of units that differ by chance, in order. They differ by as much as they are seen to where the largest of them is one of the
/// others, so that one unit far out does not make the rest look alike.
fn largest(units: &[Unit]) -> Vec<f64> {
    let square = (0..units.len()).filter_map(|at| Some(beside(units, at)?.square)).fold(0.0, f64::max);
    let one = |draw: u64| {
        let mut rng = stream(SEED, draw);
        let drawn: Vec<Unit> = units.iter().map(|(_, own)| ((own + square).sqrt() * deviate(&mut rng), *own)).collect();
        (0..drawn.len()).filter_map(|at| Some(statistic(&drawn, at)?.abs())).fold(0.0, f64::max)
    };
    let mut found: Vec<f64> = (0..DRAWS).map(one).collect();
    found.sort_by(f64::total_cmp);
    found
}

/// A unit as it was counted.
struct Counted {
    level: u32,
    n_batches: u64,
    started: u64,
    alive: u64,
    expected: f64,
}

/// The levels of a grouping side by side, those of which something is expected.
pub(crate) fn side_by_side(
    batches: &[&Batch],
    groupings: &[Grouping],
    baseline: &Baseline,
    at: usize,
    confidence: f64,
) -> Vec<PlaceBeside> {
    let Some(grouping) = groupings.get(at) else { return Vec::new() };
    let expectations = Expectations::of(baseline, groupings);
    let mix_of = |batches: &[&Batch]| -> Mix {
        let mut mix = expectations.mix();
        batches.iter().for_each(|batch| mix.add(&expectations, batch));
        mix
    };
    let known: Vec<&Batch> = batches.iter().copied().filter(|batch| expectations.logit(batch).is_some()).collect();
    let all = mix_of(&known);
    let (mut counted, mut units) = (Vec::new(), Vec::new());
    for level in 0..grouping.levels.len() as u32 {
        let own: Vec<&Batch> = known.iter().copied().filter(|batch| batch.levels.get(at) == Some(&level)).collect();
        let (told, off) = expectations.off(own.iter().copied());
        let started: u64 = own.iter().map(|batch| batch.started).sum();
        if told <= 0.0 || started == 0 {
            continue;
        }
        let each = own.iter().filter_map(|batch| Some(batch.started as f64 * expit(expectations.logit(batch)?)));
        counted.push(Counted {
            level,
            n_batches: own.len() as u64,
            started,
            alive: own.iter().map(|batch| batch.alive).sum(),
            expected: each.sum::<f64>() / started as f64,
        });
        // What the baseline is off by for all units alike moves none of them against the others.
        units.push((off, 1.0 / told + mix_of(&own).variance_beside(&all, &expectations)));
    }
    let law = if units.len() > OTHERS { largest(&units) } else { Vec::new() };
    let place = (confidence * (law.len() as f64 + 1.0)).ceil() as usize;
    let reach = law.get(place.saturating_sub(1).min(law.len().saturating_sub(1))).copied();
    let df = units.len() as f64 - 2.0;
    (counted.iter().enumerate())
        .map(|(at, one)| {
            let found = reach.and_then(|_| beside(&units, at));
            let statistic = found.and_then(|_| statistic(&units, at));
            let limit = |side: f64| {
                let (found, reach) = found.zip(reach)?;
                Some(expit(logit(one.expected) + found.centre + side * reach * found.variance.sqrt()))
            };
            let as_far = |z: f64| law.iter().filter(|largest| **largest >= z.abs()).count() as f64;
            PlaceBeside {
                level: grouping.levels.get(one.level as usize).cloned().unwrap_or_default(),
                n_batches: one.n_batches,
                started: one.started,
                alive: one.alive,
                value: one.alive as f64 / one.started as f64,
                expected: one.expected,
                low: limit(-1.0),
                high: limit(1.0),
                spread: found.map(|found| found.square.sqrt()),
                statistic,
                df,
                p: statistic.map(|z| (2.0 * student_t::sf(z.abs(), df)).min(1.0)),
                p_adjusted: statistic.map(|z| (as_far(z) + 1.0) / (law.len() as f64 + 1.0)),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{beside, largest, statistic};
    use crate::math::distributions::rng::{deviate, stream};
    use crate::math::distributions::student_t;

    #[test]
    fn a_unit_far_out_does_not_hide_itself() {
        // Among five units a common standard deviation never puts one farther out than 4 / sqrt(5) = 1.79 of it (Thompson 1935, Annals of
        // Mathematical Statistics 6:214-219, from memory).
        let units = [(0.0, 1e-4), (0.01, 1e-4), (-0.01, 1e-4), (0.005, 1e-4), (-3.0, 1e-4)];
        let mean = units.iter().map(|unit| unit.0).sum::<f64>() / 5.0;
        let common = (units.iter().map(|unit| (unit.0 - mean).powi(2)).sum::<f64>() / 4.0).sqrt();
        assert!(((units[4].0 - mean) / common).abs() < 1.79);
        assert!(statistic(&units, 4).unwrap() < -100.0);
        assert!(beside(&units, 4).unwrap().square < 1e-9);
    }

    #[test]
    fn like_units_give_the_deleted_residual_of_least_squares() {
        // With like variances that the units exceed, the statistic is the externally studentised residual of a common mean.
        let values = [0.3, -0.5, 0.9, -0.2, 0.1, -0.8];
        let units: Vec<(f64, f64)> = values.iter().map(|value| (*value, 1e-3)).collect();
        for (at, value) in values.iter().enumerate() {
            let others: Vec<f64> =
                values.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, v)| *v).collect();
            let mean = others.iter().sum::<f64>() / 5.0;
            let square = others.iter().map(|other| (other - mean).powi(2)).sum::<f64>() / 4.0;
            let wanted = (value - mean) / (square * (1.0 + 1.0 / 5.0)).sqrt();
            assert!((statistic(&units, at).unwrap() - wanted).abs() < 1e-9 * wanted.abs());
        }
    }

    #[test]
    fn the_largest_of_units_that_do_not_differ_is_seldom_named() {
        for (count, between) in [(4, 0.0), (5, 0.0), (5, 0.2), (8, 0.1), (8, 0.5)] {
            let (mut named, mut alone) = (0, 0);
            let runs = 60;
            for run in 0..runs {
                let mut rng = stream(31, run + 1000 * count);
                let units: Vec<(f64, f64)> = (0..count)
                    .map(|at| {
                        let own = 0.01 * (1.0 + f64::from(u8::from(at % 2 == 0)));
                        (f64::hypot(own.sqrt(), between) * deviate(&mut rng), own)
                    })
                    .collect();
                let law = largest(&units);
                let most = (0..units.len()).map(|at| statistic(&units, at).unwrap().abs()).fold(0.0, f64::max);
                let p = law.iter().filter(|one| **one >= most).count() as f64 / law.len() as f64;
                named += u32::from(p <= 0.05);
                let own = statistic(&units, 0).unwrap().abs();
                alone += u32::from(2.0 * student_t::sf(own, count as f64 - 2.0) <= 0.05);
            }
            // 3 of 60 expected at most.
            assert!(named <= 8 && alone <= 8, "{count} {between}: {named}, {alone} of {runs}");
        }
    }
}
