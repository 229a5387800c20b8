//! What kind of change it is: at once or little by little, with the week of setting or with that of reading.

use super::looked::{Looked, Set};
use super::numbers::{Form, GoesWith};
use super::scan::{Best, By, Scan};
use crate::control::Control;
use crate::error::Result;

/// A fit of one kind that only one crop in twenty of the other reaches by chance tells them apart.
const APART: f64 = 0.05;
/// The first streams of draws under either.
const BY_STEP: u64 = 16;
const BY_DRIFT: u64 = 32;

/// Whether a drop at once or one that grows fits better, by crops drawn under each.
pub(super) fn form(looked: &Looked<'_>, scan: &Scan, best: Best, off: f64, control: &Control) -> Result<Form> {
    let lead = |alive: &[u64]| {
        let scores = scan.scores(alive);
        let step = scan.best(&scores).map_or(0.0, |best| best.z.max(0.0));
        let drift = scan.best_drift(&scores).map_or(0.0, |(_, z)| z.max(0.0));
        drift * drift - step * step
    };
    let seen = lead(&looked.alive);
    let count = looked.alive.len();
    if seen > 0.0 {
        let by_step = scan.shifted(count, best.at, off, false);
        let p = looked.share(BY_STEP, (&by_step, 0.0), |alive| lead(alive) >= seen, APART, control)?;
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
    let by_drift = scan.shifted(count, from, score / told.max(f64::MIN_POSITIVE), true);
    let p = looked.share(BY_DRIFT, (&by_drift, 0.0), |alive| lead(alive) <= seen, APART, control)?;
    Ok(if p < APART { Form::Step } else { Form::Open })
}

/// Setting or reading is claimed where only one crop in a hundred of the other shows as great a lead: few crops tell, and what they tell has to hold.
const CLAIMED: f64 = 0.01;
/// A lead of one of the two that draws need not be asked about.
const NO_LEAD: f64 = 0.5;
/// The likeliest weeks of the other, under each of which a lead has to be rare; the first of their streams of draws.
const LIKELY: usize = 3;
const STREAM: u64 = 1 << 10;

/// Whether a change goes with the week of setting or with that of reading: the one that fits better is claimed where only one crop in a hundred that
/// changed with the other, in any of its likeliest weeks, shows as great a lead. Where batches set together are read together both are the same, and nothing is claimed.
pub(super) fn goes_with(looked: &Looked<'_>, set: Set, by_set: &Scan, control: &Control) -> Result<GoesWith> {
    let by_read = looked.scan(set, By::Read);
    let highest = |scan: &Scan, alive: &[u64]| scan.profile(&scan.scores(alive)).into_iter().fold(0.0, f64::max);
    let lead = |alive: &[u64]| highest(by_set, alive) - highest(&by_read, alive);
    let seen = lead(&looked.alive);
    if seen.abs() < NO_LEAD {
        return Ok(GoesWith::Open);
    }
    let (other, claimed) = if seen > 0.0 { (&by_read, GoesWith::Setting) } else { (by_set, GoesWith::Reading) };
    let profile = other.profile(&other.scores(&looked.alive));
    let mut weeks: Vec<(usize, f64)> = profile.into_iter().enumerate().filter(|(_, height)| *height > 0.0).collect();
    weeks.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut claimed = if weeks.is_empty() { GoesWith::Open } else { claimed };
    for (stream, (at, _)) in (STREAM..).step_by(4).zip(weeks.into_iter().take(LIKELY)) {
        let Some((shift, told)) = other.shift_from(&looked.law, &looked.alive, at) else { continue };
        let unsure = if shift < 0.0 && told > 0.0 { -1.0 / (shift * told.sqrt()) } else { 0.0 };
        let by = other.shifted(looked.alive.len(), at, shift, false);
        let as_great = |alive: &[u64]| lead(alive) * seen.signum() >= seen.abs();
        if looked.share(stream, (&by, unsure), as_great, CLAIMED, control)? > CLAIMED {
            claimed = GoesWith::Open;
            break;
        }
    }
    Ok(claimed)
}
