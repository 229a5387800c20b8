//! Where a drop lies: each level against the others, one after another, those named before allowed for.

use super::levels::{Allowed, Levels};
use super::looked::{CHUNKS, FEW, Looked, is_clear, share_of};
use super::numbers::PlaceChange;
use super::scan::{By, Scan};
use crate::control::Control;
use crate::error::Result;
use crate::watch::crop::Batch;

/// A level that only one crop in twenty without it shows by chance stands out.
const STANDS_OUT: f64 = 0.05;
/// Levels that are named at most, and others that are tried as what may be behind each of them.
const NAMED: usize = 3;
const TRIED: usize = 3;
/// Standard errors from which on a level may be behind what another one shows.
const MAY: f64 = 1.0;
/// The first stream of draws that belongs to levels, and how often as many as wished are drawn at most.
const STREAM: u64 = 1 << 20;
const MOST: u64 = 3;

/// How far each level lies below in one crop, in standard errors.
type Below = Vec<Option<f64>>;

/// A level that stands out, and those that would explain it as well.
struct Named {
    column: usize,
    p: f64,
    not_apart_from: Vec<usize>,
}

/// P values of levels: by the law of the largest of their own column, and of the largest of all.
struct Judged {
    z: Vec<Option<f64>>,
    of_column: Vec<f64>,
    of_all: Vec<f64>,
}

struct Where<'a, 'b> {
    looked: &'a Looked<'b>,
    levels: Levels,
    /// Whether a search through such counts would have told of a drop in the same set.
    told: &'a (dyn Fn(&[u64]) -> bool + Sync),
    control: &'a Control,
}

impl Where<'_, '_> {
    /// How far levels lie below in drawn crops of which a search would have told the same, until `enough` says so of them; in all of them where few are.
    fn drawn(
        &self,
        allowed: &Allowed,
        by: &[f64],
        stream: u64,
        enough: &dyn Fn(&[Below]) -> bool,
    ) -> Result<Vec<Below>> {
        let wished = self.looked.search.inner_draws;
        let (mut kept, mut others) = (Vec::new(), Vec::new());
        for chunk in 0..MOST * CHUNKS {
            // Those of which a search would have told otherwise are looked at only as long as they may have to do.
            let of = |alive: &[u64]| {
                let told = (self.told)(alive);
                (told, (told || chunk < CHUNKS).then(|| self.levels.below(alive, allowed)))
            };
            let drawn = self.looked.drawn(wished.div_ceil(CHUNKS), stream + chunk, by, of, self.control)?;
            for (told, below) in drawn {
                if told { kept.extend(below) } else { others.extend(below) }
            }
            let hopeless = chunk + 1 == CHUNKS && kept.len() < FEW / MOST as usize;
            if kept.len() as u64 >= wished || hopeless || enough(&kept) {
                break;
            }
        }
        if kept.len() < FEW {
            kept.append(&mut others);
        }
        Ok(kept)
    }

    /// Every level beside those that are allowed for, by crops in which these alone have what they have.
    fn judged(&self, others: &[usize], stream: u64) -> Result<Judged> {
        let (levels, looked) = (&self.levels, self.looked);
        let allowed = levels.allow(others);
        let by = levels.shifted(&looked.alive, &allowed);
        let drawn = self.drawn(&allowed, &by, STREAM + stream * MOST * CHUNKS, &|_| false)?;
        let z = levels.below(&looked.alive, &allowed);
        let most = |draw: &Below, keep: &dyn Fn(usize) -> bool| {
            let each = draw.iter().enumerate().filter(|(at, _)| keep(*at)).filter_map(|(_, z)| *z);
            each.fold(f64::NEG_INFINITY, f64::max)
        };
        let column_of = |at: usize| levels.names.get(at).copied().flatten().map(|(grouping, _)| grouping);
        let p = |at: usize, keep: &dyn Fn(usize) -> bool| {
            let Some(own) = z.get(at).copied().flatten() else { return 1.0 };
            share_of(drawn.iter().filter(|draw| most(draw, keep) >= own).count(), drawn.len())
        };
        let each = || 0..levels.names.len();
        Ok(Judged {
            of_column: each().map(|at| p(at, &|other| column_of(other) == column_of(at))).collect(),
            of_all: each().map(|at| p(at, &|_| true)).collect(),
            z,
        })
    }

    /// Levels that stand out, the one farthest below first; each is judged with those before it allowed for.
    fn named(&self, first: &Judged) -> Result<Vec<Named>> {
        let farthest = |judged: &Judged| {
            let each = judged.z.iter().enumerate().filter_map(|(at, z)| Some((at, (*z)?)));
            let (at, _) = each.max_by(|a, b| a.1.total_cmp(&b.1))?;
            judged.of_all.get(at).filter(|p| **p <= STANDS_OUT).map(|p| (at, *p))
        };
        let mut named: Vec<Named> = Vec::new();
        let mut next = farthest(first);
        let mut later: Option<Judged> = None;
        while let Some((column, p)) = next {
            let before: Vec<usize> = named.iter().map(|one| one.column).collect();
            let not_apart_from = self.behind(column, &before, later.as_ref().unwrap_or(first))?;
            named.push(Named { column, p, not_apart_from });
            if named.len() == NAMED {
                break;
            }
            let columns: Vec<usize> = named.iter().map(|one| one.column).collect();
            let judged = self.judged(&columns, named.len() as u64)?;
            next = farthest(&judged);
            later = Some(judged);
        }
        Ok(named)
    }

    /// Whether a level still stands out by itself beside those that are allowed for; draws end once that is clear.
    fn stands_beside(&self, column: usize, others: &[usize], stream: u64) -> Result<bool> {
        let (levels, looked) = (&self.levels, self.looked);
        let allowed = levels.allow(others);
        let Some(own) = levels.below(&looked.alive, &allowed).get(column).copied().flatten() else { return Ok(false) };
        let share = |drawn: &[Below]| {
            let as_far =
                drawn.iter().filter(|draw| draw.get(column).copied().flatten().is_some_and(|z| z >= own)).count();
            share_of(as_far, drawn.len())
        };
        let clear = |drawn: &[Below]| is_clear(share(drawn), STANDS_OUT, drawn.len());
        let by = levels.shifted(&looked.alive, &allowed);
        Ok(share(&self.drawn(&allowed, &by, STREAM + stream * MOST * CHUNKS, &clear)?) <= STANDS_OUT)
    }

    /// Levels of other columns beside which this one no longer stands out.
    fn behind(&self, column: usize, before: &[usize], judged: &Judged) -> Result<Vec<usize>> {
        let grouping = |at: usize| self.levels.names.get(at).copied().flatten().map(|(grouping, _)| grouping);
        let mut others: Vec<(usize, f64)> = (judged.z.iter().enumerate())
            .filter(|(at, _)| grouping(*at).is_some() && grouping(*at) != grouping(column))
            .filter_map(|(at, z)| Some((at, z.filter(|z| *z >= MAY)?)))
            .collect();
        others.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut behind = Vec::new();
        for (other, _) in others.into_iter().take(TRIED) {
            let allowed: Vec<usize> = before.iter().copied().chain([other]).collect();
            if !self.stands_beside(
                column,
                &allowed,
                16 * (1 + before.len() as u64) + other as u64 * 64 + column as u64,
            )? {
                behind.push(other);
            }
        }
        Ok(behind)
    }
}

/// All levels of all groupings with two or more of them.
///
/// Levels are judged by crops of which a search through weeks and places would have told the same: what was chosen since it lies low looks lower than
/// it is.
pub(super) fn places(
    looked: &Looked<'_>,
    first: i32,
    told: &(dyn Fn(&[u64]) -> bool + Sync),
    control: &Control,
) -> Result<Vec<PlaceChange>> {
    let levels = Levels::new(&looked.law, looked.groupings, looked.baseline, first);
    if levels.names.len() < 2 {
        return Ok(Vec::new());
    }
    let asked = Where { looked, levels, told, control };
    let judged = asked.judged(&[], 0)?;
    let named = asked.named(&judged)?;
    let name = |column: usize| {
        let (at, level) = asked.levels.names.get(column).copied().flatten()?;
        let grouping = looked.groupings.get(at)?;
        Some((grouping.name.clone(), grouping.levels.get(level as usize)?.clone()))
    };
    let mut found = Vec::new();
    for (column, of) in asked.levels.names.iter().enumerate() {
        let (Some((at, level)), Some((grouping, named_level))) = (*of, name(column)) else { continue };
        if judged.z.get(column).copied().flatten().is_none() {
            continue;
        }
        let scan = |inside: bool| {
            let among = |batch: &Batch| (batch.levels.get(at) == Some(&level)) == inside;
            Scan::new(&looked.law, looked.groupings, looked.baseline, By::Set, among)
        };
        let (own, others) = (scan(true), scan(false));
        let from = |scan: &Scan| scan.weeks.iter().position(|week| *week >= first);
        let shift = |scan: &Scan| Some(scan.shift_from(&looked.law, &looked.alive, from(scan)?)?.0);
        let (Some(own_shift), Some(other_shift), Some(start)) = (shift(&own), shift(&others), from(&own)) else {
            continue;
        };
        let points = |shift: f64| own.points_from(&looked.law, start, shift);
        let stands = named.iter().find(|one| one.column == column);
        found.push(PlaceChange {
            grouping,
            level: named_level,
            n_batches: own.batches_from(start).count() as u64,
            change: points(own_shift),
            beside_others: points(own_shift) - points(other_shift),
            p: stands.map(|one| one.p).or(judged.of_column.get(column).copied()).unwrap_or(1.0),
            stands_out: stands.is_some(),
            not_apart_from: stands.into_iter().flat_map(|one| &one.not_apart_from).filter_map(|at| name(*at)).collect(),
        });
    }
    Ok(found)
}
