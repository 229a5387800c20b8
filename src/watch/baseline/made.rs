//! From batches to a baseline, and from a baseline to what it expects of batches.

use std::collections::{BTreeMap, BTreeSet};

use super::between::{Between, between};
use super::design::{Columns, Row, YEAR};
use super::fit::{Data, fit, independent, quadratic};
use super::numbers::{Baseline, LevelRate};
use crate::control::Control;
use crate::error::{Result, WatchError};
use crate::math::special::expit;
use crate::watch::crop::{Batch, Grouping, Part};
use crate::watch::law::{Expected, Spreads};

/// Cycles of a year that a wave needs.
const CYCLES: usize = 2;
/// Days that a season has to run over to be one.
const CYCLE: i32 = 182;
/// Share by which the ages at reading of a baseline and a crop may differ.
const AGE: f64 = 0.2;
/// The largest coefficient that is taken, and the largest correlation and layer.
const FARTHEST: f64 = 50.0;
const LARGEST: (f64, f64) = (0.95, 3.0);
/// Seasons that a variance between them needs.
const SEASONS: u64 = 3;

/// Batches by set week and place, and these by week.
#[derive(Debug, Clone, Default)]
pub(crate) struct Clusters {
    /// Numbers of the batches of each cluster.
    pub(crate) clusters: Vec<Vec<usize>>,
    /// Numbers of the clusters of each week.
    pub(crate) weeks: Vec<Vec<usize>>,
}

/// The levels of a batch in the groupings that are places.
pub(crate) fn place_of(batch: &Batch, groupings: &[Grouping]) -> Vec<u32> {
    let places = groupings.iter().zip(&batch.levels).filter(|(grouping, _)| grouping.part == Part::Place);
    places.map(|(_, level)| *level).collect()
}

/// Puts batches into clusters.
pub(crate) fn clustered<'a>(batches: impl Iterator<Item = (usize, &'a Batch)>, groupings: &[Grouping]) -> Clusters {
    let mut found: BTreeMap<i32, BTreeMap<Vec<u32>, Vec<usize>>> = BTreeMap::new();
    for (at, batch) in batches {
        found.entry(batch.set_week()).or_default().entry(place_of(batch, groupings)).or_default().push(at);
    }
    let mut made = Clusters::default();
    for places in found.into_values() {
        let first = made.clusters.len();
        made.clusters.extend(places.into_values());
        made.weeks.push((first..made.clusters.len()).collect());
    }
    made
}

/// Cycles of a year that batches run over: their seasons, or the years from the first to the last where these are more.
fn cycles(batches: &[&Batch]) -> usize {
    let mut seasons: BTreeMap<i32, (i32, i32)> = BTreeMap::new();
    for batch in batches {
        let span = seasons.entry(batch.season).or_insert((batch.set, batch.set));
        *span = (span.0.min(batch.set), span.1.max(batch.set));
    }
    let whole = seasons.values().filter(|(first, last)| last - first >= CYCLE).count();
    let ends =
        seasons.values().fold((i32::MAX, i32::MIN), |(low, high), (first, last)| (low.min(*first), high.max(*last)));
    let years = (f64::from(ends.1.saturating_sub(ends.0).max(0)) + 14.0) / YEAR;
    whole.max(years as usize)
}

impl Baseline {
    /// Makes a baseline of batches.
    ///
    /// # Errors
    /// Interrupted where the user asked to stop.
    pub(crate) fn of(batches: &[&Batch], groupings: &[Grouping], fingerprint: &str, control: &Control) -> Result<Self> {
        let days = |of: fn(&Batch) -> i32| {
            let each = || batches.iter().map(|batch| of(batch));
            (each().min().unwrap_or_default(), each().max().unwrap_or_default())
        };
        let columns = Columns::of(batches, groupings, cycles(batches) >= CYCLES);
        let made = clustered(batches.iter().copied().enumerate(), groupings);
        let mut data = Data {
            rows: batches.iter().map(|batch| columns.row(batch).unwrap_or_default()).collect(),
            counts: batches.iter().map(|batch| (batch.started as f64, batch.alive as f64)).collect(),
            places: made.weeks.iter().filter(|clusters| clusters.len() > 1).count() > 2,
            clusters: made.clusters,
            weeks: made.weeks,
            columns: columns.count,
            kept: Vec::new(),
        };
        data.kept = independent(&data);
        for row in &mut data.rows {
            row.retain(|(column, _)| data.kept.contains(column));
        }
        let fitted = fit(&data, control)?;
        let seasons: BTreeSet<i32> = batches.iter().map(|batch| batch.season).collect();
        let named = |grouping: usize, level: usize| {
            let of = groupings.get(grouping)?;
            Some((of.name.clone(), of.levels.get(level)?.clone()))
        };
        let lost = columns.levels().filter(|(column, _, _)| !data.kept.contains(column));
        let mut baseline = Self {
            groupings: groupings.to_vec(),
            shares: columns.shares(batches),
            inseparable: lost.filter_map(|(_, grouping, level)| named(grouping, level)).collect(),
            columns,
            coefficients: fitted.coefficients,
            covariance: fitted.covariance,
            spreads: fitted.spreads,
            season_spread: None,
            season_within: None,
            least_correlation: fitted.least,
            striking: None,
            days: days(|batch| batch.read),
            n_batches: batches.len() as u64,
            n_weeks: data.weeks.len() as u64,
            n_clusters: data.clusters.len() as u64,
            n_seasons: seasons.len() as u64,
            counts: batches.iter().fold((0, 0), |(s, a), batch| (s + batch.started, a + batch.alive)),
            fingerprint: fingerprint.to_owned(),
            converged: fitted.converged,
            reading_age: None,
            steps: Vec::new(),
        };
        let seasons = baseline.between_seasons(batches);
        baseline.season_spread = seasons.map(|seasons| seasons.square.sqrt());
        baseline.season_within = seasons.map(|seasons| seasons.within);
        Ok(baseline)
    }

    /// Whether the numbers are those a baseline can have: a record may have been edited.
    ///
    /// # Errors
    /// [`WatchError::UnsoundBaseline`] with what is not as it can be.
    pub(crate) fn check(&self) -> Result<()> {
        let count = self.columns.count;
        let finite = |values: &[f64]| values.iter().all(|value| value.abs() <= FARTHEST);
        let Spreads { batch, week_in_place, week } = self.spreads;
        let square =
            self.covariance.len() == count && self.covariance.iter().all(|row| row.len() == count && finite(row));
        let wrong = [
            ("coefficients", self.coefficients.len() != count || !finite(&self.coefficients)),
            ("covariance", !square),
            ("columns", !self.columns.fit(&self.groupings) || self.shares.len() != count),
            (
                "spreads",
                !((0.0..LARGEST.0).contains(&batch)
                    && [week_in_place, week].iter().all(|one| (0.0..=LARGEST.1).contains(one))),
            ),
            ("season_spread", self.season_spread.is_some_and(|spread| !(0.0..=FARTHEST).contains(&spread))),
            ("season_within", self.season_within.is_some_and(|within| !(0.0..=FARTHEST).contains(&within))),
            ("counts", self.counts.0 == 0 || self.counts.1 > self.counts.0 || self.n_batches == 0),
            ("days", self.days.0 > self.days.1),
        ];
        match wrong.into_iter().find(|(_, wrong)| *wrong) {
            Some((what, _)) => Err(WatchError::UnsoundBaseline { what }.into()),
            None => self.steps.iter().try_for_each(|(_, step)| step.check()),
        }
    }

    /// Whether it is one of such a crop: the same columns, judged at about the same age.
    ///
    /// # Errors
    /// [`WatchError::OtherColumns`], [`WatchError::OtherAge`].
    pub(crate) fn check_crop(&self, groupings: &[Grouping], age: Option<i32>) -> Result<()> {
        self.check()?;
        let names = |of: &[Grouping]| of.iter().map(|one| one.name.clone()).collect::<BTreeSet<String>>();
        let (own, other) = (names(&self.groupings), names(groupings));
        if own != other {
            let told = |names: BTreeSet<String>| names.into_iter().collect::<Vec<_>>().join(", ");
            return Err(WatchError::OtherColumns { baseline: told(own), crop: told(other) }.into());
        }
        match self.reading_age.zip(age) {
            Some((own, age)) if f64::from((own - age).abs()) > AGE * f64::from(own.max(age)) => {
                Err(WatchError::OtherAge { baseline: own, crop: age }.into())
            }
            _ => Ok(()),
        }
    }

    /// True where a yearly wave is expected.
    #[must_use]
    pub fn has_wave(&self) -> bool {
        self.columns.has_wave()
    }

    /// What is expected of each level, the mix of all other columns being that of the baseline.
    #[must_use]
    pub fn level_rates(&self) -> Vec<LevelRate> {
        let mut rates = Vec::new();
        for (at, grouping) in self.groupings.iter().enumerate() {
            for (level, name) in grouping.levels.iter().enumerate() {
                let Some(row) = self.columns.level_row(at, level, &self.shares) else { continue };
                let value = |(column, x): &(usize, f64)| self.coefficients.get(*column).map(|b| b * x);
                let logit: f64 = row.iter().filter_map(value).sum();
                let reach = 1.96 * quadratic(&row, &self.covariance).max(0.0).sqrt();
                let [value, low, high] = [logit, logit - reach, logit + reach].map(expit);
                rates.push(LevelRate { grouping: grouping.name.clone(), level: name.clone(), value, low, high });
            }
        }
        rates
    }

    /// The usual rate: alive of all started.
    #[must_use]
    pub fn usual(&self) -> f64 {
        let (started, alive) = self.counts;
        // Half a plant to either side, so that none dead or none alive leaves room for a change.
        let half = if alive == 0 || alive == started { 0.5 } else { 0.0 };
        (alive as f64 + half) / (started as f64 + 2.0 * half).max(1.0)
    }

    /// Batches read in the days of the baseline, and those read later.
    pub(crate) fn parted<'b>(&self, batches: &'b [Batch]) -> (Vec<&'b Batch>, Vec<&'b Batch>) {
        batches.iter().filter(|batch| batch.read >= self.days.0).partition(|batch| batch.read <= self.days.1)
    }

    /// Standard error of the logarithm of the variance between dates, from the degrees of freedom of batches and of set weeks.
    #[must_use]
    pub fn spread_se(&self) -> f64 {
        let parameters = self.coefficients.len() as f64;
        let batches = (self.n_batches as f64 - parameters).max(1.0);
        let clusters = (self.n_clusters as f64 - 1.0).max(1.0);
        // Each part of the variance is as sure as its own number of units; the layers' part is taken by what they add to one cluster.
        let (started, alive) = (self.counts.0.max(1) as f64, self.counts.1 as f64);
        let rate = ((alive + 0.5) / (started + 1.0)).clamp(1e-6, 1.0 - 1e-6);
        let size = started / self.n_batches.max(1) as f64;
        let own = (1.0 + (size - 1.0) * self.spreads.batch) * clusters / (started * rate * (1.0 - rate));
        let layers = self.spreads.week_in_place.powi(2) + self.spreads.week.powi(2);
        let share = layers / (layers + own);
        ((1.0 - share).powi(2) * 2.0 / batches + share.powi(2) * 2.0 / clusters).sqrt()
    }

    /// How seasons differ beside weeks.
    fn between_seasons(&self, batches: &[&Batch]) -> Option<Between> {
        if self.n_seasons < SEASONS {
            return None;
        }
        let expected = Expectations::of(self, &self.groupings);
        let mut seasons: BTreeMap<i32, Vec<&Batch>> = BTreeMap::new();
        batches.iter().for_each(|batch| seasons.entry(batch.season).or_default().push(batch));
        let told = seasons.values().map(|batches| expected.off(batches.iter().copied()));
        let units: Vec<(f64, f64)> =
            told.filter(|(told, _)| *told > 0.0).map(|(told, off)| (off, 1.0 / told)).collect();
        between(&units)
    }
}

/// What a baseline expects of the batches of a crop, whose groupings may hold further levels.
#[derive(Debug, Clone)]
pub struct Expectations<'a> {
    baseline: &'a Baseline,
    groupings: &'a [Grouping],
    /// For each grouping and level of the crop the level of the baseline.
    levels: Vec<Vec<Option<u32>>>,
}

impl<'a> Expectations<'a> {
    /// Matches a crop with a baseline, by the names of groupings and levels.
    #[must_use]
    pub fn of(baseline: &'a Baseline, groupings: &'a [Grouping]) -> Self {
        let level = |grouping: &Grouping, name: &String| {
            grouping.levels.iter().position(|known| known == name).and_then(|at| u32::try_from(at).ok())
        };
        let levels = baseline.groupings.iter().map(|known| {
            let here = groupings.iter().find(|grouping| grouping.name == known.name);
            here.map_or_else(Vec::new, |here| here.levels.iter().map(|name| level(known, name)).collect())
        });
        Self { baseline, groupings, levels: levels.collect() }
    }

    /// The columns of a batch; None where the baseline never saw one of its levels.
    pub(crate) fn row(&self, batch: &Batch) -> Option<Row> {
        let at = |known: &Grouping| self.groupings.iter().position(|grouping| grouping.name == known.name);
        let levels: Option<Vec<u32>> = (self.baseline.groupings.iter().zip(&self.levels))
            .map(|(known, levels)| levels.get(*batch.levels.get(at(known)?)? as usize).copied().flatten())
            .collect();
        self.baseline.columns.row(&Batch { levels: levels?, ..batch.clone() })
    }

    /// The logit that is expected of a batch.
    #[must_use]
    pub fn logit(&self, batch: &Batch) -> Option<f64> {
        let row = self.row(batch)?;
        Some(row.iter().filter_map(|(column, value)| Some(value * self.baseline.coefficients.get(*column)?)).sum())
    }

    /// A batch as a chart sees it.
    #[must_use]
    pub fn expected(&self, batch: &Batch) -> Option<Expected> {
        Some(Expected { started: batch.started, alive: batch.alive, logit: self.logit(batch)? })
    }

    /// The standard error of the expected logit over the mix of these batches, each with what it tells.
    #[must_use]
    pub fn mix_se<'b>(&self, batches: impl Iterator<Item = &'b Batch>) -> f64 {
        let mut mix = self.mix();
        batches.for_each(|batch| mix.add(self, batch));
        mix.se(self)
    }

    /// A mix without a batch so far.
    pub(crate) fn mix(&self) -> Mix {
        Mix { told: 0.0, sums: vec![0.0; self.baseline.coefficients.len()] }
    }

    /// What batches tell together of a common shift of their logit, layers of weeks and places heeded, and the shift they show: one scoring step
    /// from no shift.
    #[must_use]
    pub fn off<'b>(&self, batches: impl Iterator<Item = &'b Batch>) -> (f64, f64) {
        let all: Vec<&Batch> = batches.collect();
        let made = clustered(all.iter().copied().enumerate(), self.groupings);
        let Spreads { batch: rho, week_in_place, week } = self.baseline.spreads;
        let (mut told, mut score) = (0.0, 0.0);
        for clusters in &made.weeks {
            let (mut week_told, mut week_score) = (0.0, 0.0);
            for cluster in clusters.iter().filter_map(|at| made.clusters.get(*at)) {
                let (mut own, mut own_score) = (0.0, 0.0);
                for expected in cluster.iter().filter_map(|at| self.expected(all.get(*at)?)) {
                    let n = expected.started as f64;
                    own += crate::watch::law::information(&expected, rho);
                    own_score += (expected.alive as f64 - n * expit(expected.logit)) / (1.0 + (n - 1.0) * rho);
                }
                let kept = 1.0 / (1.0 + week_in_place.powi(2) * own);
                week_told += kept * own;
                week_score += kept * own_score;
            }
            let kept = 1.0 / (1.0 + week.powi(2) * week_told);
            told += kept * week_told;
            score += kept * week_score;
        }
        (told, if told > 0.0 { score / told } else { 0.0 })
    }
}

/// The mix of some batches, each with what it tells.
#[derive(Debug, Clone)]
pub(crate) struct Mix {
    told: f64,
    sums: Vec<f64>,
}

impl Mix {
    /// Takes a batch in, where something is expected of it.
    pub(crate) fn add(&mut self, expectations: &Expectations<'_>, batch: &Batch) {
        let (Some(row), Some(expected)) = (expectations.row(batch), expectations.expected(batch)) else { return };
        let told = crate::watch::law::information(&expected, expectations.baseline.spreads.batch);
        self.told += told;
        row.iter().for_each(|(column, value)| {
            self.sums.iter_mut().skip(*column).take(1).for_each(|sum| *sum += told * value);
        });
    }

    /// The variance of the difference of its expected logit to that of another mix.
    pub(crate) fn variance_beside(&self, other: &Self, expectations: &Expectations<'_>) -> f64 {
        if self.told <= 0.0 || other.told <= 0.0 {
            return 0.0;
        }
        let row: Row = (self.sums.iter().zip(&other.sums))
            .map(|(one, other_sum)| one / self.told - other_sum / other.told)
            .enumerate()
            .collect();
        quadratic(&row, &expectations.baseline.covariance).max(0.0)
    }

    /// The standard error of its expected logit.
    pub(crate) fn se(&self, expectations: &Expectations<'_>) -> f64 {
        if self.told <= 0.0 {
            return 0.0;
        }
        let row: Row = self.sums.iter().enumerate().map(|(column, sum)| (column, sum / self.told)).collect();
        quadratic(&row, &expectations.baseline.covariance).max(0.0).sqrt()
    }
}
