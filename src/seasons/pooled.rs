//! Seasons together: the average, a new season, what lies between them, and each season beside the others.

use super::ahead::{Draws, drawn, without};
use super::average::{Average, average_of_these, average_over, season_test};
use super::entered::Entered;
use super::measured::{Measured, critical};
use super::numbers::{PoolOptions, Pooled, SeasonChanges, SeasonDifference, SeasonLeftOut, WithoutSeason};
use crate::control::Control;
use crate::effects::{Adjustment, adjusted_p};
use crate::error::{CountError, Result, SeasonsError};
use crate::estimate::check_level;

/// Seasons from which a new one is spoken of.
pub(super) const A_NEW_ONE: usize = 3;
/// Seasons from which one can be held against the others.
const ONE_APART: usize = 4;
/// Seasons from which what is said is more than provisional.
pub(super) const SETTLED: usize = 5;

/// Draws that are taken; more tell nothing more.
const DRAWS: std::ops::RangeInclusive<u64> = 1_000..=200_000;

/// Options that cannot be, before any trial is asked.
pub(super) fn check(options: &PoolOptions) -> Result<()> {
    check_pool(options.confidence, options.draws)?;
    if !(options.nearly > 0.0 && options.nearly < 1.0) {
        return Err(CountError::OutOfRange { name: "nearly", value: options.nearly, low: 0.0, high: 1.0 }.into());
    }
    Ok(())
}

/// A confidence and draws that can be.
pub(super) fn check_pool(confidence: f64, draws: u64) -> Result<()> {
    check_level(confidence)?;
    if DRAWS.contains(&draws) { Ok(()) } else { Err(SeasonsError::Draws { draws }.into()) }
}

/// The numbers of seasons pooled.
pub(super) fn pooled(entered: &[Entered], options: &PoolOptions, control: &Control) -> Result<Pooled> {
    let (mut entering, mut left_out) = (Vec::new(), Vec::new());
    for season in entered {
        match season.measured() {
            Ok(measured) => entering.push((season, measured)),
            Err(why) => {
                left_out.push(SeasonLeftOut { season: season.name.clone(), value: season.found.value, why });
            }
        }
    }
    if entering.len() < 2 {
        let left_out = left_out.iter().map(|one| format!("{}: {}", one.season, one.why)).collect();
        return Err(SeasonsError::TooFew { entering: entering.len(), left_out }.into());
    }
    let measured: Vec<Measured> = entering.iter().map(|(_, measured)| *measured).collect();
    let average = average_of(&measured, options.confidence);
    let ahead =
        (measured.len() >= A_NEW_ONE).then(|| drawn(&measured, options.draws, options.seed, control)).transpose()?;
    let mut seasons = each(&entering, &average, options.confidence);
    if let Some(draws) = ahead.as_ref().filter(|_| measured.len() >= ONE_APART) {
        let p = draws.apart(&measured);
        let adjusted = adjusted_p(&p, Adjustment::Holm, control)?;
        for (season, (p, adjusted)) in seasons.iter_mut().zip(p.into_iter().zip(adjusted)) {
            (season.p, season.p_adjusted) = (Some(p), Some(adjusted));
        }
    }
    told(&entering, seasons, left_out, (average, ahead.as_ref()), options)
}

/// The average, over these very seasons where there are two.
pub(super) fn average_of(seasons: &[Measured], confidence: f64) -> Average {
    if seasons.len() < A_NEW_ONE { average_of_these(seasons, confidence) } else { average_over(seasons, confidence) }
}

/// No difference of two rates lies beyond these.
fn possible((low, high): (f64, f64)) -> (f64, f64) {
    (low.max(-1.0), high.min(1.0))
}

fn each(entering: &[(&Entered, Measured)], average: &Average, confidence: f64) -> Vec<SeasonDifference> {
    let measured: Vec<Measured> = entering.iter().map(|(_, measured)| *measured).collect();
    let alike = measured.len() < A_NEW_ONE;
    let weight = |one: &Measured| if alike { 1.0 } else { 1.0 / (one.variance + average.spread_squared) };
    let total: f64 = measured.iter().map(weight).sum();
    let one = |(at, (season, own)): (usize, &(&Entered, Measured))| {
        let reach = critical(confidence, own.df) * own.variance.sqrt();
        let recorded = season.found.low.zip(season.found.high);
        // Limits of another confidence are drawn anew from the same error.
        let same = (season.found.confidence - confidence).abs() < 1e-12;
        let (low, high) = recorded.filter(|_| same).unwrap_or_else(|| possible((own.value - reach, own.value + reach)));
        let (first, second) = (&season.found.first, &season.found.second);
        SeasonDifference {
            season: season.name.clone(),
            value: own.value,
            low,
            high,
            se: own.variance.sqrt(),
            df: own.df,
            n_units: first.n_units + second.n_units,
            n_cuttings: first.stuck + second.stuck,
            weight: weight(own) / total,
            without: (!alike).then(|| without_one(&measured, at, confidence)),
            p: None,
            p_adjusted: None,
            data_fingerprint: season.fingerprint.clone(),
        }
    };
    entering.iter().enumerate().map(one).collect()
}

fn without_one(measured: &[Measured], left_out: usize, confidence: f64) -> WithoutSeason {
    let others = without(measured, left_out);
    let found = average_of(&others, confidence);
    let (low, high) = possible((found.low, found.high));
    let spread = (others.len() >= A_NEW_ONE).then(|| found.spread_squared.sqrt());
    WithoutSeason { value: found.value, low, high, spread }
}

fn told(
    entering: &[(&Entered, Measured)],
    seasons: Vec<SeasonDifference>,
    left_out: Vec<SeasonLeftOut>,
    (average, ahead): (Average, Option<&Draws>),
    options: &PoolOptions,
) -> Result<Pooled> {
    let measured: Vec<Measured> = entering.iter().map(|(_, measured)| *measured).collect();
    let new = ahead.map(|draws| draws.limits(options.confidence)).transpose()?;
    // A new season is never told more closely than the average.
    let new = new.map(|(low, high)| possible((low.min(average.low), high.max(average.high))));
    let between = ahead.map(|draws| draws.spread_squared_limits(&measured, options.confidence)).transpose()?;
    let test = season_test(&measured);
    let (low, high) = possible((average.low, average.high));
    let (factor, first, second, outcome) = asked(entering);
    Ok(Pooled {
        factor,
        first,
        second,
        outcome,
        n_seasons: seasons.len() as u64,
        n_units: seasons.iter().map(|one| one.n_units).sum(),
        n_cuttings: seasons.iter().map(|one| one.n_cuttings).sum(),
        unit: unit(entering),
        seasons,
        left_out,
        value: average.value,
        low,
        high,
        se: average.se,
        df: average.df,
        these_alone: measured.len() < A_NEW_ONE,
        provisional: (A_NEW_ONE..SETTLED).contains(&measured.len()),
        new_low: new.map(|(low, _)| low),
        new_high: new.map(|(_, high)| high),
        spread: ahead.map(|_| average.spread_squared.sqrt()),
        spread_low: between.map(|(low, _)| low.sqrt()),
        spread_high: between.map(|(_, high)| high.sqrt()),
        seasons_needed: ahead.and_then(|_| needed(&measured, average.spread_squared, options)),
        changes: SeasonChanges { statistic: test.statistic, df: test.df, error_df: test.error_df, p: test.p },
        confidence: options.confidence,
        nearly: options.nearly,
    })
}

/// Most seasons that are thought of.
const MOST_SEASONS: usize = 30;

/// Seasons at which limits of the average lie within the difference that matters, from their number and errors like those of these.
fn needed(measured: &[Measured], spread_squared: f64, options: &PoolOptions) -> Option<u64> {
    let own = measured.iter().map(|one| one.variance).sum::<f64>() / measured.len() as f64;
    let reach = |count: usize| {
        critical(options.confidence, count as f64 - 1.0) * ((spread_squared + own) / count as f64).sqrt()
    };
    let found = (measured.len()..=MOST_SEASONS).find(|count| reach(*count) <= options.nearly)?;
    (found > measured.len()).then_some(found as u64)
}

/// What all seasons were asked.
fn asked(entering: &[(&Entered, Measured)]) -> (String, String, String, crate::trial::Outcome) {
    let of = |found: &crate::compare::Comparison| {
        let (first, second) = (found.first.levels.concat(), found.second.levels.concat());
        (found.factor.clone(), first, second, found.outcome)
    };
    entering.first().map(|(season, _)| of(&season.found)).unwrap_or_default()
}

/// What the units of all seasons are called; "unit" where they are not the same.
fn unit(entering: &[(&Entered, Measured)]) -> String {
    let mut names = entering.iter().map(|(season, _)| season.found.unit.as_str());
    let first = names.next().unwrap_or("tray");
    if names.all(|name| name == first) { first.to_owned() } else { "unit".to_owned() }
}
