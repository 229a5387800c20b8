//! Is a drop real, since when, where; or quiet, and what would have shown.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::phrases::{baseline_notes, batches as batch_words, not_a_cause, stretch};
use super::signal_words::{details, methods, sentence, table, unknown_note};
use crate::answer::{Answer, MadeWith};
use crate::control::Control;
use crate::error::{Result, WatchError};
use crate::estimate::check_level;
use crate::report::references_watch::{
    BROOK_EVANS_1972, COX_REID_1987, GANDY_KVALOY_2013, SIEGMUND_1988, STEINER_2000, ZHANG_WOODALL_2015,
};
use crate::watch::after::{Alarms, Chain, Change, Question, Search};
use crate::watch::baseline::Baseline;
use crate::watch::chart::{Charted, Charts, Quiet, Signal, SignalOptions, charted};
use crate::watch::crop::{Batch, monday_of, week_of};
use crate::watch::watched::{Watch, at_step};

/// Charts, signals and what follows from them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SignalNumbers {
    /// Charts and signals.
    #[serde(flatten)]
    pub charted: Charted,
    /// After a signal: when, where, how much.
    pub change: Option<Change>,
    /// Without one: what would have shown.
    pub quiet: Option<Quiet>,
    /// Monday of the last week with readings.
    pub until: Option<i32>,
    /// Days from setting to reading.
    pub reading_age: Option<i32>,
}

/// Weeks for which a signal is news.
const NEWS: i32 = 26;
/// Draws for the set of weeks, the form and the places.
const INNER: u64 = 499;

impl Watch {
    /// Whether fewer survive than a baseline expects: charts with signals; after a signal since when, where and how much, else the drop that
    /// would have shown by now.
    ///
    /// # Errors
    /// [`WatchError`](crate::error::WatchError) for a drop or a promise that cannot be; an unknown column to chart.
    pub fn signals(
        &self,
        baseline: &Baseline,
        options: &SignalOptions,
        control: &Control,
    ) -> Result<Answer<SignalNumbers>> {
        self.check(baseline, options)?;
        let charts = charted(self.batches(), self.groupings(), baseline, options, control)?;
        let (_, later) = baseline.parted(self.batches());
        let until = later.iter().map(|batch| batch.read_week()).max();
        let seasons = self.seasons(baseline, &charts.told.signals);
        let first = self.searched(baseline, seasons).iter().map(|batch| batch.read_week()).min().unwrap_or_default();
        let news = |signal: &&Signal| {
            let week = week_of(signal.monday);
            week >= first && until.is_some_and(|until| until - week < NEWS || baseline.n_seasons < 5)
        };
        let recent: Vec<&Signal> = charts.told.signals.iter().filter(news).collect();
        let again = |number: usize, batches: &[&Batch], alive: &[u64]| {
            recent.get(number).is_some_and(|signal| charts.would_signal(signal, monday_of(first), batches, alive))
        };
        let alarms = Alarms { weeks: recent.iter().map(|signal| week_of(signal.monday)).collect(), again: &again };
        let change = match recent.is_empty() {
            false => {
                let names = self.steps();
                let chain = Chain { names: &names, at_step };
                self.question(baseline, options, seasons).change(&alarms, &chain, control)?
            }
            true => None,
        };
        let signal = change.as_ref().and_then(|change| recent.get(change.signal? as usize)).or(recent.first()).copied();
        let quiet = if change.is_none() { charts.quiet(control)? } else { None };
        let signal = signal.cloned();
        Ok(self.told(baseline, options, charts, (signal, change, quiet), until))
    }

    /// Since when, where and how much, whether a chart signalled or not: what a look through all weeks and places finds, and how rarely chance
    /// shows as much. None where nothing was read since the baseline.
    ///
    /// # Errors
    /// Interrupted where the user asked to stop.
    pub fn change(&self, baseline: &Baseline, options: &SignalOptions, control: &Control) -> Result<Option<Change>> {
        self.check(baseline, options)?;
        let alarms = Alarms { weeks: Vec::new(), again: &|_, _, _| true };
        let names = self.steps();
        let chain = Chain { names: &names, at_step };
        self.question(baseline, options, 1).change(&alarms, &chain, control)
    }

    /// How many seasons are looked through, from the last one back: with few in the baseline a season is looked at by itself, and those before
    /// it as long as a signal came within the weeks of news before the next one began.
    fn seasons(&self, baseline: &Baseline, signals: &[Signal]) -> usize {
        let begins = |back: usize| self.searched(baseline, back).iter().map(|batch| batch.read_week()).min();
        let mut seasons = 1;
        while let (Some(first), Some(earlier)) = (begins(seasons), begins(seasons + 1)) {
            let before = |signal: &Signal| (first - NEWS..first).contains(&week_of(signal.monday));
            if earlier >= first || !signals.iter().any(before) {
                break;
            }
            seasons += 1;
        }
        seasons
    }

    /// The batches that are looked through: those of the last seasons.
    fn searched(&self, baseline: &Baseline, seasons: usize) -> Vec<&Batch> {
        let (_, later) = baseline.parted(self.batches());
        if baseline.n_seasons >= 5 {
            return later;
        }
        let held: BTreeSet<i32> = later.iter().map(|batch| batch.season).collect();
        let kept: BTreeSet<i32> = held.into_iter().rev().take(seasons).collect();
        later.into_iter().filter(|batch| kept.contains(&batch.season)).collect()
    }

    fn question<'a>(&'a self, baseline: &'a Baseline, options: &SignalOptions, seasons: usize) -> Question<'a> {
        let (batches, groupings) = (self.searched(baseline, seasons), self.groupings());
        Question { batches, groupings, baseline, search: search(options) }
    }

    /// Names of the steps that are counted.
    fn steps(&self) -> Vec<String> {
        self.options().steps.iter().map(|one| one.step.clone()).collect()
    }

    fn told(
        &self,
        baseline: &Baseline,
        options: &SignalOptions,
        charts: Charts<'_>,
        (signal, change, quiet): (Option<Signal>, Option<Change>, Option<Quiet>),
        until: Option<i32>,
    ) -> Answer<SignalNumbers> {
        let charted = charts.told;
        let mut notes = baseline_notes(baseline);
        if change.is_some() {
            notes.push(not_a_cause());
        }
        notes.extend(unknown_note(&charted));
        notes.extend(self.notes().iter().cloned());
        let sentence = sentence(&charted, signal.as_ref(), change.as_ref(), quiet.as_ref());
        let mut details = details(&charted, signal.as_ref(), change.as_ref(), quiet.as_ref());
        details.push(format!(
            "The baseline is made of {} read {}.",
            batch_words(baseline.n_batches),
            stretch(baseline)
        ));
        let mut made_with = MadeWith::new(&[
            ("drop", options.drop.to_string()),
            ("weeks_between", options.weeks_between.to_string()),
            ("draws", options.draws.to_string()),
            ("confidence", options.confidence.to_string()),
            ("baseline", baseline.fingerprint.clone()),
        ]);
        made_with.seed = Some(options.seed);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let made_with = made_with
            .resting_on("batch_correlation", baseline.spreads.batch)
            .resting_on("week_spread", baseline.spreads.week.hypot(baseline.spreads.week_in_place))
            .resting_on("week_spread_within_places", baseline.spreads.week_in_place)
            .resting_on("n_batches", baseline.n_batches as f64);
        let references = [STEINER_2000, ZHANG_WOODALL_2015, GANDY_KVALOY_2013, BROOK_EVANS_1972, COX_REID_1987];
        let mut references: Vec<String> = references.map(str::to_owned).to_vec();
        if change.is_some() {
            references.push(SIEGMUND_1988.to_owned());
        }
        Answer {
            kind: "signals".to_owned(),
            table: table(&charted),
            sentence,
            details,
            notes,
            methods: methods(&charted, baseline, change.is_some()),
            references,
            made_with,
            numbers: SignalNumbers {
                charted,
                change,
                quiet,
                until: until.map(monday_of),
                reading_age: self.reading_age(),
            },
        }
    }
}

/// The smallest drop that is looked for, and the largest as a share of the usual rate.
const SMALLEST: f64 = 0.001;
const LARGEST: f64 = 0.75;
/// Draws that can be asked for.
const DRAWS: std::ops::RangeInclusive<u64> = 19..=1_000_000;

impl Watch {
    fn check(&self, baseline: &Baseline, options: &SignalOptions) -> Result<()> {
        baseline.check_crop(self.groupings(), self.reading_age())?;
        check_level(options.confidence)?;
        if !DRAWS.contains(&options.draws) {
            return Err(WatchError::Draws { draws: options.draws }.into());
        }
        let (drop, usual) = (options.drop, baseline.usual());
        if drop > 0.0 && drop < SMALLEST {
            return Err(WatchError::DropTooSmall { drop }.into());
        }
        // What is no drop at all, or more than there is, the charts refuse.
        if drop > LARGEST * usual && drop < usual {
            return Err(WatchError::DropOfMost { drop, usual }.into());
        }
        Ok(())
    }
}

fn search(options: &SignalOptions) -> Search {
    Search {
        draws: options.draws,
        inner_draws: INNER.min(options.draws),
        seed: options.seed,
        confidence: options.confidence,
    }
}
