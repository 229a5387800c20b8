//! The pairs, their adjusted P values and their intervals.

use super::answer;
use super::numbers::{AllComparisons, AllOptions, PairComparison};
use crate::answer::{Answer, Note};
use crate::compare::changing::changing_levels;
use crate::compare::named::{code_of, column};
use crate::compare::numbers::{CompareOptions, Comparison};
use crate::compare::opinion::{confirmed, confirming};
use crate::compare::strengths::strengths;
use crate::control::Control;
use crate::effects::{Adjustment, adjusted_p};
use crate::error::{CountError, Result};
use crate::estimate::check_level;
use crate::rates::TakeRate;
use crate::trial::Units;

/// The pairs of level codes in the order of levels, the lower first; or all others minus the one in `against`.
fn pairs_of(present: &[String], against: Option<&String>) -> Vec<(String, String)> {
    match against {
        Some(one) => present.iter().filter(|level| *level != one).map(|level| (one.clone(), level.clone())).collect(),
        None => present
            .iter()
            .enumerate()
            .flat_map(|(at, first)| present.iter().skip(at + 1).map(move |second| (first.clone(), second.clone())))
            .collect(),
    }
}

/// Compares all pairs of levels of `factor`, or all levels against one.
///
/// Each pair is what [`strengths`] makes of it, with the spread between trays pooled over all treatments; the P values are adjusted
/// together ([`adjusted_p`]) and each interval has the level at which all hold together
/// ([`Adjustment::interval_level`]). For stepwise adjustments the intervals are the single-step ones, so that near the limit the
/// adjusted P value of a pair may be small while its interval crosses 0: then it is not told apart, and its row says both.
///
/// # Errors
/// As [`strengths`]; a choice error for an unknown adjustment or level to set against; a count error when fewer than two levels have
/// units.
///
/// # References
/// Holm S (1979); Dunn OJ (1961), JASA 56:52-64 (simultaneous intervals); Carmer SG, Walker WM (1982), J. Agron. Educ. 11:119-124.
pub fn all_levels(
    units: &Units,
    factor: &str,
    options: &AllOptions,
    control: &Control,
) -> Result<Answer<AllComparisons>> {
    let level = check_level(options.compare.confidence)?;
    let adjust = options.together;
    let treatment = column(units, factor)?;
    let name = |code: u32| treatment.levels.get(code as usize).cloned().unwrap_or_default();
    let against = options.against.as_ref().map(|level| code_of(treatment, level)).transpose()?.map(name);
    let mut kept: Vec<usize> = (0..units.len()).collect();
    for (other, value) in &options.compare.at {
        let other = column(units, other)?;
        let code = code_of(other, value)?;
        kept.retain(|unit| other.codes.get(*unit) == Some(&code));
    }
    let held = |level: &String| {
        kept.iter().any(|unit| treatment.codes.get(*unit).map(|code| name(*code)).as_ref() == Some(level))
    };
    let present: Vec<String> =
        treatment.levels.iter().filter(|level| held(level) || Some(*level) == against.as_ref()).cloned().collect();
    if present.len() < 2 {
        return Err(CountError::TableTooSmall { rows: present.len(), columns: 2 }.into());
    }
    let wanted = pairs_of(&present, against.as_ref());
    let interval_level = adjust.interval_level(level, wanted.len());
    let each = CompareOptions { confidence: interval_level, ..options.compare.clone() };
    let compared: Vec<Answer<Comparison>> = wanted
        .iter()
        .map(|(first, second)| strengths(units, factor, first, second, &each, control))
        .collect::<Result<_>>()?;
    let found = collect(&compared, &wanted, adjust, control)?;
    let lead = compared.first().map(|one| (one.numbers.unit.clone(), one.numbers.method.clone())).unwrap_or_default();
    // What has no test has no difference that could be said to change.
    let tested = found.iter().any(|pair| pair.p.is_some());
    let changing = if tested { changing_levels(units, factor, &each, control)? } else { Vec::new() };
    let figures = AllComparisons {
        factor: treatment.name.clone(),
        against,
        together: adjust,
        confidence: level,
        interval_level,
        n_tests: found.iter().filter(|pair| pair.p.is_some()).count() as u64,
        unit: lead.0,
        method: lead.1,
        pairs: found,
        outcome: options.compare.outcome,
        changing,
    };
    let notes: Vec<Note> = compared.iter().flat_map(|one| one.notes.clone()).collect();
    let curve = treatment.numbers.as_ref().is_some_and(|_| present.len() > 2);
    let first = compared.into_iter().next();
    Ok(answer::answer(figures, adjust, answer::Around { units, options, notes, curve, first }))
}

fn collect(
    compared: &[Answer<Comparison>],
    wanted: &[(String, String)],
    adjust: Adjustment,
    control: &Control,
) -> Result<Vec<PairComparison>> {
    let raw: Vec<f64> = compared.iter().filter_map(|one| one.numbers.p).collect();
    let mut adjusted = adjusted_p(&raw, adjust, control)?.into_iter();
    let pair = |(one, (first, second)): (&Answer<Comparison>, &(String, String))| PairComparison {
        first: first.clone(),
        second: second.clone(),
        value: one.numbers.value,
        low: one.numbers.low,
        high: one.numbers.high,
        p: one.numbers.p,
        p_adjusted: one.numbers.p.and_then(|_| adjusted.next()),
        test: one.numbers.test.clone(),
        n_units: (one.numbers.first.n_units, one.numbers.second.n_units),
        n_units_used: used(&one.numbers),
        carried: one.numbers.carried.clone(),
        error_df: one.numbers.df,
        second_opinion: confirming(&one.numbers).map(|dealt| dealt.p),
        smallest_p: one.numbers.randomisation.as_ref().map(|dealt| dealt.smallest_p),
        confirmed: confirmed(&one.numbers),
        withheld: one.numbers.withheld.clone(),
    };
    Ok(compared.iter().zip(wanted).map(pair).collect())
}

/// Units of the first and of the second level that carry a comparison; all of them where strata are not told apart.
fn used(found: &Comparison) -> (u64, u64) {
    let of = |rate: &TakeRate| {
        let levels = found.carried.iter().flat_map(|carried| &carried.levels);
        let mut own = levels.filter(|level| rate.levels.first() == Some(&level.level));
        own.next().map_or(rate.n_units, |level| level.n_units_used)
    };
    (of(&found.first), of(&found.second))
}
