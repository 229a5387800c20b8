//! What a law expects beside what was counted, and laws beside each other.

use rayon::prelude::*;

use super::fitted::Fitted;
use super::numbers::{CountLawOptions, GroupOfCounts, LawBeside, LawOfCounts};
use super::rows::{Pattern, Rows, TOGETHER};
use crate::control::Control;
use crate::error::{CountError, Error, Result};
use crate::math::regression::counts::Zeros;

/// Counts that are listed one by one at most.
const LISTED: u64 = 20;

/// The last count that stands by itself where counts are listed.
pub(super) fn last_count(rows: &Rows<'_>) -> u64 {
    rows.cells.iter().map(|cell| cell.count).max().unwrap_or_default().min(LISTED)
}

/// Fills in how often each count was met in each group and how often the law expects it; a last entry holds all that are larger.
pub(super) fn frequencies(rows: &Rows<'_>, fitted: &Fitted, groups: &mut [GroupOfCounts], last: u64) {
    let size = last as usize + 2;
    for group in groups.iter_mut() {
        group.observed = vec![0; size];
        group.expected = vec![0.0; size];
    }
    for cell in &rows.cells {
        let group = rows.patterns.get(cell.pattern).and_then(|one| groups.get_mut(one.group));
        let slot = group.and_then(|group| group.observed.get_mut(cell.count.min(last + 1) as usize));
        slot.into_iter().for_each(|slot| *slot += cell.times as u64);
    }
    let sums = |patterns: &[Pattern]| {
        let mut own = vec![vec![0.0; size]; groups.len()];
        let mut found = vec![0.0; size - 1];
        for one in patterns {
            let (Some(sums), Some(held)) = (own.get_mut(one.group), rows.held.get(one.group)) else { continue };
            fitted.fill(*held, one.group, (&one.columns, one.offset), &mut found);
            let rest = (1.0 - found.iter().sum::<f64>()).max(0.0);
            let slots = sums.iter_mut().zip(found.iter().chain([&rest]));
            slots.for_each(|(slot, p)| *slot += one.cuttings * p);
        }
        own
    };
    let parts: Vec<Vec<Vec<f64>>> = rows.patterns.par_chunks(TOGETHER).map(sums).collect();
    for (group, own) in parts.iter().flat_map(|part| groups_of(part)) {
        let Some(group) = groups.get_mut(group) else { continue };
        group.expected.iter_mut().zip(own).for_each(|(sum, one)| *sum += one);
    }
}

/// Each group with its sums.
fn groups_of(part: &[Vec<f64>]) -> impl Iterator<Item = (usize, &Vec<f64>)> {
    part.iter().enumerate()
}

/// What becomes of zeros in the laws that are set beside the one asked for.
fn families(options: &CountLawOptions) -> Vec<Zeros> {
    match options.law.zeros() {
        Zeros::Truncated => vec![Zeros::Truncated],
        zeros if options.zero_inflated || zeros == Zeros::Added => vec![Zeros::Plain, Zeros::Apart, Zeros::Added],
        _ => vec![Zeros::Plain, Zeros::Apart],
    }
}

/// Laws beside each other, that with the least criterion first, and the one asked for.
///
/// # Errors
/// Why the one asked for cannot be fitted; an interruption.
pub(super) fn beside(
    rows: &Rows<'_>,
    options: &CountLawOptions,
    control: &Control,
) -> Result<(Fitted, Vec<LawBeside>)> {
    let mut found = Vec::new();
    let mut own = None;
    for zeros in families(options) {
        let family = Fitted::family(rows, zeros, control);
        for (law, one) in LawOfCounts::family(zeros).into_iter().zip(family) {
            if matches!(one, Err(Error::Interrupted)) {
                return Err(Error::Interrupted);
            }
            found.push(told(rows, law, &one));
            if law == options.law {
                own = Some(one?);
            }
        }
    }
    let least = found.iter().filter_map(|one| one.aic).fold(f64::INFINITY, f64::min);
    found.iter_mut().for_each(|one| one.behind = one.aic.map(|aic| aic - least));
    let at = |one: &LawBeside| one.behind.unwrap_or(f64::INFINITY);
    found.sort_by(|one, other| at(one).total_cmp(&at(other)));
    // Every law is of one of the families.
    let own = own.ok_or(CountError::LawNotFitted { law: options.law.name() })?;
    Ok((own, found))
}

/// A law among others.
fn told(rows: &Rows<'_>, law: LawOfCounts, fitted: &Result<Fitted>) -> LawBeside {
    let known = fitted.as_ref().ok();
    LawBeside {
        law,
        loglik: known.map(|one| one.loglik),
        n_parameters: known.map_or(0, |one| one.n_parameters),
        aic: known.map(Fitted::aic),
        behind: None,
        zeros: known.map(|one| one.expected_zeros(rows)),
        spread: known.map(Fitted::spread),
        why: fitted.as_ref().err().map(ToString::to_string),
    }
}
