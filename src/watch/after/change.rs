//! A drop found by looking through all weeks and places: how rarely chance shows as much, since when, where, how large.

use super::crop_law::{CropLaw, SEASONS};
use super::form::{form, goes_with};
use super::looked::{Looked, Search, Set};
use super::numbers::Change;
use super::place::places;
use super::scan::{Best, By, Scan};
use super::since::{Since, since};
use super::steps::steps;
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::normal;
use crate::watch::against::{AgainstTarget, against_seasons};
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
    /// All sets with their scans, and the statistic from which on a search is told as a drop: that of this one where it is lower.
    searched: Vec<(Set, Scan)>,
    told_from: f64,
}

/// What a search is told as a drop from on: only one crop in twenty without change shows as much.
const TOLD: f64 = 0.05;

impl Found {
    fn first(&self) -> i32 {
        self.scan.weeks.get(self.best.at).copied().unwrap_or_default()
    }

    /// Whether a search through other counts would have told of the same set. What follows from a search holds for crops of which it tells.
    fn tells_the_same(&self, alive: &[u64]) -> bool {
        let each = self.searched.iter().filter_map(|(set, scan)| Some((*set, scan.best(&scan.scores(alive))?.z)));
        each.max_by(|a, b| a.1.total_cmp(&b.1)).is_some_and(|(set, z)| set == self.set && z >= self.told_from)
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
        let told = |alive: &[u64]| found.tells_the_same(alive);
        let seen = |alive: &[u64]| {
            told(alive) && alarm.as_ref().is_none_or(|alarm| (alarm.again)(alarm.number, &looked.law.batches, alive))
        };
        let since = since(&looked, scan, best, &seen, control)?;
        let size = size(&looked, scan, best, &since, alarm.as_ref());
        let carrying: Vec<&Batch> =
            scan.batches_from(best.at).filter_map(|at| looked.law.batches.get(at).copied()).collect();
        let places = places(&looked, surely(scan, best, since.weeks.1), &told, control)?;
        let from_the_start = scan.weeks.first().is_some_and(|first| monday_of(*first) == since.weeks.0);
        // A level that stands apart from the others of its season is no matter of the season.
        let as_season = from_the_start
            && self.baseline.n_seasons < SEASONS
            && !places.iter().any(|one| one.stands_out && one.carries());
        let season = as_season.then(|| against_seasons(&carrying, self.groupings, self.baseline)).flatten();
        Ok(Some(Change {
            p: found.p,
            signal: alarm.map(|alarm| alarm.number as u64),
            draws: self.search.draws,
            place: found.place(self.groupings),
            monday: monday_of(first),
            weeks: since.weeks,
            from_the_start,
            n_weeks: since.n_weeks,
            confidence: self.search.confidence,
            cut_off: since.cut_off,
            size: size.value,
            low: size.low,
            high: size.high,
            size_from_later_batches: size.from_later,
            form: form(&looked, scan, best, since.naive, control)?,
            goes_with: goes_with(&looked, found.set, scan, control)?,
            season_p: season.as_ref().filter(|season| !season.season_unknown).map(one_sided),
            season_open: season.as_ref().is_some_and(|season| season.season_unknown),
            places,
            steps: steps(&carrying, self.groupings, self.baseline, chain.names, chain.at_step),
        }))
    }
}

/// How rarely a season lies as low.
fn one_sided(season: &AgainstTarget) -> f64 {
    if season.value < season.target { 0.5 * season.p } else { 1.0 - 0.5 * season.p }
}

/// The week from which on levels are compared: the last that cannot be ruled out as the first one, where batches set since tell at least half as much as
/// those since the likeliest week. All of them have the drop, and they had less of a say in the choice of the week.
fn surely(scan: &Scan, best: Best, last: i32) -> i32 {
    let told_from = |from: usize| scan.told.iter().skip(from).sum::<f64>();
    let from = scan.weeks.iter().position(|week| monday_of(*week) >= last).filter(|from| *from > best.at);
    let enough = from.filter(|from| told_from(*from) >= 0.5 * told_from(best.at));
    scan.weeks.get(enough.unwrap_or(best.at)).copied().unwrap_or_default()
}

/// What is most striking among all weeks and places.
pub(crate) struct Striking {
    pub(crate) p: f64,
    pub(crate) place: Option<(String, String)>,
    pub(crate) monday: i32,
}

/// The search over weeks and places, and the same search in crops drawn from the baseline.
fn found(looked: &Looked<'_>, control: &Control) -> Result<Option<Found>> {
    let searched: Vec<(Set, Scan)> =
        sets(looked.groupings).into_iter().map(|set| (set, looked.scan(set, By::Set))).collect();
    let found = searched.iter().filter_map(|(set, scan)| Some((*set, scan, scan.best(&scan.scores(&looked.alive))?)));
    let Some((set, scan, best)) = found.max_by(|a, b| a.2.z.total_cmp(&b.2.z)) else { return Ok(None) };
    let none = vec![0.0; looked.alive.len()];
    let largest = |alive: &[u64]| -> f64 {
        let each = searched.iter().filter_map(|(_, scan)| Some(scan.best(&scan.scores(alive))?.z));
        each.fold(0.0, f64::max)
    };
    let draws = looked.search.draws;
    let mut by_chance = looked.drawn(draws, 1, &none, largest, control)?;
    let as_large = by_chance.iter().filter(|z| **z >= best.z).count() as f64;
    by_chance.sort_by(|a, b| b.total_cmp(a));
    let rare = by_chance.get((TOLD * draws as f64) as usize).copied().unwrap_or(0.0);
    let (scan, p) = (scan.clone(), (as_large + 1.0) / (draws as f64 + 1.0));
    Ok(Some(Found { set, scan, best, p, searched, told_from: rare.min(best.z) }))
}

/// All batches, and each level of the places.
fn sets(groupings: &[Grouping]) -> Vec<Set> {
    let places =
        groupings.iter().enumerate().filter(|(_, grouping)| grouping.part == Part::Place && grouping.levels.len() > 1);
    let levels =
        places.flat_map(|(at, grouping)| (0..grouping.levels.len() as u32).map(move |level| Some((at, level))));
    std::iter::once(None).chain(levels).collect()
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
