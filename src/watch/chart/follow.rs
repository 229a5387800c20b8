//! Following one set of batches week by week.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::numbers::{Chart, ChartWeek};
use crate::control::{Control, Signal as Stop};
use crate::error::Result;
use crate::math::special::{expit, logit};
use crate::watch::baseline::{Baseline, Expectations, clustered};
use crate::watch::crop::{Batch, Grouping, monday_of};
use crate::watch::law::{
    DateScores, Expected, FARTHEST, Law, Look, Running, Spreads, Truth, Typical, date_variance, guarded, information,
};

/// Weeks of the baseline that stand for it.
const TYPICAL: usize = 5;
/// Steps to the standard deviation of a date's score.
const FINE: f64 = 16.0;
/// The coarsest and the finest step.
const STEPS: (f64, f64) = (0.125, 1.0 / 256.0);

/// The batches read in one week, in clusters.
type Week<'b> = Vec<Vec<(&'b Batch, Expected)>>;

/// The batches of a chart in the weeks in which they were read.
#[derive(Debug, Clone, Default)]
pub(super) struct Weeks<'b>(pub(super) BTreeMap<i32, Week<'b>>);

/// What a chart sees of a week.
fn seen(week: &Week<'_>) -> Vec<Vec<Expected>> {
    week.iter().map(|cluster| cluster.iter().map(|(_, expected)| *expected).collect()).collect()
}

impl<'b> Weeks<'b> {
    /// Those of batches of which something is expected.
    pub(super) fn of(
        batches: impl Iterator<Item = &'b Batch>,
        groupings: &[Grouping],
        expected: &Expectations<'_>,
    ) -> Self {
        let mut read: BTreeMap<i32, Vec<(&Batch, Expected)>> = BTreeMap::new();
        for batch in batches {
            if let Some(expected) = expected.expected(batch) {
                read.entry(batch.read_week()).or_default().push((batch, expected));
            }
        }
        let weeks = read.into_iter().map(|(week, held)| {
            let made = clustered(held.iter().map(|(batch, _)| *batch).enumerate(), groupings);
            let one = |cluster: &Vec<usize>| cluster.iter().filter_map(|at| held.get(*at).copied()).collect();
            (week, made.clusters.iter().map(one).collect())
        });
        Self(weeks.collect())
    }

    /// Some weeks that stand for all: evenly among them, ordered by what they tell.
    fn typical(&self, spreads: &Spreads) -> Typical {
        let told = |week: &Week<'_>| -> f64 {
            week.iter().flatten().map(|(_, expected)| information(expected, spreads.batch)).sum()
        };
        let mut weeks: Vec<&Week<'_>> = self.0.values().collect();
        weeks.sort_by(|a, b| told(a).total_cmp(&told(b)));
        let count = weeks.len().min(TYPICAL);
        let place = |i: usize| (2 * i + 1) * weeks.len() / (2 * count.max(1));
        (0..count).filter_map(|i| weeks.get(place(i)).map(|week| seen(week))).collect()
    }
}

/// The change of the logit that a drop in points makes at the usual rate.
///
/// None where the drop leaves no rate above 0.
///
/// ```
/// // From 88 to 83 alive of 100 the odds fall to two thirds.
/// let change = rootling::watch::change_of(0.05, 0.88).unwrap();
/// approx::assert_relative_eq!(change.exp(), (0.83 / 0.17) / (0.88 / 0.12), epsilon = 0.0, max_relative = 1e-12);
/// ```
#[must_use]
pub fn change_of(drop: f64, usual: f64) -> Option<f64> {
    let lower = usual - drop;
    (drop > 0.0 && lower > 0.0 && usual < 1.0).then(|| logit(lower) - logit(usual))
}

/// How a chart is set up: what it looks for, and the crop that its limits are set for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SetUp {
    pub(super) look: Look,
    pub(super) truth: Truth,
    /// Standard error of the expected logit that the truth was found for.
    rate_se: f64,
    /// Probability of a signal by chance in a week.
    pub(super) allowed: f64,
}

impl SetUp {
    /// Sets a chart up from the weeks of the baseline.
    pub(super) fn new(base: &Weeks<'_>, baseline: &Baseline, change: f64, rate_se: f64, wanted: f64) -> Self {
        let spreads = baseline.spreads;
        let typical = base.typical(&spreads);
        let most = typical.iter().map(|week| 1.0 / date_variance(week, &spreads)).fold(0.0, f64::max);
        let step = (change.abs() * most.sqrt() / FINE).min(STEPS.0).max(STEPS.1);
        let look = Look { change, spreads, step };
        let truth = guarded(&typical, &look, rate_se, baseline.spread_se(), wanted);
        Self { look, truth, rate_se, allowed: 1.0 / wanted }
    }
}

/// A chart with what it was made of.
pub(super) struct Followed<'b> {
    pub(super) chart: Chart,
    pub(super) set_up: SetUp,
    weeks: Weeks<'b>,
    scored: Vec<DateScores>,
    limits: Vec<i64>,
}

impl<'b> Followed<'b> {
    /// Follows the weeks: sums, limits and signals.
    pub(super) fn new(
        weeks: Weeks<'b>,
        set_up: SetUp,
        (grouping, level): (Option<String>, Option<String>),
        expectations: &Expectations<'_>,
        control: &Control,
    ) -> Result<Self> {
        let stop = Stop::here();
        // The mix so far says how far the baseline may be off: what comes later changes no limit.
        let mut mix = expectations.mix();
        let truth = |week: &Week<'_>| {
            week.iter().flatten().for_each(|(batch, _)| mix.add(expectations, batch));
            let off = if set_up.rate_se > 0.0 { mix.se(expectations) / set_up.rate_se } else { 1.0 };
            // Of a mix of which nothing is known no limit can be set: what is more than this is cut.
            Truth { shift: (off * set_up.truth.shift).clamp(-FARTHEST, FARTHEST), ..set_up.truth }
        };
        let truths: Vec<Truth> = weeks.0.values().map(truth).collect();
        let all: Vec<(&Week<'_>, Truth)> = weeks.0.values().zip(truths).collect();
        let one = |(week, truth): &(&Week<'_>, Truth)| {
            control.step()?;
            Ok(stop.on(|| DateScores::new(&seen(week), &set_up.look, &[*truth])))
        };
        let scored: Vec<DateScores> = all.par_iter().map(one).collect::<Result<_>>()?;
        let (mut running, mut sum) = (Running::default(), 0_i64);
        let mut told = Vec::with_capacity(all.len());
        let mut limits = Vec::with_capacity(all.len());
        for ((number, week), scores) in weeks.0.iter().zip(&scored) {
            let Some(law) = scores.laws.first() else { continue };
            let limit = running.advance(law, set_up.allowed);
            limits.push(limit);
            sum = (sum + scores.read()).max(0);
            let signal = sum > limit;
            let batches = || week.iter().flatten().map(|(_, expected)| expected);
            told.push(ChartWeek {
                monday: monday_of(*number),
                n_batches: batches().count() as u64,
                started: batches().map(|batch| batch.started).sum(),
                alive: batches().map(|batch| batch.alive).sum(),
                expected: batches().map(|batch| batch.started as f64 * expit(batch.logit)).sum(),
                sum: sum as f64 * set_up.look.step,
                limit: limit as f64 * set_up.look.step,
                signal,
            });
            if signal {
                running.restart();
                sum = 0;
            }
        }
        Ok(Self { chart: Chart { grouping, level, weeks: told }, set_up, weeks, scored, limits })
    }

    /// Whether other counts of the same batches would have signalled within the weeks from `first` on.
    pub(super) fn would_signal(&self, first: i32, alive: &BTreeMap<&str, u64>) -> bool {
        let mut sum = 0_i64;
        let weeks = self.weeks.0.iter().zip(self.scored.iter().zip(&self.limits));
        for ((_, week), (scores, limit)) in weeks.filter(|((number, _), _)| **number >= first) {
            let of = |(batch, expected): &(&Batch, Expected)| {
                alive.get(batch.name.as_str()).copied().unwrap_or(expected.alive)
            };
            let counts: Vec<Vec<u64>> = week.iter().map(|cluster| cluster.iter().map(of).collect()).collect();
            sum = (sum + scores.score(&counts)).max(0);
            if sum > *limit {
                return true;
            }
        }
        false
    }

    /// The probability of a signal by now had every logit been shifted since `first`, for each shift.
    pub(super) fn seen_by_now(&self, first: i32, shifts: &[f64], control: &Control) -> Result<Vec<f64>> {
        let truths: Vec<Truth> = shifts.iter().map(|shift| Truth { shift: *shift, width: 0.0 }).collect();
        let weeks: Vec<(&Week<'_>, i64)> = (self.weeks.0.iter().zip(&self.limits))
            .filter(|((number, _), _)| **number >= first)
            .map(|((_, week), limit)| (week, *limit))
            .collect();
        let stop = Stop::here();
        let one = |(week, _): &(&Week<'_>, i64)| {
            control.step()?;
            Ok(stop.on(|| DateScores::new(&seen(week), &self.set_up.look, &truths).laws))
        };
        let laws: Vec<Vec<Law>> = weeks.par_iter().map(one).collect::<Result<_>>()?;
        let of = |place: usize| {
            let mut running = Running::default();
            let quiet = weeks.iter().zip(&laws).filter_map(|((_, limit), laws)| Some((laws.get(place)?, limit)));
            1.0 - quiet.fold(1.0, |kept, (law, limit)| kept * (1.0 - running.beyond(law, *limit)))
        };
        Ok((0..shifts.len()).map(of).collect())
    }
}
