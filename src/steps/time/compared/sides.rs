//! Trays of two levels, place by place.

use std::collections::BTreeMap;

use crate::compare::Stratum;
use crate::error::{Result, StepsError};
use crate::steps::time::held::{VisitTray, Visits};
use crate::steps::time::histories::{History, Tally};
use crate::steps::time::incidence::share_score;
use crate::steps::time::limits::Followed;
use crate::steps::time::log_rank::tray_score;
use crate::steps::time::table::{Cell, Ending};

/// Trays of two levels in one place.
pub(super) type Trays<'a> = [Vec<&'a VisitTray>; 2];
/// The plants of two levels in one place.
pub(super) type Tables = [Vec<Cell>; 2];

/// What is compared.
pub(super) struct Sides<'a> {
    pub(super) visits: &'a Visits,
    pub(super) strata: Vec<Trays<'a>>,
    pub(super) left_out: usize,
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

    pub(super) fn trays(&self, side: usize) -> impl Iterator<Item = &'a VisitTray> + '_ {
        self.strata.iter().filter_map(move |sides| sides.get(side)).flatten().copied()
    }

    /// Number of cells between visits.
    pub(super) fn cells(&self) -> usize {
        self.visits.days().len()
    }

    /// True where trays were named.
    pub(super) fn named(&self) -> bool {
        self.visits.columns().trays
    }

    /// True where something can be left out: trays, or parts of plants with missed visits.
    pub(super) fn has_parts(&self) -> bool {
        self.named() || self.visits.is_split()
    }

    /// The trays, or the plants where no trays were named.
    pub(super) fn units(&self, side: usize) -> u64 {
        if self.named() { self.trays(side).count() as u64 } else { self.trays(side).map(|tray| tray.started).sum() }
    }

    /// The plants of a level, all places together.
    pub(super) fn followed(&self, side: usize) -> Followed {
        let histories: Vec<&[History]> = self.trays(side).map(|tray| tray.histories.as_slice()).collect();
        Followed::of(&histories, self.cells(), self.named())
    }

    /// Plants of a level to which something happened.
    pub(super) fn ended(&self, side: usize, ending: Ending) -> f64 {
        let of = self.trays(side).flat_map(|tray| &tray.histories).filter(|one| one.ending == ending);
        of.map(|one| one.count).sum()
    }

    /// The plants of both levels, place by place.
    pub(super) fn tallies(&self) -> Vec<[Tally; 2]> {
        let of = |trays: &Vec<&VisitTray>| Tally::of(self.cells(), trays.iter().map(|tray| tray.histories.as_slice()));
        self.strata.iter().map(|[first, second]| [of(first), of(second)]).collect()
    }

    /// What each tray has more of `ending` than its place gives it: of the share by visit `at`, and of the common pace.
    pub(super) fn scored(&self, ending: Ending, at: usize) -> [Vec<Stratum>; 2] {
        let (mut shares, mut paces) = (Vec::new(), Vec::new());
        for sides in &self.strata {
            let all = || sides.iter().flatten();
            let whole = Tally::of(self.cells(), all().map(|tray| tray.histories.as_slice())).table();
            let own: Vec<Vec<Cell>> =
                all().map(|tray| Tally::of(self.cells(), [tray.histories.as_slice()]).shared(&whole)).collect();
            let [first, second] = sides;
            let second: Vec<bool> = first.iter().map(|_| false).chain(second.iter().map(|_| true)).collect();
            let rates = own.iter().map(|own| share_score(own, &whole, ending, at)).collect();
            shares.push(Stratum { rates, second: second.clone() });
            paces.push(Stratum { rates: own.iter().map(|own| tray_score(own, &whole, ending)).collect(), second });
        }
        [shares, paces]
    }
}
