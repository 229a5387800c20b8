//! What is known of shares, from trays left out one by one; never more than plants alone would tell.

use super::histories::{History, Tally};
use super::incidence::{Incidence, incidence, incidence_variance};
use super::table::{Cell, Ending};
use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::{normal, student_t};
use crate::rates::wilson;
use crate::steps::without_one::standard_error;

/// A level's trays: who was started, and what became of them.
pub(super) struct Followed {
    /// Plants at risk and ends of all trays.
    pub(super) table: Vec<Cell>,
    /// Shares so far, by visit.
    pub(super) shares: Vec<Incidence>,
    /// Plants started.
    started: f64,
    /// Plants of a tray.
    size: f64,
}

/// What a share rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Units {
    /// Plants that stand alone, since no trays were named.
    Plants,
    /// Trays: the standard error by leaving them out, with its degrees of freedom; None where it is not known.
    Trays(Option<(f64, f64)>),
}

/// A share with its limits; they are open where trays were recorded and it is not known how they differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Limits {
    pub(super) value: f64,
    pub(super) ends: Option<(f64, f64)>,
    /// By trays, where they differ.
    by_trays: Option<(f64, f64)>,
    /// Of plants that stand alone.
    by_plants: (f64, f64),
}

/// A share and the plants that would say as much of it if each stood alone and were followed to the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Known {
    pub(super) value: f64,
    pub(super) plants: f64,
}

/// The P value that two shares are one, by what is known of each: the score of their difference.
pub(super) fn score_p(first: Known, second: Known) -> f64 {
    let plants = first.plants + second.plants;
    let common = (first.value * first.plants + second.value * second.plants) / plants;
    let variance = common * (1.0 - common) * (1.0 / first.plants + 1.0 / second.plants);
    if variance > 0.0 { 2.0 * normal::sf((second.value - first.value).abs() / variance.sqrt()) } else { 1.0 }
}

/// The correlation of plants of a tray that plants are held to where hardly anything happened: this over 2 and the plants to which it did.
const CORRELATION: f64 = 0.1;

/// Most trays or groups of trays that are left out: what more would add is below a tenth of the standard error.
pub(super) const MOST_GROUPS: usize = 60;

impl Followed {
    /// The histories of each tray of a level; `trays` is false where plants stand alone.
    pub(super) fn of(histories: &[&[History]], cells: usize, trays: bool) -> Self {
        let table = Tally::of(cells, histories.iter().copied()).table();
        let started: f64 = histories.iter().copied().flatten().map(|one| one.count).sum();
        let size = if trays { started / histories.len().max(1) as f64 } else { 1.0 };
        Self { shares: incidence(&table), table, started, size }
    }

    /// The share by a visit with limits: the wider of Wilson's on the plants that would say as much as the trays do, by t, and of Wilson's
    /// on plants that stand alone.
    ///
    /// # References
    /// Wilson 1927; Korn and Graubard 1998; Tukey 1958 for what is learnt by leaving out trays.
    pub(super) fn limits_at(&self, at: usize, ending: Ending, confidence: f64, units: Units) -> Option<Limits> {
        let tail = 0.5 * (1.0 - confidence);
        let value = self.shares.get(at)?.of(ending).clamp(0.0, 1.0);
        let variance = incidence_variance(self.table.get(..=at)?, ending).last().copied()?;
        let alone = if variance > 0.0 { value * (1.0 - value) / variance } else { self.known(at) };
        let events = alone * value.min(1.0 - value);
        let plants = alone / (1.0 + (self.size - 1.0) * CORRELATION / (2.0 + events));
        let by_plants = wilson(value * plants, plants, normal::isf(tail));
        let known = match units {
            Units::Plants => None,
            Units::Trays(known) => known,
        };
        let by_trays = known.filter(|(se, _)| *se > 0.0).map(|(se, df)| {
            let effective = value * (1.0 - value) / (se * se);
            wilson(value * effective, effective, student_t::quantile(1.0 - tail, df))
        });
        let open = matches!(units, Units::Trays(None));
        let ends = (!open).then(|| wider(by_plants, by_trays));
        Some(Limits { value, ends, by_trays, by_plants })
    }

    /// The limits by every visit, from leaving out one tray after the other.
    ///
    /// # Errors
    /// [`Error::Interrupted`](crate::error::Error::Interrupted) when stopped.
    pub(super) fn limits(
        &self,
        histories: Option<&[&[History]]>,
        ending: Ending,
        confidence: f64,
        control: &Control,
    ) -> Result<Vec<Limits>> {
        let without = histories.map(|histories| self.without(histories, ending, control)).transpose()?;
        let spread = |at: usize| {
            let Some(without) = without.as_ref() else { return Units::Plants };
            let left: Vec<Option<f64>> = without.iter().map(|shares| shares.get(at).copied()).collect();
            Units::Trays(standard_error(&left).map(|se| (se, without.len() as f64 - 1.0)))
        };
        Ok((0..self.shares.len()).filter_map(|at| self.limits_at(at, ending, confidence, spread(at))).collect())
    }

    /// Shares so far without each tray; of many with missed visits without each of some groups.
    fn without(&self, histories: &[&[History]], ending: Ending, control: &Control) -> Result<Vec<Vec<f64>>> {
        let mut tally = Tally::of(self.table.len(), histories.iter().copied());
        // Each search for where ends over missed visits lie takes its time.
        let groups = if tally.has_spans() { histories.len().min(MOST_GROUPS) } else { histories.len() };
        control.expect(groups as u64);
        let mut left = |group: usize| {
            control.step()?;
            let trays = || histories.iter().skip(group).step_by(groups);
            trays().for_each(|tray| tally.add(tray, -1.0));
            let shares = incidence(&tally.table_from(&self.table)).iter().map(|now| now.of(ending)).collect();
            trays().for_each(|tray| tally.add(tray, 1.0));
            control.finish(1);
            Ok(shares)
        };
        (0..groups).map(&mut left).collect()
    }

    /// The share by a visit and the plants that it rests on, also those that `known` leaves of them.
    pub(super) fn known_at(&self, at: usize, ending: Ending, known: Option<(f64, f64)>) -> Option<Known> {
        let value = self.shares.get(at)?.of(ending).clamp(0.0, 1.0);
        let variance = incidence_variance(self.table.get(..=at)?, ending).last().copied()?;
        let variance = variance.max(known.map_or(0.0, |(se, _)| se * se));
        let plants = if variance > 0.0 { value * (1.0 - value) / variance } else { self.known(at) };
        Some(Known { value, plants })
    }

    /// Plants that were not lost from sight before a visit.
    fn known(&self, at: usize) -> f64 {
        let pairs = self.table.iter().zip(self.table.iter().skip(1)).take(at);
        let gone = |(cell, next): (&Cell, &Cell)| (cell.at_risk - cell.rooted - cell.dead - next.at_risk).max(0.0);
        self.started - pairs.map(gone).sum::<f64>()
    }
}

/// The wider of two intervals, end by end.
fn wider(one: (f64, f64), other: Option<(f64, f64)>) -> (f64, f64) {
    other.map_or(one, |other| (one.0.min(other.0), one.1.max(other.1)))
}

/// The limits of a difference of two shares, second minus first, from the limits of each by square and add; by trays with their correlation
/// where both stand in the same places, and never narrower than by plants.
///
/// # References
/// Newcombe 1998, Stat. Med. 17:873-890, method 10; Zou and Donner 2008, Stat. Med. 27:1693-1702.
pub(super) fn difference(first: Limits, second: Limits, correlation: f64) -> Limits {
    let value = second.value - first.value;
    let added = |(l1, u1): (f64, f64), (l2, u2): (f64, f64), r: f64| {
        let reach = |a: f64, b: f64| (a * a + b * b - 2.0 * r * a * b).max(0.0).sqrt();
        let down = reach(second.value - l2, u1 - first.value);
        let up = reach(u2 - second.value, first.value - l1);
        ((value - down).max(-1.0), (value + up).min(1.0))
    };
    let by_plants = added(first.by_plants, second.by_plants, 0.0);
    // Of a level whose trays do not differ at all, as none rooted in any, plants say the rest.
    let by_trays = (first.by_trays.is_some() || second.by_trays.is_some()).then(|| {
        let own = |limits: Limits| limits.by_trays.unwrap_or(limits.by_plants);
        added(own(first), own(second), correlation.clamp(-1.0, 1.0))
    });
    let ends = first.ends.and(second.ends).map(|_| wider(by_plants, by_trays));
    Limits { value, ends, by_trays, by_plants }
}
