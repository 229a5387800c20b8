//! Shares over time of each level, with limits.

use std::collections::BTreeMap;

use super::numbers::{CourseOptions, HalfBy, LevelCourse, ShareBy, TimeCourse, TimeEvent};
use crate::control::Control;
use crate::error::Result;
use crate::estimate::check_level;
use crate::steps::time::held::{VisitTray, Visits};
use crate::steps::time::histories::History;
use crate::steps::time::incidence::incidence;
use crate::steps::time::limits::{Followed, Limits};
use crate::steps::time::table::{Cell, Ending};

impl TimeEvent {
    pub(in crate::steps::time) fn ending(self) -> Ending {
        match self {
            Self::Rooted => Ending::Rooted,
            Self::Dead => Ending::Dead,
        }
    }

    /// What rules it out.
    pub(in crate::steps::time) fn other(self) -> Ending {
        match self {
            Self::Rooted => Ending::Dead,
            Self::Dead => Ending::Rooted,
        }
    }
}

/// Works out the shares of every level.
pub(super) fn asked(visits: &Visits, options: &CourseOptions, control: &Control) -> Result<TimeCourse> {
    check_level(options.confidence)?;
    let parts = visits.in_parts();
    let visits = parts.as_ref().unwrap_or(visits);
    let treatment = options.treatment.as_deref().map(|name| visits.treatment(name)).transpose()?;
    let groups: Vec<(String, Vec<&VisitTray>)> = match treatment {
        None => vec![("all".to_owned(), visits.trays().iter().collect())],
        Some(at) => {
            let of = |level: &String| {
                let held = visits.trays().iter().filter(|tray| tray.levels.get(at) == Some(level));
                (level.clone(), held.collect())
            };
            visits.levels(at).iter().map(of).collect()
        }
    };
    let levels: Result<Vec<LevelCourse>> =
        groups.into_iter().map(|(level, trays)| level_course(visits, level, &trays, (options, control))).collect();
    Ok(TimeCourse {
        treatment: options.treatment.clone(),
        event: options.event,
        deaths: visits.columns().deaths,
        confidence: options.confidence,
        levels: levels?,
    })
}

fn level_course(
    visits: &Visits,
    level: String,
    trays: &[&VisitTray],
    (options, control): (&CourseOptions, &Control),
) -> Result<LevelCourse> {
    let named = visits.columns().trays;
    let histories: Vec<&[History]> = trays.iter().map(|tray| tray.histories.as_slice()).collect();
    let followed = Followed::of(&histories, visits.days().len(), named);
    let blocks = by_block(trays);
    let units: Vec<&[History]> = match blocks.len() >= BLOCKS {
        true => blocks.iter().map(Vec::as_slice).collect(),
        false => histories.clone(),
    };
    let (ending, other) = (options.event.ending(), options.event.other());
    let left_out = (named || visits.is_split()).then_some(units.as_slice());
    let limits = followed.limits(left_out, ending, options.confidence, control)?;
    let rows = visits.days().iter().zip(&followed.table).zip(&followed.shares).zip(&limits);
    let rows: Vec<ShareBy> = rows
        .map(|(((day, cell), share), limits)| ShareBy {
            day: *day,
            at_risk: cell.at_risk,
            value: limits.value,
            low: limits.ends.map(|ends| ends.0),
            high: limits.ends.map(|ends| ends.1),
            other: share.of(other),
            waiting: share.waiting.max(0.0),
        })
        .collect();
    let count = |ending: Ending| -> u64 {
        histories.iter().copied().flatten().filter(|one| one.ending == ending).map(|one| one.count).sum::<f64>() as u64
    };
    Ok(LevelCourse {
        level,
        n_units: named.then_some(trays.len() as u64),
        started: trays.iter().map(|tray| tray.started).sum(),
        rooted: count(Ending::Rooted),
        dead: count(Ending::Dead),
        half: half(visits.days(), &limits),
        if_others_waited: alone(&followed.table, ending),
        visits: rows,
    })
}

/// Blocks from which on they are what is left out: trays of one block share its luck.
pub(super) const BLOCKS: usize = 4;

/// What is known of the plants of each block.
fn by_block(trays: &[&VisitTray]) -> Vec<Vec<History>> {
    let mut blocks: BTreeMap<&str, Vec<History>> = BTreeMap::new();
    trays.iter().for_each(|tray| blocks.entry(&tray.block).or_default().extend(&tray.histories));
    blocks.into_values().collect()
}

/// The product-limit share in which the other ending counts as lost from sight.
fn alone(table: &[Cell], ending: Ending) -> f64 {
    let only = |cell: &Cell| match ending {
        Ending::Dead => Cell { rooted: 0.0, ..*cell },
        Ending::Rooted | Ending::Waiting => Cell { dead: 0.0, ..*cell },
    };
    let cells: Vec<Cell> = table.iter().map(only).collect();
    incidence(&cells).last().map_or(0.0, |end| end.of(ending))
}

/// Between which visits half of all started have come to it; limits hold every pair of visits that the limits of the shares leave open.
///
/// # References
/// Brookmeyer and Crowley 1982, Biometrics 38:29-41.
fn half(days: &[u64], limits: &[Limits]) -> HalfBy {
    let before = |at: usize| at.checked_sub(1).and_then(|at| days.get(at).copied()).unwrap_or(0);
    let at = limits.iter().position(|one| one.value >= 0.5 - 1e-12);
    let known = limits.iter().take_while(|one| one.ends.is_some()).count();
    let first = |reaches: &dyn Fn((f64, f64)) -> bool| limits.iter().position(|one| one.ends.is_some_and(reaches));
    // Where limits end before the upper one reaches half, half may come on any later day.
    let low = first(&|(_, high)| high >= 0.5).map(before).or_else(|| (known > 0).then(|| before(known)));
    HalfBy {
        after: at.map(before),
        by: at.and_then(|at| days.get(at).copied()),
        low,
        high: first(&|(low, _)| low >= 0.5).and_then(|at| days.get(at).copied()),
    }
}
