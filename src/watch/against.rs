//! A rate against a target or last season, with every layer that a further season would bring.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::math::distributions::student_t;
use crate::watch::baseline::{Baseline, clustered};
use crate::watch::crop::{Batch, Grouping};

/// How far a rate lies from a target as more and more of what varies is heeded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AgainstTarget {
    /// The rate read.
    pub value: f64,
    /// The target.
    pub target: f64,
    /// Plants started.
    pub started: u64,
    /// Plants alive.
    pub alive: u64,
    /// Batches.
    pub n_batches: u64,
    /// Standard errors to the target, were plants independent.
    pub z_of_plants: f64,
    /// The same with what batches have in common.
    pub z_of_batches: f64,
    /// The same with what weeks have in common.
    pub z_of_weeks: f64,
    /// The same with how seasons differ, where that is known.
    pub z_of_seasons: Option<f64>,
    /// Standard error with all layers that are known.
    pub se: f64,
    /// Degrees of freedom of that.
    pub df: f64,
    /// P value, two-sided.
    pub p: f64,
    /// True where nothing is known of how seasons differ.
    pub season_unknown: bool,
}

/// Sets these batches against a target; None without a batch.
pub(crate) fn against(
    batches: &[&Batch],
    groupings: &[Grouping],
    baseline: &Baseline,
    target: f64,
) -> Option<AgainstTarget> {
    let (started, alive) = batches.iter().fold((0, 0), |(s, a), batch| (s + batch.started, a + batch.alive));
    if started == 0 {
        return None;
    }
    let spreads = baseline.spreads;
    let all = started as f64;
    let value = alive as f64 / all;
    let binomial = target * (1.0 - target);
    let size = |batch: &&Batch| batch.started as f64;
    let plants = binomial / all;
    let of_batches =
        batches.iter().map(|batch| binomial * size(batch) * (1.0 + (size(batch) - 1.0) * spreads.batch)).sum::<f64>();
    let own = of_batches / (all * all);
    // A shift of the logit moves the rate by so much.
    let slope = binomial;
    let made = clustered(batches.iter().copied().enumerate(), groupings);
    let plants_of = |cluster: &usize| -> f64 {
        made.clusters.get(*cluster).into_iter().flatten().filter_map(|at| batches.get(*at)).map(size).sum()
    };
    let squares = |sums: &mut dyn Iterator<Item = f64>| sums.map(|sum| (sum / all).powi(2)).sum::<f64>();
    let in_place =
        squares(&mut (0..made.clusters.len()).map(|at| plants_of(&at))) * (slope * spreads.week_in_place).powi(2);
    let by_week =
        squares(&mut made.weeks.iter().map(|week| week.iter().map(plants_of).sum())) * (slope * spreads.week).powi(2);
    let seasons: BTreeSet<i32> = batches.iter().map(|batch| batch.season).collect();
    let mut of_season: BTreeMap<i32, f64> = BTreeMap::new();
    batches.iter().for_each(|batch| *of_season.entry(batch.season).or_default() += size(batch));
    let season =
        baseline.season_spread.map(|spread| squares(&mut of_season.values().copied()) * (slope * spread).powi(2));
    let weeks = in_place + by_week;
    let variance = own + weeks + season.unwrap_or(0.0);
    // Satterthwaite: each part with the units that it is known from.
    let part = |variance: f64, df: f64| variance * variance / df.max(1.0);
    let df = variance * variance
        / (part(own, baseline.n_batches as f64 - baseline.coefficients.len() as f64)
            + part(weeks, baseline.n_clusters as f64 - 1.0)
            + season.map_or(0.0, |season| part(season, baseline.n_seasons as f64 - 1.0)));
    let z = |variance: f64| (value - target) / variance.sqrt();
    let t = z(variance);
    Some(AgainstTarget {
        value,
        target,
        started,
        alive,
        n_batches: batches.len() as u64,
        z_of_plants: z(plants),
        z_of_batches: z(own),
        z_of_weeks: z(own + weeks),
        z_of_seasons: season.map(|_| t),
        se: variance.sqrt(),
        df,
        p: (2.0 * student_t::sf(t.abs(), df)).min(1.0),
        season_unknown: season.is_none() && !seasons.is_empty(),
    })
}
