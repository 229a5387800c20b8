//! Options that cannot be, and what a cutting costs at each level.

use std::collections::BTreeMap;

use super::options::{ChooseOptions, Days, TrialToCome};
use crate::compare::code_of;
use crate::error::{DecideError, Result};
use crate::estimate::check_level;
use crate::trial::Factor;

/// Draws that are taken; more tell nothing more.
const DRAWS: std::ops::RangeInclusive<u64> = 1_000..=200_000;
/// Seasons that a choice can hold.
const SEASONS: std::ops::RangeInclusive<u64> = 1..=50;
/// Standard deviations of log odds between seasons.
const SEASON_SDS: std::ops::RangeInclusive<f64> = 0.0..=3.0;

/// Options that cannot be, before the trial is looked at.
pub(super) fn check(options: &ChooseOptions) -> Result<()> {
    check_level(options.confidence)?;
    above("price", options.price, "what a saleable tree brings, for example 3.0")?;
    above(
        "cuttings_a_season",
        options.cuttings_a_season,
        "how many cuttings are stuck in a season, for example 20000",
    )?;
    if let Some(size) = options.cuttings_per_tray {
        above("cuttings_per_tray", size, "how many cuttings a tray holds, for example 20")?;
    }
    costs(options)?;
    if options.days.is_some() && options.per_day.is_none() {
        return Err(DecideError::DaysWithoutCost.into());
    }
    saleable(options)?;
    if !SEASONS.contains(&options.seasons) {
        return Err(DecideError::Seasons { seasons: options.seasons }.into());
    }
    if let Some(value) = options.season_sd.filter(|value| !SEASON_SDS.contains(value)) {
        return Err(DecideError::SeasonSd { value }.into());
    }
    if options.season_sd.is_some() && options.pooled.is_some() {
        return Err(DecideError::TwoSpreads.into());
    }
    if let Some(next) = &options.next_trial {
        next_trial(next)?;
    }
    if !DRAWS.contains(&options.draws) {
        return Err(DecideError::Draws { draws: options.draws }.into());
    }
    Ok(())
}

fn above(name: &'static str, value: f64, what: &'static str) -> Result<()> {
    if value > 0.0 && value.is_finite() { Ok(()) } else { Err(DecideError::NotAbove { name, value, what }.into()) }
}

fn costs(options: &ChooseOptions) -> Result<()> {
    let named = [("per_cutting", options.per_cutting), ("per_tray", options.per_tray), ("per_day", options.per_day)];
    let named = named.into_iter().filter_map(|(name, cost)| Some((name.to_owned(), cost?)));
    let of_level = options.of_level.iter().map(|(level, cost)| (format!("of_level at {level}"), *cost));
    let all: Vec<(String, f64)> = named.chain(of_level).collect();
    if all.is_empty() {
        return Err(DecideError::NoCosts.into());
    }
    match all.into_iter().find(|(_, cost)| !(*cost >= 0.0 && cost.is_finite())) {
        Some((name, value)) => Err(DecideError::Cost { name, value }.into()),
        None => Ok(()),
    }
}

fn saleable(options: &ChooseOptions) -> Result<()> {
    let value = options.saleable;
    if !(value > 0.0 && value <= 1.0) {
        return Err(DecideError::Saleable { value }.into());
    }
    let Some((low, high)) = options.saleable_limits else { return Ok(()) };
    // Limits lie on the log odds, which has no place for 0 and 1.
    let inside = low > 0.0 && low <= value && value <= high && high < 1.0;
    if inside { Ok(()) } else { Err(DecideError::SaleableLimits { low, high, value }.into()) }
}

fn next_trial(next: &TrialToCome) -> Result<()> {
    let wrong = match next {
        TrialToCome { trays, .. } if !(1..=1_000).contains(trays) => Some(("trays", *trays as f64)),
        TrialToCome { cuttings, .. } if !(1..=10_000).contains(cuttings) => Some(("cuttings", *cuttings as f64)),
        TrialToCome { cost, .. } if !(*cost >= 0.0 && cost.is_finite()) => Some(("cost", *cost)),
        _ => None,
    };
    match wrong {
        Some((what, value)) => Err(DecideError::NextTrial { what, value }.into()),
        None => Ok(()),
    }
}

/// The cost of a cutting at each level of the treatment, by its code.
///
/// # Errors
/// A choice error for a level that is not known; [`DecideError`] where days or the size of trays are wanted and not known.
pub(super) fn by_level(treatment: &Factor, tray_size: Option<f64>, options: &ChooseOptions) -> Result<Vec<f64>> {
    let further = by_code(treatment, &options.of_level)?;
    let (per_tray, per_day) = (options.per_tray.unwrap_or(0.0), options.per_day.unwrap_or(0.0));
    let of_trays = [("per_tray", per_tray), ("per_day", per_day)].into_iter().find(|(_, cost)| *cost > 0.0);
    let size = match (options.cuttings_per_tray.or(tray_size), of_trays) {
        (Some(size), _) => size,
        (None, Some((name, _))) => return Err(DecideError::TraySize { name }.into()),
        (None, None) => 1.0,
    };
    let days = if per_day > 0.0 { days(treatment, options)? } else { vec![0.0; treatment.levels.len()] };
    let each = days.iter().enumerate().map(|(code, days)| {
        let of_level = further.get(&code).copied().unwrap_or(0.0);
        options.per_cutting.unwrap_or(0.0) + (per_tray + per_day * days) / size + of_level
    });
    Ok(each.collect())
}

/// What is given by level, by the code of the level.
fn by_code(treatment: &Factor, given: &BTreeMap<String, f64>) -> Result<BTreeMap<usize, f64>> {
    given.iter().map(|(level, value)| Ok((code_of(treatment, level)? as usize, *value))).collect()
}

/// The column of days in darkness.
const DARKNESS: &str = "dark_days";

/// Days of darkness of each level: as given, of the treatment itself, or of the darkness that the trial is held at.
fn days(treatment: &Factor, options: &ChooseOptions) -> Result<Vec<f64>> {
    let held = options.at.get(DARKNESS).and_then(|held| held.trim().parse::<f64>().ok());
    let known: Vec<Option<f64>> = match &options.days {
        Some(Days::Alike(days)) => vec![Some(*days); treatment.levels.len()],
        Some(Days::ByLevel(given)) => {
            let given = by_code(treatment, given)?;
            (0..treatment.levels.len()).map(|code| given.get(&code).copied()).collect()
        }
        None if treatment.name == DARKNESS => {
            treatment.levels.iter().map(|level| level.trim().parse::<f64>().ok()).collect()
        }
        None => vec![held; treatment.levels.len()],
    };
    let each = known.into_iter().zip(&treatment.levels).map(|(days, level)| match days {
        None => Err(DecideError::Days { treatment: treatment.name.clone(), level: level.clone() }.into()),
        Some(value) if !(value >= 0.0 && value.is_finite()) => Err(DecideError::NoDays { value }.into()),
        Some(value) => Ok(value),
    });
    each.collect()
}
