//! The weeks that cannot be ruled out as the first one: each is tried as the true one, in drawn crops that the chart would have seen.

use std::collections::BTreeSet;

use super::looked::{CHUNKS, FEW, Looked, is_clear, share_of};
use super::scan::{Best, Scan};
use crate::control::Control;
use crate::error::Result;
use crate::watch::crop::monday_of;

/// The weeks that cannot be ruled out.
pub(super) struct Since {
    /// Mondays of the first and the last.
    pub(super) weeks: (i32, i32),
    pub(super) n_weeks: u64,
    /// The cut-off at the likeliest week.
    pub(super) cut_off: f64,
    /// The shift of the logit as the search finds it.
    pub(super) naive: f64,
    /// The same, less what a search adds to it.
    pub(super) off: f64,
}

/// Parts of the wished draws that a week takes at most.
const MOST_CHUNKS: u64 = 12;
/// Weeks out one after the other, going away from the likeliest, after which those farther out are not tried.
const OUT: usize = 2;
/// The first stream of draws that belongs to weeks.
const STREAM: u64 = 1 << 12;

/// What drawn crops with a change at a week say of it.
struct Tried {
    /// How far the profile falls from its top to that week, in draws that signalled and in all of them.
    falls: Vec<f64>,
    all: Vec<f64>,
    /// The shift that the search finds, in draws that signalled, where it is asked for.
    shifts: Vec<f64>,
}

/// What a week is tried with.
struct Trial<'a, 'b> {
    looked: &'a Looked<'b>,
    scan: &'a Scan,
    seen: &'a (dyn Fn(&[u64]) -> bool + Sync),
    control: &'a Control,
}

impl Trial<'_, '_> {
    /// Draws crops that shift at a week by what the counts say of it there, as unsure as they are of it, until `enough` of the falls says yes.
    fn at(&self, at: usize, with_shifts: bool, enough: impl Fn(&[f64]) -> bool) -> Result<Tried> {
        let Self { looked, scan, seen, control } = self;
        let found = scan.shift_from(&looked.law, &looked.alive, at).filter(|(shift, told)| *shift < 0.0 && *told > 0.0);
        let (shift, unsure) = found.map_or((0.0, 0.0), |(shift, told)| (shift, -1.0 / (shift * told.sqrt())));
        let by = scan.shifted(looked.alive.len(), at, shift, false);
        let of = |alive: &[u64]| {
            let scores = scan.scores(alive);
            let found = scan.best(&scores)?;
            let profile = scan.profile(&scores);
            let highest = profile.iter().copied().fold(0.0, f64::max);
            let signals = seen(alive);
            let shift = if signals && with_shifts { scan.shift_from(&looked.law, alive, found.at)?.0 } else { 0.0 };
            Some((highest - profile.get(at).copied().unwrap_or(0.0), shift, signals))
        };
        let mut tried = Tried { falls: Vec::new(), all: Vec::new(), shifts: Vec::new() };
        for chunk in 0..MOST_CHUNKS {
            let stream = STREAM + at as u64 * MOST_CHUNKS + chunk;
            let draws = looked.search.inner_draws.div_ceil(CHUNKS);
            let drawn = looked.drawn_about(draws, stream, (&by, unsure), of, control)?;
            for (fall, shift, signals) in drawn.into_iter().flatten() {
                tried.all.push(fall);
                if signals {
                    tried.falls.push(fall);
                    tried.shifts.push(shift);
                }
            }
            let wished = tried.falls.len() as u64 >= looked.search.inner_draws;
            if wished || enough(&tried.falls) {
                break;
            }
        }
        Ok(tried)
    }

    /// Whether a week with such a fall is kept: more than the rest of the confidence of crops that change there fall as far.
    fn keeps(&self, at: usize, fall: f64) -> Result<bool> {
        let rest = 1.0 - self.looked.search.confidence;
        let share = |falls: &[f64]| share_of(falls.iter().filter(|one| **one >= fall).count(), falls.len());
        let clear = |falls: &[f64]| is_clear(share(falls), rest, falls.len());
        let tried = self.at(at, false, clear)?;
        // Where hardly a crop that changed there would have signalled, all of them have to do.
        let judged = if tried.falls.len() >= FEW / 2 { &tried.falls } else { &tried.all };
        Ok(share(judged) > rest)
    }
}

/// The weeks whose fall of the profile is no farther than in most crops that change there and are seen by the chart. A fall within the limit of
/// Siegmund 1988 keeps a week anyway; the others are tried outwards from the likeliest.
///
/// The shift is that which the counts give at the week in question, not that of the likeliest week: a change that begins where few
/// batches show it is a small one, and its week is found less well.
///
/// # References
/// Siegmund 1988, International Statistical Review 56:31-48; resampling at each candidate: Chuang and Lai 2000, Statistica Sinica 10:1-50.
pub(super) fn since(
    looked: &Looked<'_>,
    scan: &Scan,
    best: Best,
    seen: &(dyn Fn(&[u64]) -> bool + Sync),
    control: &Control,
) -> Result<Since> {
    let confidence = looked.search.confidence;
    // (1 - exp(-c / 2))^2 is the share of sets that hold the week.
    let least = -2.0 * (1.0 - confidence.sqrt()).ln();
    let own = scan.shift_from(&looked.law, &looked.alive, best.at).map_or(0.0, |(shift, _)| shift);
    let trial = Trial { looked, scan, seen, control };
    let mut tried = trial.at(best.at, true, |_| false)?;
    let (mut off, mut cut_off) = (own, least);
    if tried.falls.len() >= FEW {
        let mean = tried.shifts.iter().sum::<f64>() / tried.shifts.len() as f64;
        // What a search for the lowest adds is taken off again, and never more than all of it.
        off = (2.0 * own - mean).min(0.0);
        tried.falls.sort_by(f64::total_cmp);
        let place = (confidence * (tried.falls.len() as f64 + 1.0)).ceil() as usize;
        let at = tried.falls.get(place.saturating_sub(1).min(tried.falls.len() - 1));
        cut_off = at.map_or(least, |fall| fall.max(least));
    }
    let profile = scan.profile(&scan.scores(&looked.alive));
    let highest = profile.get(best.at).copied().unwrap_or(0.0);
    let falls: Vec<f64> = profile.iter().map(|value| highest - value).collect();
    let mut kept: BTreeSet<usize> =
        falls.iter().enumerate().filter(|(_, fall)| **fall <= cut_off).map(|(at, _)| at).collect();
    for side in [(0..best.at).rev().collect::<Vec<usize>>(), (best.at + 1..falls.len()).collect()] {
        let mut out = 0;
        let open = side.into_iter().filter_map(|at| Some((at, *falls.get(at)?))).filter(|(_, fall)| *fall > cut_off);
        for (at, fall) in open {
            if out == OUT {
                break;
            }
            if trial.keeps(at, fall)? {
                kept.insert(at);
                out = 0;
            } else {
                out += 1;
            }
        }
    }
    let (first, last) = (kept.first().copied().unwrap_or(best.at), kept.last().copied().unwrap_or(best.at));
    let before = unset_before(looked, scan, first);
    let monday = |at: usize| scan.weeks.get(at).map_or(0, |week| monday_of(*week));
    let weeks = (before.first().map_or_else(|| monday(first), |week| monday_of(*week)), monday(last));
    Ok(Since { weeks, n_weeks: (kept.len() + before.len()) as u64, cut_off, naive: own, off })
}

/// Weeks just before one of a scan in which only others were set: a change that came then shows from that one on.
fn unset_before(looked: &Looked<'_>, scan: &Scan, first: usize) -> Vec<i32> {
    let Some((week, before)) = scan.weeks.get(first).zip(first.checked_sub(1).and_then(|at| scan.weeks.get(at))) else {
        return Vec::new();
    };
    let set: BTreeSet<i32> = looked.law.batches.iter().map(|batch| batch.set_week()).collect();
    set.range(before + 1..*week).copied().collect()
}
