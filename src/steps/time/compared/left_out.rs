//! What is learnt of a pair by leaving out trays, or whole places where a level has a single tray in some.

use std::collections::{BTreeMap, BTreeSet};

use super::sides::{Sides, Tables};
use crate::control::Control;
use crate::error::Result;
use crate::steps::time::grouped::{Ratios, ratios};
use crate::steps::time::held::VisitTray;
use crate::steps::time::histories::Tally;
use crate::steps::time::incidence::{Incidence, incidence};
use crate::steps::time::limits::MOST_GROUPS;
use crate::steps::time::table::Ending;

/// Places up to which each has spreads of its own.
const FEW_PLACES: usize = 12;

/// A tray with its place and side.
type Placed<'a> = (usize, usize, &'a VisitTray);

/// Trays that are left out together.
struct Unit<'a> {
    /// Units of one class vary about their own mean.
    class: usize,
    /// Trays by how often they are added: -1 where they are left out; others of a place stand in for them there.
    trays: Vec<(Placed<'a>, f64)>,
}

/// The variance of a number, and its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spread {
    pub(super) variance: f64,
    pub(super) df: f64,
}

/// How two shares vary, and vary together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ShareSpread {
    pub(super) variances: [f64; 2],
    pub(super) covariance: f64,
    /// Of their difference.
    pub(super) df: f64,
}

/// Both sides of a pair without each unit.
pub(super) struct LeftOut<'a> {
    sides: &'a Sides<'a>,
    units: Vec<Unit<'a>>,
    /// Shares of both sides so far, without each unit, by visit.
    shares: Vec<[Vec<Incidence>; 2]>,
}

impl<'a> LeftOut<'a> {
    pub(super) fn of(sides: &'a Sides<'a>, control: &Control) -> Result<Self> {
        let units = units(sides);
        let mut whole =
            [0, 1].map(|side| Tally::of(sides.cells(), sides.trays(side).map(|tray| tray.histories.as_slice())));
        let near = whole.each_ref().map(Tally::table);
        let mut shares = Vec::new();
        for unit in &units {
            control.step()?;
            let all = |whole: &mut [Tally; 2], times: f64| {
                for ((_, side, tray), weight) in &unit.trays {
                    whole.get_mut(*side).into_iter().for_each(|tally| tally.add(&tray.histories, times * weight));
                }
            };
            all(&mut whole, 1.0);
            let so_far = |side: usize| -> Vec<Incidence> {
                let near = near.get(side).map_or(&[][..], Vec::as_slice);
                let table = whole.get(side).map(|tally| tally.table_from(near)).unwrap_or_default();
                incidence(&table)
            };
            shares.push([so_far(0), so_far(1)]);
            all(&mut whole, -1.0);
        }
        Ok(Self { sides, units, shares })
    }

    /// How the shares of `ending` by a visit vary; None where some unit is all that a side has left.
    pub(super) fn shares(&self, at: usize, ending: Ending) -> Option<ShareSpread> {
        let of = |side: usize| -> Option<Vec<f64>> {
            self.shares.iter().map(|one| one.get(side)?.get(at).map(|now| now.of(ending))).collect()
        };
        let (first, second) = (of(0)?, of(1)?);
        let gap: Vec<f64> = second.iter().zip(&first).map(|(two, one)| two - one).collect();
        Some(ShareSpread {
            variances: [sum(&self.products(&first, &first)?), sum(&self.products(&second, &second)?)],
            covariance: sum(&self.products(&first, &second)?),
            df: degrees(&self.products(&gap, &gap)?),
        })
    }

    /// How the logarithms of the ratios of rates of both endings vary; None where one is not known without some unit.
    pub(super) fn ratios(&self, tables: &[Tables], whole: &Ratios, control: &Control) -> Result<[Option<Spread>; 2]> {
        let mut tallies = self.sides.tallies();
        let mut logs: [Option<Vec<f64>>; 2] = [Some(Vec::new()), Some(Vec::new())];
        for unit in &self.units {
            control.step()?;
            let mut less = tables.to_vec();
            for ((place, side, tray), weight) in &unit.trays {
                let tally = tallies.get_mut(*place).and_then(|sides| sides.get_mut(*side));
                tally.into_iter().for_each(|tally| tally.add(&tray.histories, *weight));
            }
            let touched: BTreeSet<(usize, usize)> =
                unit.trays.iter().map(|((place, side, _), _)| (*place, *side)).collect();
            for (place, side) in touched {
                let table = less.get_mut(place).and_then(|sides| sides.get_mut(side));
                if let (Some(table), Some(tally)) = (table, tallies.get(place).and_then(|sides| sides.get(side))) {
                    *table = tally.table_from(table);
                }
            }
            for ((place, side, tray), weight) in &unit.trays {
                let tally = tallies.get_mut(*place).and_then(|sides| sides.get_mut(*side));
                tally.into_iter().for_each(|tally| tally.add(&tray.histories, -weight));
            }
            let Some(found) = ratios(&less, Some(whole), control)? else { return Ok([None; 2]) };
            for (logs, ending) in logs.iter_mut().zip([Ending::Rooted, Ending::Dead]) {
                match (found.of(ending), logs.as_mut()) {
                    (Some(ratio), Some(known)) => known.push(ratio.log),
                    _ => *logs = None,
                }
            }
        }
        Ok(logs.map(|logs| {
            let parts = logs.and_then(|logs| self.products(&logs, &logs))?;
            Some(Spread { variance: sum(&parts), df: degrees(&parts) })
        }))
    }

    /// Of each class `(n - 1) / n sum (x - mean x)(y - mean y)` over its `n` units, and `n`; None where one has a single unit.
    fn products(&self, x: &[f64], y: &[f64]) -> Option<Vec<(f64, f64)>> {
        let mut classes: BTreeMap<usize, Vec<(f64, f64)>> = BTreeMap::new();
        for ((unit, x), y) in self.units.iter().zip(x).zip(y) {
            classes.entry(unit.class).or_default().push((*x, *y));
        }
        let product = |values: &Vec<(f64, f64)>| {
            let n = values.len() as f64;
            let (mean_x, mean_y) = values.iter().fold((0.0, 0.0), |sum, (x, y)| (sum.0 + x / n, sum.1 + y / n));
            let sum: f64 = values.iter().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
            (values.len() > 1).then_some(((n - 1.0) / n * sum, n))
        };
        classes.values().map(product).collect()
    }
}

/// What is left out: a tray of each side at a time within its place; whole places where a side has a single tray in some, or of many.
fn units<'a>(sides: &'a Sides<'a>) -> Vec<Unit<'a>> {
    let placed = sides.strata.iter().enumerate().flat_map(|(place, both)| {
        let of = move |(side, trays): (usize, &Vec<&'a VisitTray>)| {
            trays.clone().into_iter().map(move |tray| (place, side, tray))
        };
        both.iter().enumerate().flat_map(of)
    });
    let places = sides.strata.len();
    let single = sides.strata.iter().flatten().any(|trays| trays.len() == 1);
    let whole = places > 2 && (single || places > FEW_PLACES);
    let apart = places > 1 && !single;
    let mut classes: BTreeMap<usize, Vec<Vec<Placed<'a>>>> = BTreeMap::new();
    let mut last = None;
    for (place, side, tray) in placed {
        let class = match (whole, apart) {
            (true, _) => 0,
            (false, true) => 2 * place + side,
            (false, false) => side,
        };
        let units = classes.entry(class).or_default();
        match units.last_mut().filter(|_| whole && last == Some(place)) {
            Some(unit) => unit.push((place, side, tray)),
            None => units.push(vec![(place, side, tray)]),
        }
        last = Some(place);
    }
    classes.into_iter().flat_map(|(class, units)| dealt(class, units, apart && !whole)).collect()
}

/// The units of a class, of many in groups; in a place of its own (`apart`) those that stay stand in for those left out, so that the place
/// keeps its weight.
fn dealt<'a>(class: usize, units: Vec<Vec<Placed<'a>>>, apart: bool) -> Vec<Unit<'a>> {
    let groups = units.len().clamp(1, MOST_GROUPS);
    let all: f64 = units.len() as f64;
    let group = |group: usize| {
        let own = units.iter().skip(group).step_by(groups).count() as f64;
        let stay = if apart && all > own { own / (all - own) } else { 0.0 };
        let weighted = |(at, unit): (usize, &Vec<Placed<'a>>)| {
            let weight = if at % groups == group { -1.0 } else { stay };
            unit.iter().map(|placed| (*placed, weight)).collect::<Vec<_>>()
        };
        let trays = units.iter().enumerate().flat_map(weighted).filter(|(_, weight)| *weight != 0.0);
        Unit { class, trays: trays.collect() }
    };
    (0..groups).map(group).collect()
}

fn sum(parts: &[(f64, f64)]) -> f64 {
    parts.iter().map(|part| part.0).sum()
}

/// Degrees of freedom of a sum of variances, each with those of its units less one.
///
/// # References
/// Welch 1947, Biometrika 34:28-35.
fn degrees(parts: &[(f64, f64)]) -> f64 {
    let squares: f64 = parts.iter().map(|(variance, n)| variance * variance / (n - 1.0)).sum();
    if squares > 0.0 { sum(parts).powi(2) / squares } else { parts.iter().map(|(_, n)| n - 1.0).sum() }
}
