//! All charts of a crop: which are kept, for what drop, and how rarely a signal may come by chance.

use super::follow::{Followed, SetUp, Weeks, change_of};
use super::numbers::{Charted, Quiet, Signal, SignalOptions};
use crate::control::Control;
use crate::error::{ChoiceError, Result, WatchError};
use crate::math::special::{expit, logit};
use crate::watch::baseline::{Baseline, Expectations};
use crate::watch::crop::{Batch, Grouping, Part, week_of};

/// The most weeks between signals that are promised: a hundred years.
const MOST_WEEKS: f64 = 5200.0;

/// The charts with what they were made of.
pub(crate) struct Charts<'b> {
    pub(crate) told: Charted,
    followed: Vec<Followed<'b>>,
}

/// Charts the batches that were read after the baseline.
pub(crate) fn charted<'b>(
    batches: &'b [Batch],
    groupings: &[Grouping],
    baseline: &Baseline,
    options: &SignalOptions,
    control: &Control,
) -> Result<Charts<'b>> {
    let expected = Expectations::of(baseline, groupings);
    let usual = baseline.usual();
    let change = change_of(options.drop, usual).ok_or(WatchError::DropTooLarge { drop: options.drop, usual })?;
    if !((2.0..=MOST_WEEKS).contains(&options.weeks_between)) {
        return Err(WatchError::WeeksBetween { weeks: options.weeks_between }.into());
    }
    let (own, later) = baseline.parted(batches);
    let sets = levels(groupings, options.charts.as_deref())?;
    let wanted = options.weeks_between * sets.len() as f64;
    let mut followed = Vec::with_capacity(sets.len());
    for place in sets {
        let among = |batch: &&&Batch| place.is_none_or(|(at, level)| batch.levels.get(at) == Some(&level));
        let base = Weeks::of(own.iter().filter(among).copied(), groupings, &expected);
        let weeks = Weeks::of(later.iter().filter(among).copied(), groupings, &expected);
        if weeks.0.is_empty() || base.0.is_empty() {
            continue;
        }
        let rate_se = expected.mix_se(own.iter().filter(among).copied());
        let set_up = SetUp::new(&base, baseline, change, rate_se, wanted);
        let named = place.and_then(|(at, level)| {
            let grouping = groupings.get(at)?;
            Some((grouping.name.clone(), grouping.levels.get(level as usize)?.clone()))
        });
        followed.push(Followed::new(weeks, set_up, named.unzip(), &expected, control)?);
    }
    let mut signals: Vec<Signal> = followed.iter().enumerate().flat_map(|(at, one)| signals_of(at, one)).collect();
    signals.sort_by_key(|signal| signal.monday);
    let unknown = later.iter().filter(|batch| expected.logit(batch).is_none());
    let told = Charted {
        signals,
        charts: followed.iter().map(|one| one.chart.clone()).collect(),
        drop: options.drop,
        usual,
        odds_ratio: change.exp(),
        weeks_between: options.weeks_between,
        without_expectation: unknown.map(|batch| batch.name.clone()).collect(),
    };
    Ok(Charts { told, followed })
}

fn signals_of(at: usize, followed: &Followed<'_>) -> Vec<Signal> {
    let chart = &followed.chart;
    let signalled = chart.weeks.iter().filter(|week| week.signal);
    let one = |week: &super::numbers::ChartWeek| Signal {
        monday: week.monday,
        chart: at as u64,
        grouping: chart.grouping.clone(),
        level: chart.level.clone(),
        sum: week.sum,
        limit: week.limit,
    };
    signalled.map(one).collect()
}

/// A level of a grouping, both by number; None for all batches.
type Set = Option<(usize, u32)>;

/// What is followed: all batches, and each level of the groupings asked for.
fn levels(groupings: &[Grouping], asked: Option<&[String]>) -> Result<Vec<Set>> {
    let mut sets = vec![None];
    let names: Vec<&str> = groupings.iter().map(|grouping| grouping.name.as_str()).collect();
    if let Some(unknown) = asked.unwrap_or_default().iter().find(|name| !names.contains(&name.as_str())) {
        return Err(ChoiceError::new("column to chart", unknown, &names).into());
    }
    for (at, grouping) in groupings.iter().enumerate() {
        let wanted = match asked {
            Some(asked) => asked.contains(&grouping.name),
            None => grouping.part == Part::Place,
        };
        if wanted && grouping.levels.len() > 1 {
            sets.extend((0..grouping.levels.len() as u32).map(|level| Some((at, level))));
        }
    }
    Ok(sets)
}

/// How sure a drop would have been seen.
const SURE: f64 = 0.8;
/// Weeks that a quiet report looks back on.
const BACK: usize = 26;
/// Drops that are tried, as differences of rates.
const DROPS: [f64; 10] = [0.01, 0.02, 0.03, 0.04, 0.06, 0.08, 0.11, 0.15, 0.2, 0.3];

impl Charts<'_> {
    /// Whether the chart of a signal would have signalled with other counts, in the weeks from that of `first` on.
    pub(crate) fn would_signal(&self, signal: &Signal, first: i32, batches: &[&Batch], alive: &[u64]) -> bool {
        let counts = batches.iter().map(|batch| batch.name.as_str()).zip(alive.iter().copied()).collect();
        self.followed.get(signal.chart as usize).is_some_and(|one| one.would_signal(week_of(first), &counts))
    }

    /// The drop that the chart of all batches would have shown by now, had it come some weeks ago.
    pub(crate) fn quiet(&self, control: &Control) -> Result<Option<Quiet>> {
        let Some(all) = self.followed.first() else { return Ok(None) };
        let weeks = &all.chart.weeks;
        let Some(first) = weeks.get(weeks.len().saturating_sub(BACK)) else { return Ok(None) };
        let usual = self.told.usual;
        let drops: Vec<f64> = DROPS.into_iter().filter(|drop| *drop < usual).collect();
        let shifts: Vec<f64> = drops.iter().map(|drop| logit(usual - drop) - logit(usual)).collect();
        let seen = all.seen_by_now(week_of(first.monday), &shifts, control)?;
        let points = || shifts.iter().zip(&seen);
        let between = points().zip(points().skip(1)).find(|((_, low), (_, high))| **low < SURE && **high >= SURE);
        let drop = match (between, seen.first()) {
            (_, Some(least)) if *least >= SURE => drops.first().copied(),
            (Some(((one, low), (two, high))), _) => {
                let shift = one + (two - one) * (SURE - low) / (high - low);
                Some(usual - expit(logit(usual) + shift))
            }
            _ => None,
        };
        Ok(Some(Quiet { since: first.monday, n_weeks: weeks.len().min(BACK) as u64, drop, sure: SURE }))
    }
}
