//! Two levels compared: shares by a day, the ratio of rates, and trays dealt anew.

use std::collections::BTreeMap;

use super::numbers::{RateNumbers, TimesOptions, TimesPair};
use crate::compare::{Stratum, randomisation_test};
use crate::control::Control;
use crate::error::{Result, StepsError};
use crate::math::distributions::{normal, student_t};
use crate::steps::time::grouped::fitted;
use crate::steps::time::held::{VisitTray, Visits};
use crate::steps::time::histories::{Ending, History, Tally};
use crate::steps::time::limits::{Followed, Limits, degrees, difference};
use crate::steps::time::log_rank::{log_rank, tray_score};
use crate::steps::time::table::Cell;
use crate::steps::without_one::standard_error;

/// Trays of two levels in one place.
type Trays<'a> = [Vec<&'a VisitTray>; 2];
/// The plants of two levels in one place.
type Tables = [Vec<Cell>; 2];

/// What dealing trays anew says.
#[derive(Debug, Clone, Copy, Default)]
struct Dealt {
    p: f64,
    smallest_p: f64,
    assignments: Option<f64>,
    drawn: Option<u64>,
    p_error: Option<f64>,
}

/// What is compared.
pub(super) struct Sides<'a> {
    visits: &'a Visits,
    strata: Vec<Trays<'a>>,
    left_out: usize,
}

impl<'a> Sides<'a> {
    /// The trays of two levels by block and levels of other treatments, where both levels stand.
    pub(super) fn of(visits: &'a Visits, treatment: usize, levels: [&str; 2]) -> Result<Self> {
        let mut places: BTreeMap<(&str, Vec<&str>), Trays<'a>> = BTreeMap::new();
        for tray in visits.trays() {
            let own = tray.levels.get(treatment).map(String::as_str);
            let Some(side) = levels.iter().position(|level| own == Some(level)) else { continue };
            let others = tray.levels.iter().enumerate().filter(|(at, _)| *at != treatment);
            let place = (tray.block.as_str(), others.map(|(_, level)| level.as_str()).collect());
            places.entry(place).or_default().get_mut(side).into_iter().for_each(|trays| trays.push(tray));
        }
        let (strata, alone): (Vec<_>, Vec<_>) =
            places.into_values().partition(|[first, second]| !first.is_empty() && !second.is_empty());
        if strata.is_empty() {
            let [first, second] = levels.map(str::to_owned);
            return Err(StepsError::NowhereTogether { first, second }.into());
        }
        Ok(Self { visits, strata, left_out: alone.iter().flatten().map(Vec::len).sum() })
    }

    fn trays(&self, side: usize) -> impl Iterator<Item = &'a VisitTray> + '_ {
        self.strata.iter().filter_map(move |sides| sides.get(side)).flatten().copied()
    }

    fn cells(&self) -> usize {
        self.visits.days().len()
    }

    fn named(&self) -> bool {
        self.visits.columns().trays
    }

    /// The trays, or the plants where no trays were named.
    fn units(&self, side: usize) -> u64 {
        if self.named() { self.trays(side).count() as u64 } else { self.trays(side).map(|tray| tray.started).sum() }
    }

    fn followed(&self, side: usize) -> Followed {
        let histories: Vec<&[History]> = self.trays(side).map(|tray| tray.histories.as_slice()).collect();
        Followed::of(&histories, self.cells(), self.named())
    }

    /// Everything about the pair but what depends on other pairs.
    pub(super) fn compared(&self, levels: [&str; 2], options: &TimesOptions, control: &Control) -> Result<TimesPair> {
        let ending = options.event.ending();
        if [0, 1].iter().all(|side| self.ended(*side, ending) == 0.0) {
            let [first, second] = levels.map(str::to_owned);
            return Err(StepsError::NothingHappened { event: options.event.name(), first, second }.into());
        }
        let tables: Vec<Tables> = self.strata.iter().map(|sides| tables(sides, self.cells())).collect();
        let (day, first, second) = self.shares(options)?;
        let gap = difference(first, second);
        let test = self.test(&tables, options, control)?;
        let [first_level, second_level] = levels.map(str::to_owned);
        Ok(TimesPair {
            first: first_level,
            second: second_level,
            n_first: self.units(0),
            n_second: self.units(1),
            n_strata: self.strata.len() as u64,
            n_left_out: self.left_out as u64,
            day,
            share_first: first.value,
            share_second: second.value,
            value: gap.value,
            low: gap.ends.map(|ends| ends.0),
            high: gap.ends.map(|ends| ends.1),
            rate: self.rate(&tables, ending, options.confidence, control)?,
            other_rate: self.rate(&tables, options.event.other(), options.confidence, control)?,
            p: test.p,
            p_adjusted: test.p,
            smallest_p: test.smallest_p,
            assignments: test.assignments,
            drawn: test.drawn,
            p_error: test.p_error,
        })
    }

    fn ended(&self, side: usize, ending: Ending) -> f64 {
        let of = self.trays(side).flat_map(|tray| &tray.histories).filter(|one| one.ending == ending);
        of.map(|one| one.count).sum()
    }

    /// The day by which shares are compared, and both shares; their limits by t on the degrees of freedom of both together.
    fn shares(&self, options: &TimesOptions) -> Result<(u64, Limits, Limits)> {
        let ending = options.event.ending();
        let sides = [self.followed(0), self.followed(1)];
        let days = self.visits.days();
        let seen = sides.iter().map(|side| side.shares.len()).min().unwrap_or_default();
        let spreads = |at: usize| match &sides {
            [first, second] => first.spread(at, ending).zip(second.spread(at, ending)),
        };
        let at = match options.day {
            Some(day) => days.iter().take(seen).position(|known| *known == day),
            None => (0..seen).rfind(|at| !self.named() || spreads(*at).is_some()).or_else(|| seen.checked_sub(1)),
        };
        let df = at
            .and_then(spreads)
            .map(|(one, two)| degrees([one * one, two * two], [self.trays(0).count(), self.trays(1).count()]));
        let [first, second] = sides.map(|side| side.limits(ending, options.confidence, self.named(), df));
        let found = at.and_then(|at| Some((*days.get(at)?, *first.get(at)?, *second.get(at)?)));
        found.ok_or_else(|| {
            let days: Vec<String> = days.iter().take(seen).map(u64::to_string).collect();
            StepsError::NoSuchVisit { day: options.day.unwrap_or_default(), days: days.join(", ") }.into()
        })
    }

    /// Trays dealt anew by what each has more than the common pace; the log-rank test where no trays were named.
    fn test(&self, tables: &[Tables], options: &TimesOptions, control: &Control) -> Result<Dealt> {
        let ending = options.event.ending();
        if !self.named() {
            let p = log_rank(tables, ending).map_or(1.0, |found| found.p);
            return Ok(Dealt { p, ..Dealt::default() });
        }
        let strata: Vec<Stratum> = self.strata.iter().map(|sides| scored(sides, self.cells(), ending)).collect();
        let found = randomisation_test(&strata, options.seed, options.draws, control)?;
        Ok(Dealt {
            p: found.p,
            smallest_p: found.smallest_p_given_rates,
            assignments: Some(found.assignments),
            drawn: found.drawn,
            p_error: found.se,
        })
    }

    /// The ratio of rates with limits from trays left out, by t, or from plants alone where these are wider.
    fn rate(&self, tables: &[Tables], ending: Ending, confidence: f64, control: &Control) -> Result<RateNumbers> {
        let Some(whole) = fitted(tables, ending, None, control)? else { return Ok(RateNumbers::default()) };
        let mut found = RateNumbers { value: Some(whole.log.exp()), ..RateNumbers::default() };
        let tail = 0.5 * (1.0 - confidence);
        let (mut reach, mut p) = (normal::isf(tail) * whole.se, 2.0 * normal::sf((whole.log / whole.se).abs()));
        if self.named() {
            let trays = [self.trays(0).count(), self.trays(1).count()];
            let left = trays.iter().sum::<usize>() as f64 - tables.len() as f64 - 1.0;
            let one = self.spread(tables, (0, ending), &whole.coef, control)?;
            let two = self.spread(tables, (1, ending), &whole.coef, control)?;
            let (Some(one), Some(two)) = (one, two) else { return Ok(found) };
            let se = (one * one + two * two).sqrt();
            let df = degrees([one * one, two * two], trays).min(left);
            if df < 1.0 {
                return Ok(found);
            }
            reach = reach.max(student_t::quantile(1.0 - tail, df) * se);
            p = p.max(student_t::two_sided(whole.log / se, df));
        }
        found.low = Some((whole.log - reach).exp());
        found.high = Some((whole.log + reach).exp());
        found.p = Some(p);
        Ok(found)
    }

    /// The part of a side in the standard error of the logarithm of the ratio, by leaving out its trays one by one or, of many, in groups.
    fn spread(
        &self,
        tables: &[Tables],
        (side, ending): (usize, Ending),
        start: &[f64],
        control: &Control,
    ) -> Result<Option<f64>> {
        let own: Vec<(usize, &VisitTray)> = self.placed(side).collect();
        let groups = own.len().min(MOST_LEFT_OUT);
        let mut tallies: Vec<Tally> = self.strata.iter().map(|sides| tally(sides, side, self.cells())).collect();
        let mut left = Vec::new();
        for group in 0..groups {
            control.step()?;
            let members = || own.iter().skip(group).step_by(groups);
            let mut less = tables.to_vec();
            for (place, tray) in members() {
                tallies.get_mut(*place).into_iter().for_each(|tally| tally.add(&tray.histories, -1.0));
            }
            for (place, _) in members() {
                let table = less.get_mut(*place).and_then(|sides| sides.get_mut(side));
                if let (Some(table), Some(tally)) = (table, tallies.get(*place)) {
                    *table = tally.table();
                }
            }
            for (place, tray) in members() {
                tallies.get_mut(*place).into_iter().for_each(|tally| tally.add(&tray.histories, 1.0));
            }
            left.push(fitted(&less, ending, Some(start), control)?.map(|one| one.log));
        }
        Ok(standard_error(&left))
    }

    /// The trays of a side with the number of their place.
    fn placed(&self, side: usize) -> impl Iterator<Item = (usize, &'a VisitTray)> + '_ {
        let of = move |(place, sides): (usize, &Trays<'a>)| {
            let trays: Vec<&'a VisitTray> = sides.get(side).cloned().unwrap_or_default();
            trays.into_iter().map(move |tray| (place, tray))
        };
        self.strata.iter().enumerate().flat_map(of)
    }
}

/// Most trays or groups of trays of a side that are left out: what more would add is below a tenth of the standard error.
const MOST_LEFT_OUT: usize = 60;

/// The plants of one side of a place.
fn tally(sides: &Trays<'_>, side: usize, cells: usize) -> Tally {
    let trays = sides.get(side).into_iter().flatten();
    Tally::of(cells, trays.map(|tray| tray.histories.as_slice()))
}

/// The plants of both sides of a place.
fn tables(sides: &Trays<'_>, cells: usize) -> Tables {
    [0, 1].map(|side| tally(sides, side, cells).table())
}

/// What each tray of a place has more than the common pace.
fn scored(sides: &Trays<'_>, cells: usize, ending: Ending) -> Stratum {
    let all = || sides.iter().flatten();
    let whole = Tally::of(cells, all().map(|tray| tray.histories.as_slice())).table();
    let score = |tray: &&VisitTray| {
        let own = Tally::of(cells, [tray.histories.as_slice()]).shared(&whole);
        tray_score(&own, &whole, ending)
    };
    let [first, second] = sides;
    let sides = first.iter().map(|_| false).chain(second.iter().map(|_| true));
    Stratum { rates: all().map(score).collect(), second: sides.collect() }
}
