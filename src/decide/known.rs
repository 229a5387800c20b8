//! What a trial tells of the takes of each level: by the rates and the correlation that its other answers have.

use super::options::{ChooseOptions, SeasonsPooled};
use crate::compare::{code_of, column};
use crate::error::{DecideError, Result};
use crate::rates::{OverPlaces, PLANNING_ICC, arm_of, arms, tray_spread_of};
use crate::trial::{Factor, UnitKind, Units, unit_called};

/// What is known of a level.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Level {
    pub(super) name: String,
    /// Its place among the levels of the treatment.
    pub(super) code: usize,
    pub(super) rooted: u64,
    pub(super) stuck: u64,
    pub(super) n_units: u64,
    /// Cuttings that would say as much of its take if each stood alone.
    pub(super) effective: f64,
    /// Degrees of freedom of its take.
    pub(super) df: f64,
    /// As many of its take beside what all levels share.
    pub(super) effective_own: f64,
}

impl Level {
    pub(super) fn take(&self) -> f64 {
        self.rooted as f64 / self.stuck as f64
    }
}

/// What is known of all levels of a treatment.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub(super) levels: Vec<Level>,
    /// Degrees of freedom of what each level has of its own.
    pub(super) df: f64,
    /// Variance of a rate that all levels share, over p (1 - p); what places add to trays of all levels alike.
    pub(super) shared: f64,
    /// Degrees of freedom of that.
    pub(super) shared_df: f64,
    /// True where trays are counted.
    pub(super) counted: bool,
    /// Correlation of cuttings of a tray, as the next trial is taken to have it.
    pub(super) correlation: f64,
    /// Cuttings of a tray on average; none where no trays are recorded.
    pub(super) tray_size: Option<f64>,
    pub(super) unit: String,
    /// Seasons that the trial holds.
    pub(super) seasons: u64,
}

/// Never more than this part of a level's variance is taken for shared.
const MOST_SHARED: f64 = 0.99;

/// What the trial tells.
///
/// # Errors
/// A choice error for an unknown column or level; [`DecideError`] where there is nothing to choose or nothing rooted.
pub(super) fn known(units: &Units, treatment: &Factor, options: &ChooseOptions) -> Result<Known> {
    let mut kept: Vec<usize> =
        (0..units.len()).filter(|unit| units.stuck.get(*unit).is_some_and(|stuck| *stuck > 0)).collect();
    for (name, value) in &options.at {
        let other = column(units, name)?;
        let code = code_of(other, value)?;
        kept.retain(|unit| other.codes.get(*unit) == Some(&code));
    }
    let of_code = |code: usize| -> Vec<usize> {
        let own = |unit: &usize| treatment.codes.get(*unit).is_some_and(|found| *found as usize == code);
        kept.iter().copied().filter(own).collect()
    };
    let members: Vec<(usize, Vec<usize>)> =
        (0..treatment.levels.len()).map(|code| (code, of_code(code))).filter(|(_, own)| !own.is_empty()).collect();
    if members.len() < 2 {
        let only = members.first().and_then(|(code, _)| treatment.levels.get(*code)).cloned();
        let (treatment, level) = (treatment.name.clone(), only.unwrap_or_default());
        return Err(DecideError::OneLevel { treatment, level }.into());
    }
    let mut found = judged(units, treatment, &members, options);
    if found.levels.iter().all(|level| level.rooted == 0) {
        return Err(DecideError::NothingRooted { treatment: treatment.name.clone() }.into());
    }
    let seasons = units.season.as_ref().map_or(1, |season| {
        let mut codes: Vec<u32> = kept.iter().filter_map(|unit| season.codes.get(*unit).copied()).collect();
        codes.sort_unstable();
        codes.dedup();
        codes.len() as u64
    });
    found.seasons = seasons.max(1);
    Ok(found)
}

/// The variances of all levels: of each, and of what they share.
fn judged(units: &Units, treatment: &Factor, members: &[(usize, Vec<usize>)], options: &ChooseOptions) -> Known {
    let all: Vec<usize> = (0..units.len()).collect();
    let trays = units.kind == UnitKind::Tray;
    let factors: Vec<&Factor> = units.treatments.iter().collect();
    let spread = if trays { tray_spread_of(units, &arms(units, &all, &factors)) } else { None };
    let mut levels: Vec<Level> = members
        .iter()
        .map(|(code, own)| {
            let arm = arm_of(units, own);
            let stuck = arm.total().1;
            let effective = spread.map_or(stuck, |spread| spread.effective_cuttings(&arm));
            Level {
                name: treatment.levels.get(*code).cloned().unwrap_or_default(),
                code: *code,
                rooted: arm.rooted.iter().sum(),
                stuck: arm.stuck.iter().sum(),
                n_units: own.len() as u64,
                effective,
                df: spread.map_or(f64::INFINITY, |spread| spread.df),
                effective_own: effective,
            }
        })
        .collect();
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    let fixed: Vec<&Factor> = recorded.filter(|place| options.at.contains_key(&place.name)).collect();
    let over = spread.and_then(|_| OverPlaces::new(units, &fixed));
    let mut df = spread.map_or(f64::INFINITY, |spread| spread.df);
    let (mut shared, mut shared_df) = (0.0, f64::INFINITY);
    if let Some(over) = &over {
        let own: Vec<&[usize]> = members.iter().map(|(_, own)| own.as_slice()).collect();
        (shared, shared_df, df) = over_places(over, &own, units.len(), &mut levels);
    }
    let stuck: f64 = levels.iter().map(|level| level.stuck as f64).sum();
    let n_units: u64 = levels.iter().map(|level| level.n_units).sum();
    let correlation = if spread.is_some() { correlation(&levels) } else { PLANNING_ICC };
    let unit = if trays { unit_called(units) } else { "cutting".to_owned() };
    let tray_size = trays.then_some(stuck / n_units as f64);
    Known { levels, df, shared, shared_df, counted: spread.is_some(), correlation, tray_size, unit, seasons: 1 }
}

/// Each level over places, as take rates have it; what all levels share is what their differences do not have. Gives the variance shared with
/// its degrees of freedom, and those of differences.
fn over_places(over: &OverPlaces, members: &[&[usize]], units: usize, levels: &mut [Level]) -> (f64, f64, f64) {
    let half = vec![0.5; units];
    for (level, own) in levels.iter_mut().zip(members) {
        let mut coefficients = vec![0.0; units];
        for unit in *own {
            coefficients.get_mut(*unit).into_iter().for_each(|slot| *slot = 1.0 / level.stuck as f64);
        }
        let found = over.judged(&coefficients, &half, &[]);
        level.effective = (0.25 / found.variance).min(level.stuck as f64);
        level.df = found.df;
    }
    let (mut sum, mut inverse, mut pairs) = (0.0, 0.0, 0.0);
    for (at, (one, first)) in levels.iter().zip(members).enumerate() {
        for (other, second) in levels.iter().zip(members).skip(at + 1) {
            let (effective, df) = over.behind_difference(first, second);
            sum += 0.5 * (1.0 / one.effective + 1.0 / other.effective - 1.0 / effective);
            inverse += 1.0 / df;
            pairs += 1.0;
        }
    }
    let df = (pairs / inverse).max(1.0);
    let least = levels.iter().map(|level| 1.0 / level.effective).fold(f64::INFINITY, f64::min);
    let shared = (sum / pairs).clamp(0.0, MOST_SHARED * least);
    // Satterthwaite's sum of a level, solved for what is shared.
    let mut left = 0.0;
    for level in levels.iter_mut() {
        let whole = 1.0 / level.effective;
        let own = whole - shared;
        level.effective_own = 1.0 / own;
        left += (whole * whole / level.df - own * own / df).max(0.0) / (shared * shared).max(f64::MIN_POSITIVE);
    }
    let shared_df = (levels.len() as f64 / left).max(1.0);
    (shared, shared_df, df)
}

/// The correlation within trays that makes as many effective cuttings of each level, beside what is shared.
fn correlation(levels: &[Level]) -> f64 {
    let (mut sum, mut total) = (0.0, 0.0);
    for level in levels {
        let stuck = level.stuck as f64;
        let size = stuck / level.n_units as f64;
        if size > 1.0 {
            sum += stuck * (stuck / level.effective_own - 1.0) / (size - 1.0);
            total += stuck;
        }
    }
    if total > 0.0 { (sum / total).clamp(0.0, 0.95) } else { PLANNING_ICC }
}

/// The standard deviation of log odds over seasons: as given, or from the spread of a difference of rates, whose variance is the sum of those of
/// its levels, each `(p (1 - p))^2` times that of log odds.
///
/// # Errors
/// [`DecideError`] for too few seasons or another treatment; a choice error for unknown levels.
pub(super) fn season_sd(known: &Known, treatment: &Factor, options: &ChooseOptions) -> Result<Option<f64>> {
    let Some(SeasonsPooled { treatment: found, first, second, n_seasons, spread }) = &options.pooled else {
        return Ok(options.season_sd);
    };
    if *found != treatment.name {
        let (found, wanted) = (found.clone(), treatment.name.clone());
        return Err(DecideError::OtherTreatment { found, wanted }.into());
    }
    let spread = spread.ok_or(DecideError::NoSpread { seasons: *n_seasons })?;
    let slope = |level: &str| -> Result<f64> {
        let code = code_of(treatment, level)? as usize;
        // Half a cutting either way, so that a take of 0 or 1 has a slope.
        let take = known.levels.iter().find(|one| one.code == code);
        let take = take.map_or(0.5, |one| (one.rooted as f64 + 0.5) / (one.stuck as f64 + 1.0));
        Ok(take * (1.0 - take))
    };
    let (first, second) = (slope(first)?, slope(second)?);
    Ok(Some((spread / first.hypot(second)).min(3.0)))
}
