//! A drop found by looking through all weeks and places: how rarely chance shows as much, since when, where, how large.

use super::crop_law::CropLaw;
use super::looked::{Looked, Search, Set};
use super::numbers::{Change, Form, GoesWith};
use super::place::places;
use super::scan::{Best, By, Scan};
use super::steps::steps;
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::normal;
use crate::watch::baseline::Baseline;
use crate::watch::crop::{Batch, Grouping, Part, monday_of, week_of};

/// Whether the chart of a signal, by its number, would have signalled with these counts, in the order of the batches looked at.
pub(crate) type Again<'a> = dyn Fn(usize, &[&Batch], &[u64]) -> bool + Sync + 'a;

/// What led to the look: weeks of reading with a signal, and whether the chart of one would have signalled with drawn counts.
pub(crate) struct Alarms<'a> {
    /// Weeks of reading of the signals, in order.
    pub(crate) weeks: Vec<i32>,
    /// Whether the chart of such a signal would have signalled with these counts, in the order of the batches looked at.
    pub(crate) again: &'a Again<'a>,
}

/// The steps that are counted, and a batch as one of them counted it.
pub(crate) struct Chain<'a> {
    pub(crate) names: &'a [String],
    pub(crate) at_step: fn(&Batch, usize) -> Option<Batch>,
}

/// The signal that a drop is taken to have given: the first that came after it.
struct Alarm<'a> {
    number: usize,
    week: i32,
    again: &'a Again<'a>,
}

impl<'a> Alarms<'a> {
    fn after(&self, looked: &Looked<'_>, set_week: i32) -> Option<Alarm<'a>> {
        let read = looked
            .law
            .batches
            .iter()
            .filter(|batch| batch.set_week() >= set_week)
            .map(|batch| batch.read_week())
            .min()?;
        let number = self.weeks.iter().position(|week| *week >= read).or(self.weeks.len().checked_sub(1))?;
        Some(Alarm { number, week: *self.weeks.get(number)?, again: self.again })
    }
}

/// The batches that are looked through, and what is expected of them.
pub(crate) struct Question<'a> {
    pub(crate) batches: Vec<&'a Batch>,
    pub(crate) groupings: &'a [Grouping],
    pub(crate) baseline: &'a Baseline,
    pub(crate) search: Search,
}

/// The best week of all sets, and how rarely chance shows as much.
struct Found {
    set: Set,
    scan: Scan,
    best: Best,
    p: f64,
}

impl Found {
    fn first(&self) -> i32 {
        self.scan.weeks.get(self.best.at).copied().unwrap_or_default()
    }

    /// Grouping and level of its set.
    fn place(&self, groupings: &[Grouping]) -> Option<(String, String)> {
        let (at, level) = self.set?;
        let grouping = groupings.get(at)?;
        Some((grouping.name.clone(), grouping.levels.get(level as usize)?.clone()))
    }
}

impl<'a> Question<'a> {
    fn looked(&self) -> Looked<'a> {
        let law = CropLaw::new(&self.batches, self.groupings, self.baseline);
        let alive: Vec<u64> = law.batches.iter().map(|batch| batch.alive).collect();
        Looked { law, groupings: self.groupings, baseline: self.baseline, search: self.search, alive }
    }

    /// P value, place and Monday of the best week; None where nothing is expected of any batch.
    pub(crate) fn best(&self, control: &Control) -> Result<Option<Striking>> {
        let found = found(&self.looked(), control)?;
        Ok(found.map(|found| Striking {
            p: found.p,
            place: found.place(self.groupings),
            monday: monday_of(found.first()),
        }))
    }

    /// Looks through the weeks; None where nothing is expected of any batch.
    pub(crate) fn change(&self, alarms: &Alarms<'_>, chain: &Chain<'_>, control: &Control) -> Result<Option<Change>> {
        let looked = self.looked();
        let Some(found) = found(&looked, control)? else { return Ok(None) };
        let (scan, best, first) = (&found.scan, found.best, found.first());
        let alarm = alarms.after(&looked, first);
        let since = since(&looked, scan, best, alarm.as_ref(), control)?;
        let size = size(&looked, scan, best, &since, alarm.as_ref());
        let carrying: Vec<&Batch> =
            scan.batches_from(best.at).filter_map(|at| looked.law.batches.get(at).copied()).collect();
        Ok(Some(Change {
            p: found.p,
            signal: alarm.map(|alarm| alarm.number as u64),
            draws: self.search.draws,
            place: found.place(self.groupings),
            monday: monday_of(first),
            weeks: since.weeks,
            from_the_start: scan.weeks.first().is_some_and(|first| monday_of(*first) == since.weeks.0),
            n_weeks: since.n_weeks,
            confidence: self.search.confidence,
            cut_off: since.cut_off,
            size: size.value,
            low: size.low,
            high: size.high,
            size_from_later_batches: size.from_later,
            form: form(&looked, scan, best, since.naive, control)?,
            goes_with: goes_with(&looked, found.set, scan, best),
            places: places(&looked, first, control)?,
            steps: steps(&carrying, self.groupings, self.baseline, chain.names, chain.at_step),
        }))
    }
}

/// What is most striking among all weeks and places.
pub(crate) struct Striking {
    pub(crate) p: f64,
    pub(crate) place: Option<(String, String)>,
    pub(crate) monday: i32,
}

/// The search over weeks and places, and the same search in crops drawn from the baseline.
fn found(looked: &Looked<'_>, control: &Control) -> Result<Option<Found>> {
    let sets = sets(looked.groupings);
    let scans: Vec<Scan> = sets.iter().map(|set| looked.scan(*set, By::Set)).collect();
    let each = scans.iter().zip(&sets);
    let found = each.filter_map(|(scan, set)| Some((scan, *set, scan.best(&scan.scores(&looked.alive))?)));
    let Some((scan, set, best)) = found.max_by(|a, b| a.2.z.total_cmp(&b.2.z)) else { return Ok(None) };
    let none = vec![0.0; looked.alive.len()];
    let largest = |alive: &[u64]| -> f64 {
        let each = scans.iter().filter_map(|scan| Some(scan.best(&scan.scores(alive))?.z));
        each.fold(0.0, f64::max)
    };
    let draws = looked.search.draws;
    let by_chance = looked.drawn(draws, 1, &none, largest, control)?;
    let as_large = by_chance.iter().filter(|z| **z >= best.z).count() as f64;
    Ok(Some(Found { set, scan: scan.clone(), best, p: (as_large + 1.0) / (draws as f64 + 1.0) }))
}

/// All batches, and each level of the places.
fn sets(groupings: &[Grouping]) -> Vec<Set> {
    let places =
        groupings.iter().enumerate().filter(|(_, grouping)| grouping.part == Part::Place && grouping.levels.len() > 1);
    let levels =
        places.flat_map(|(at, grouping)| (0..grouping.levels.len() as u32).map(move |level| Some((at, level))));
    std::iter::once(None).chain(levels).collect()
}

/// The weeks that cannot be ruled out.
struct Since {
    weeks: (i32, i32),
    n_weeks: u64,
    cut_off: f64,
    /// The shift of the logit as the search finds it.
    naive: f64,
    /// The same, less what a search adds to it.
    off: f64,
}

/// Draws that have to signal before their law is used.
const ENOUGH: usize = 150;

/// Weeks within the cut-off of the profile: that of Siegmund 1988 to begin with, then that of drawn crops which drop at the likeliest week
/// and are seen by the chart.
///
/// # References
/// Siegmund 1988, International Statistical Review 56:31-48.
fn since(looked: &Looked<'_>, scan: &Scan, best: Best, alarm: Option<&Alarm<'_>>, control: &Control) -> Result<Since> {
    let confidence = looked.search.confidence;
    // (1 - exp(-c / 2))^2 is the share of sets that hold the week.
    let mut cut_off = -2.0 * (1.0 - confidence.sqrt()).ln();
    let own = scan.shift_from(&looked.law, &looked.alive, best.at).map_or(0.0, |(shift, _)| shift);
    let by = scan.shifted(looked.alive.len(), best.at, own, false);
    let of = |alive: &[u64]| {
        let seen = alarm.is_none_or(|alarm| (alarm.again)(alarm.number, &looked.law.batches, alive));
        let scores = scan.scores(alive);
        let profile = scan.profile(&scores);
        let highest = profile.iter().copied().fold(0.0, f64::max);
        let found = scan.best(&scores).filter(|_| seen)?;
        let (shift, _) = scan.shift_from(&looked.law, alive, found.at)?;
        Some((highest - profile.get(best.at).copied().unwrap_or(0.0), shift))
    };
    let drawn = looked.drawn(looked.search.inner_draws, 2, &by, of, control)?;
    let mut kept: Vec<(f64, f64)> = drawn.into_iter().flatten().collect();
    let mut off = own;
    if kept.len() >= ENOUGH {
        let mean = kept.iter().map(|(_, off)| *off).sum::<f64>() / kept.len() as f64;
        // What a search for the lowest adds is taken off again, and never more than all of it.
        off = (2.0 * own - mean).min(0.0);
        kept.sort_by(|a, b| a.0.total_cmp(&b.0));
        let place = (confidence * (kept.len() as f64 + 1.0)).ceil() as usize;
        cut_off = kept.get(place.saturating_sub(1).min(kept.len() - 1)).map_or(cut_off, |(fall, _)| fall.max(cut_off));
    }
    let profile = scan.profile(&scan.scores(&looked.alive));
    let highest = profile.get(best.at).copied().unwrap_or(0.0);
    let weeks: Vec<i32> = scan
        .weeks
        .iter()
        .zip(&profile)
        .filter(|(_, value)| highest - **value <= cut_off)
        .map(|(week, _)| *week)
        .collect();
    let ends = weeks.first().zip(weeks.last()).map_or((0, 0), |(first, last)| (monday_of(*first), monday_of(*last)));
    Ok(Since { weeks: ends, n_weeks: weeks.len() as u64, cut_off, naive: own, off })
}

struct Size {
    value: f64,
    low: f64,
    high: f64,
    from_later: bool,
}

/// The drop in points over the mix since the likely week. Batches read after the signal give it where they tell at least half as much as those
/// before: no search chose them.
fn size(looked: &Looked<'_>, scan: &Scan, best: Best, since: &Since, alarm: Option<&Alarm<'_>>) -> Size {
    let told_from = |from: usize| scan.told.iter().skip(from).sum::<f64>();
    // The first set week of which no batch had been read when the signal came.
    let later = alarm.and_then(|alarm| {
        let read = |week: &i32| {
            let set = looked.law.batches.iter().filter(|batch| batch.set_week() == *week);
            set.map(|batch| week_of(batch.read)).any(|read| read <= alarm.week)
        };
        let from = scan.weeks.iter().rposition(read).map_or(0, |at| at + 1);
        let before = told_from(best.at) - told_from(from);
        let enough = from > best.at && told_from(from) >= 0.5 * before;
        enough.then(|| scan.shift_from(&looked.law, &looked.alive, from)).flatten()
    });
    let own = scan.shift_from(&looked.law, &looked.alive, best.at);
    let told = later.or(own).map_or(f64::MIN_POSITIVE, |(_, told)| told);
    let off = later.map_or(since.off, |(shift, _)| shift);
    let reach = normal::isf(0.5 * (1.0 - looked.search.confidence)) / told.sqrt();
    let points = |shift: f64| scan.points_from(&looked.law, best.at, shift);
    Size { value: points(off), low: points(off - reach), high: points(off + reach), from_later: later.is_some() }
}

/// A fit of one form that only one crop in twenty of the other reaches by chance tells them apart.
const APART: f64 = 0.05;

/// Whether a drop at once or one that grows fits better, by crops drawn under each.
fn form(looked: &Looked<'_>, scan: &Scan, best: Best, off: f64, control: &Control) -> Result<Form> {
    let lead = |alive: &[u64]| {
        let scores = scan.scores(alive);
        let step = scan.best(&scores).map_or(0.0, |best| best.z.max(0.0));
        let drift = scan.best_drift(&scores).map_or(0.0, |(_, z)| z.max(0.0));
        drift * drift - step * step
    };
    let seen = lead(&looked.alive);
    let count = looked.alive.len();
    let draws = looked.search.inner_draws;
    if seen > 0.0 {
        let by_step = looked.drawn(draws, 3, &scan.shifted(count, best.at, off, false), lead, control)?;
        let p = by_step.iter().filter(|value| **value >= seen).count() as f64 / draws as f64;
        return Ok(if p < APART { Form::Drift } else { Form::Open });
    }
    let scores = scan.scores(&looked.alive);
    let Some((from, _)) = scan.best_drift(&scores) else { return Ok(Form::Open) };
    // The slope of the drift that fits best.
    let first = scan.weeks.get(from).copied().unwrap_or_default();
    let later = scan.weeks.iter().zip(scores.iter().zip(&scan.told)).skip(from);
    let (score, told) = later.fold((0.0, 0.0), |(score, told), (week, (one, tells))| {
        let since = f64::from(week - first + 1);
        (score + since * one, told + since * since * tells)
    });
    let by_drift =
        looked.drawn(draws, 4, &scan.shifted(count, from, score / told.max(f64::MIN_POSITIVE), true), lead, control)?;
    let p = by_drift.iter().filter(|value| **value <= seen).count() as f64 / draws as f64;
    Ok(if p < APART { Form::Step } else { Form::Open })
}

/// Fall of twice the log-likelihood that tells setting from reading.
const TELLS: f64 = 3.84;

fn goes_with(looked: &Looked<'_>, set: Set, by_set: &Scan, best: Best) -> GoesWith {
    let by_read = looked.scan(set, By::Read);
    let highest = |scan: &Scan| scan.profile(&scan.scores(&looked.alive)).into_iter().fold(0.0, f64::max);
    let setting = by_set.profile(&by_set.scores(&looked.alive)).get(best.at).copied().unwrap_or(0.0);
    let lead = setting - highest(&by_read);
    if lead > TELLS {
        GoesWith::Setting
    } else if lead < -TELLS {
        GoesWith::Reading
    } else {
        GoesWith::Open
    }
}
