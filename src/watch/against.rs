//! A rate against a target or last season, with every layer that a further season would bring.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::math::distributions::student_t;
use crate::math::special::expit;
use crate::watch::baseline::{Baseline, Expectations, clustered};
use crate::watch::crop::{Batch, Grouping};

/// What a rate is set against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// A rate, as a proportion.
    Rate(f64),
    /// What the season before gave, moved to the mix and time of year of the batches judged.
    LastSeason,
}

impl From<f64> for Aim {
    fn from(rate: f64) -> Self {
        Self::Rate(rate)
    }
}

/// How far a rate lies from a target as more and more of what varies is heeded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AgainstTarget {
    /// The rate read.
    pub value: f64,
    /// The target; of last season its rate, moved to the mix and time of year of these batches.
    pub target: f64,
    /// The rate that last season gave as it was; None where a rate was the target.
    #[serde(default)]
    pub last_season: Option<f64>,
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
    /// Seasons that this is known from.
    #[serde(default)]
    pub n_seasons: u64,
    /// Standard error with all layers that are known.
    pub se: f64,
    /// Degrees of freedom of that.
    pub df: f64,
    /// Lower 95 % limit of the rate with these layers.
    #[serde(default)]
    pub low: Option<f64>,
    /// Upper 95 % limit.
    #[serde(default)]
    pub high: Option<f64>,
    /// P value, two-sided.
    pub p: f64,
    /// True where nothing is known of how seasons differ.
    pub season_unknown: bool,
}

/// The variance of a rate, part by part.
#[derive(Debug, Clone, Copy, Default)]
struct Layers {
    plants: f64,
    batches: f64,
    weeks: f64,
    /// What a variance between seasons counts for, on the logit scale.
    seasons: f64,
}

impl Layers {
    /// Those of some batches, at a rate near `target`.
    fn of(batches: &[&Batch], groupings: &[Grouping], baseline: &Baseline, target: f64) -> Self {
        let spreads = baseline.spreads;
        let binomial = target * (1.0 - target);
        let size = |batch: &Batch| batch.started as f64;
        let all: f64 = batches.iter().map(|batch| size(batch)).sum();
        let alike = |batch: &&Batch| binomial * size(batch) * (1.0 + (size(batch) - 1.0) * spreads.batch);
        let made = clustered(batches.iter().copied().enumerate(), groupings);
        let plants_of = |cluster: &usize| -> f64 {
            made.clusters.get(*cluster).into_iter().flatten().filter_map(|at| Some(size(batches.get(*at)?))).sum()
        };
        let squares = |sums: &mut dyn Iterator<Item = f64>| sums.map(|sum| (sum / all).powi(2)).sum::<f64>();
        // A shift of the logit moves the rate by so much.
        let slope = binomial;
        let in_place = squares(&mut (0..made.clusters.len()).map(|at| plants_of(&at)));
        let by_week = squares(&mut made.weeks.iter().map(|week| week.iter().map(plants_of).sum()));
        let mut of_season: BTreeMap<i32, f64> = BTreeMap::new();
        batches.iter().for_each(|batch| *of_season.entry(batch.season).or_default() += size(batch));
        Self {
            plants: binomial / all,
            batches: batches.iter().map(alike).sum::<f64>() / (all * all),
            weeks: in_place * (slope * spreads.week_in_place).powi(2) + by_week * (slope * spreads.week).powi(2),
            seasons: squares(&mut of_season.values().copied()) * slope * slope,
        }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            plants: self.plants + other.plants,
            batches: self.batches + other.batches,
            weeks: self.weeks + other.weeks,
            seasons: self.seasons + other.seasons,
        }
    }

    /// Variance and degrees of freedom with all layers.
    ///
    /// A mean square between few seasons is often small by chance, so it counts as one of its seasons less one, never below what seasons have by
    /// their batches and weeks alone; only what these batches are uncertain by beyond a season of the baseline is added to it
    /// (Satterthwaite).
    fn together(&self, baseline: &Baseline) -> (f64, f64) {
        let own = self.batches + self.weeks;
        let known = baseline.season_spread.map(|spread| {
            // A baseline that does not say what a season has by itself is taken to be as these batches are.
            let within = baseline.season_within.map_or(own, |within| within * self.seasons);
            (self.seasons * spread * spread + within, within)
        });
        let (seasons, within) = known.unwrap_or((0.0, 0.0));
        let beyond = (own - within).max(0.0);
        let variance = seasons + beyond;
        let share = if own > 0.0 { beyond / own } else { 0.0 };
        let part = |variance: f64, df: f64| variance * variance / df.max(1.0);
        let df = variance * variance
            / (part(share * self.batches, baseline.n_batches as f64 - baseline.coefficients.len() as f64)
                + part(share * self.weeks, baseline.n_clusters as f64 - 1.0)
                + part(seasons, baseline.n_seasons as f64 - 1.0));
        (variance, df)
    }
}

fn rate(batches: &[&Batch]) -> Option<(u64, u64, f64)> {
    let (started, alive) = batches.iter().fold((0, 0), |(s, a), batch| (s + batch.started, a + batch.alive));
    (started > 0).then(|| (started, alive, alive as f64 / started as f64))
}

/// Sets these batches against a target; None without a batch.
pub(crate) fn against(
    batches: &[&Batch],
    groupings: &[Grouping],
    baseline: &Baseline,
    target: f64,
) -> Option<AgainstTarget> {
    let layers = Layers::of(batches, groupings, baseline, target);
    judged(batches, baseline, target, layers)
}

fn judged(batches: &[&Batch], baseline: &Baseline, target: f64, layers: Layers) -> Option<AgainstTarget> {
    let (started, alive, value) = rate(batches)?;
    let (variance, df) = layers.together(baseline);
    let z = |variance: f64| (value - target) / variance.sqrt();
    let t = z(variance);
    let reach = -student_t::quantile(0.025, df) * variance.sqrt();
    let season_unknown = baseline.season_spread.is_none();
    Some(AgainstTarget {
        value,
        target,
        last_season: None,
        started,
        alive,
        n_batches: batches.len() as u64,
        z_of_plants: z(layers.plants),
        z_of_batches: z(layers.batches),
        z_of_weeks: z(layers.batches + layers.weeks),
        z_of_seasons: (!season_unknown).then_some(t),
        n_seasons: baseline.n_seasons,
        se: variance.sqrt(),
        df,
        low: Some(value - reach),
        high: Some(value + reach),
        p: (2.0 * student_t::sf(t.abs(), df)).min(1.0),
        season_unknown,
    })
}

/// Sets batches against what the baseline expects of them, as a further season beside those that it is made of; None without a batch of which
/// something is expected.
pub(crate) fn against_seasons(
    batches: &[&Batch],
    groupings: &[Grouping],
    baseline: &Baseline,
) -> Option<AgainstTarget> {
    let expected = Expectations::of(baseline, groupings);
    let known: Vec<&Batch> = batches.iter().copied().filter(|batch| expected.logit(batch).is_some()).collect();
    let target = mean_expected(&known, &expected).clamp(EDGE, 1.0 - EDGE);
    let own = Layers::of(&known, groupings, baseline, target);
    // What is usual is a mean over the baseline's seasons, which had their luck too.
    let before = Layers { seasons: own.seasons / baseline.n_seasons.max(1) as f64, ..Layers::default() };
    judged(&known, baseline, target, own.plus(before))
}

/// The rate that is expected of batches together.
fn mean_expected(batches: &[&Batch], expected: &Expectations<'_>) -> f64 {
    let each = batches.iter().filter_map(|batch| Some((batch.started as f64, expit(expected.logit(batch)?))));
    let (started, alive) = each.fold((0.0, 0.0), |(s, a), (n, rate)| (s + n, a + n * rate));
    if started > 0.0 { alive / started } else { 0.0 }
}

/// Days by which a time of year may be off, and days of a year.
const ABOUT: i32 = 7;
const YEAR: i32 = 365;
/// A target nearer to 0 or 1 than this is no rate that more batches could have.
const EDGE: f64 = 1e-3;

/// Sets batches against the season before theirs, at the same time of year where that was set then; None without a batch of either.
///
/// What last season gave is moved by what the baseline expects of the two mixes. Both seasons have their luck, so every layer counts twice.
pub(crate) fn against_last_season(
    batches: &[&Batch],
    all: &[Batch],
    groupings: &[Grouping],
    baseline: &Baseline,
) -> Option<AgainstTarget> {
    let expected = Expectations::of(baseline, groupings);
    let season = batches.iter().map(|batch| batch.season).max()?;
    let known = |batch: &&Batch| expected.logit(batch).is_some();
    let these: Vec<&Batch> = batches.iter().copied().filter(|batch| batch.season == season).filter(known).collect();
    let before = all.iter().map(|batch| batch.season).filter(|one| *one < season).max()?;
    let whole: Vec<&Batch> = all.iter().filter(|batch| batch.season == before).filter(known).collect();
    let first = these.iter().map(|batch| batch.set).min()? - YEAR - ABOUT;
    let last = these.iter().map(|batch| batch.set).max()? - YEAR + ABOUT;
    let alike: Vec<&Batch> = whole.iter().copied().filter(|batch| (first..=last).contains(&batch.set)).collect();
    let those = if alike.is_empty() { whole } else { alike };
    let (_, _, last_season) = rate(&those)?;
    let target =
        (last_season + mean_expected(&these, &expected) - mean_expected(&those, &expected)).clamp(EDGE, 1.0 - EDGE);
    let of = |batches: &[&Batch]| Layers::of(batches, groupings, baseline, target);
    let found = judged(&these, baseline, target, of(&these).plus(of(&those)))?;
    Some(AgainstTarget { last_season: Some(last_season), ..found })
}
