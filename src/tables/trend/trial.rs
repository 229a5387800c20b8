//! The trend of a trial: trays decide where they are recorded.

use std::collections::BTreeMap;

use super::numbers::{ScoredLevel, TrendTest, TrialTrend, TrialTrendOptions};
use super::trays::{ScoredTray, TrayTrend, adjusted_trend, tray_trend};
use super::words;
use crate::answer::Answer;
use crate::compare::{Carried, TwoLevels, Uneven, column, two_level_test, why_no_place_is_tested};
use crate::control::Control;
use crate::counts::{line_of, trend};
use crate::error::{CountError, Result};
use crate::estimate::{TestName, TestResult, check_level};
use crate::math::distributions::{normal, student_t};
use crate::rates::{Arm, TraysUse, tray_spread};
use crate::report::numbers::unit_name;
use crate::tables::association::told;
use crate::tables::crossed::{Crossed, Lying};
use crate::trial::{Dated, Factor, Groups, Layout, UnitKind, Units, dated, follows_time, with_earlier};

/// Tests whether the take rate rises or falls along the levels of `factor`.
///
/// With trays the leading test is the t test of [`tray_trend`] within blocks and other treatments; beside it stand the
/// Cochran-Armitage test on effective cuttings and, marked as such, those that count cuttings. Without trays the latter lead,
/// and the answer says that its P is too small. A straight line cannot show a hump: `departure` tells.
///
/// # Errors
/// A choice error for an unknown column or level; [`CountError`] when levels are not numbers and no scores are given, when
/// there is one level, or for a confidence level outside (0, 1); [`Error::Interrupted`](crate::Error) when stopped.
pub fn trial_trend(
    units: &Units,
    factor: &str,
    options: &TrialTrendOptions,
    control: &Control,
) -> Result<Answer<TrialTrend>> {
    let confidence = check_level(options.confidence)?;
    let treatment = column(units, factor)?;
    let scores = level_scores(treatment, options.scores.as_ref())?;
    let counted = units.kind == UnitKind::Tray && options.trays == TraysUse::Auto;
    let everything: Vec<usize> = (0..units.len()).collect();
    let layout = counted.then(|| Layout::of(units, treatment, &everything));
    let unit = layout.as_ref().map_or_else(|| "cutting".to_owned(), |layout| layout.unit.clone());
    let single = || Groups::single(&everything);
    let groups = layout.as_ref().map_or_else(single, |layout| layout.groups.clone());
    let arms = arms(units, treatment, &scores, &groups);
    let mut found = TrialTrend {
        factor: treatment.name.clone(),
        levels: levels(treatment, &arms),
        unit,
        value: f64::NAN,
        cut: false,
        se: None,
        low: None,
        high: None,
        confidence,
        p: None,
        tests: Vec::new(),
        departure: None,
        spread: None,
        withheld: None,
        carried: None,
        follows_time: follows_time(units, treatment),
        judged_by: Vec::new(),
        crossed_left_out: false,
        adjusted_for: Vec::new(),
    };
    if found.levels.len() < 2 {
        return Err(CountError::TableTooSmall { rows: found.levels.len(), columns: 2 }.into());
    }
    if let Some(layout) = &layout {
        by_trays(&mut found, units, treatment, &scores, layout);
        if treatment.levels.len() == 2 {
            of_comparison(&mut found, two_level_test(units, treatment, BTreeMap::new())?, &scores)?;
        }
    }
    by_cuttings(&mut found, counted, options, control)?;
    let shown = found.spread.is_some() && found.withheld.is_none();
    let answer = words::answer(found, units, options);
    Ok(if shown { with_earlier(answer, units) } else { answer })
}

/// One score per level: as given, else the levels themselves where they are numbers, or the days from the first where they are dates.
fn level_scores(treatment: &Factor, given: Option<&BTreeMap<String, f64>>) -> Result<Vec<f64>> {
    let Some(given) = given else {
        if let Some(numbers) = &treatment.numbers {
            return Ok(numbers.clone());
        }
        let why = match dated(&treatment.levels) {
            Dated::Days(days) => return Ok(days),
            Dated::Open => {
                "day and month of the dates could be either; write them year first, or give each level a score"
            }
            Dated::No => {
                "the levels are not numbers, nor dates; give a score for each level, in the order that matters"
            }
        };
        return Err(CountError::NotDefined { what: "a trend", why }.into());
    };
    let mut scores = vec![f64::NAN; treatment.levels.len()];
    for (name, score) in given {
        let code = crate::compare::code_of(treatment, name)?;
        if !score.is_finite() {
            return Err(CountError::ScoreOfLevel { level: name.clone(), value: *score }.into());
        }
        if let Some(place) = scores.get_mut(code as usize) {
            *place = *score;
        }
    }
    match treatment.levels.iter().zip(&scores).find(|(_, score)| !score.is_finite()) {
        Some((level, _)) => Err(CountError::NoScore { level: level.clone() }.into()),
        None => Ok(scores),
    }
}

fn lead(group: &[usize]) -> usize {
    group.first().copied().unwrap_or(usize::MAX)
}

fn counts(units: &Units, group: &[usize]) -> (u64, u64) {
    let counts = group.iter().filter_map(|unit| units.count(*unit));
    counts.fold((0, 0), |sum, one| (sum.0 + one.rooted, sum.1 + one.stuck))
}

/// Level code, score and trays of each level, by rising score.
fn arms(units: &Units, treatment: &Factor, scores: &[f64], groups: &Groups) -> Vec<(u32, f64, Arm)> {
    let mut by_code: BTreeMap<u32, Arm> = BTreeMap::new();
    for group in groups.iter() {
        let (rooted, stuck) = counts(units, group);
        if let Some(code) = treatment.codes.get(lead(group)).filter(|_| stuck > 0) {
            let arm = by_code.entry(*code).or_default();
            arm.rooted.push(rooted);
            arm.stuck.push(stuck);
        }
    }
    let mut arms: Vec<(u32, f64, Arm)> = by_code
        .into_iter()
        .filter_map(|(code, arm)| scores.get(code as usize).map(|score| (code, *score, arm)))
        .collect();
    arms.sort_by(|a, b| a.1.total_cmp(&b.1));
    arms
}

fn levels(treatment: &Factor, arms: &[(u32, f64, Arm)]) -> Vec<ScoredLevel> {
    arms.iter()
        .map(|(code, score, arm)| ScoredLevel {
            level: treatment.levels.get(*code as usize).cloned().unwrap_or_default(),
            score: *score,
            rooted: arm.rooted.iter().sum(),
            stuck: arm.stuck.iter().sum(),
            n_units: arm.stuck.len() as u64,
        })
        .collect()
}

fn range(found: &TrialTrend) -> f64 {
    let scores = || found.levels.iter().map(|one| one.score);
    scores().fold(f64::NEG_INFINITY, f64::max) - scores().fold(f64::INFINITY, f64::min)
}

/// Fills in what trays say.
fn by_trays(found: &mut TrialTrend, units: &Units, treatment: &Factor, scores: &[f64], layout: &Layout<'_>) {
    let Layout { others, .. } = layout;
    let groups: Vec<Vec<usize>> =
        layout.groups.iter().filter(|group| counts(units, group).1 > 0).map(<[usize]>::to_vec).collect();
    let by: Vec<&Factor> = others.iter().chain(&layout.places).copied().collect();
    let leads: Vec<usize> = layout.groups.iter().map(lead).collect();
    let members: Vec<usize> = layout.groups.members().to_vec();
    let uneven = Uneven::of(units, treatment, layout, &members);
    // Strata too small to tell are not looked at where a fit of all trays takes their place.
    let thin = uneven.as_ref().is_some_and(|one| one.thin);
    let apart = if thin { &layout.places } else { &by };
    let carried = uneven
        .as_ref()
        .filter(|_| thin)
        .map_or_else(|| Carried::count(treatment, &by, &leads), |one| one.carried.clone());
    let score = |group: &[usize]| {
        let level = treatment.codes.get(lead(group));
        level.and_then(|code| scores.get(*code as usize)).copied().unwrap_or(f64::NAN)
    };
    let mut strata: BTreeMap<Vec<u32>, u32> = BTreeMap::new();
    let mut tray = |group: &Vec<usize>| -> ScoredTray {
        let (rooted, stuck) = counts(units, group);
        let next = strata.len() as u32;
        let stratum = *strata.entry(codes_of(group, apart)).or_insert(next);
        let arm = treatment.codes.get(lead(group)).copied().unwrap_or_default();
        ScoredTray { rate: rooted as f64 / stuck as f64, score: score(group), arm, stratum }
    };
    let trays: Vec<ScoredTray> = groups.iter().map(&mut tray).collect();
    let combined: Vec<&Factor> = others.iter().copied().chain([treatment]).collect();
    let cells = by_cell(units, &groups, &combined);
    found.spread = tray_spread(&cells);
    let refusal = carried.refusal(&treatment.name, &found.unit);
    found.carried = Some(carried);
    let crossed = Crossed::of(units, layout);
    found.judged_by.clone_from(&crossed.judged_by);
    let lying = Lying { units, groups: &groups, by: &by, treatment };
    match tray_trend(&trays) {
        _ if refusal.is_some() => found.withheld = refusal,
        Some(line) => {
            let told = told(units, (&found.unit, &groups), &combined, &layout.places);
            let scored: Vec<f64> = trays.iter().map(|tray| tray.score).collect();
            let line = told.map_or(line.clone(), |told| line.with_error(told));
            let on_units: Vec<f64> = (0..units.len()).map(|unit| score(&[unit])).collect();
            let adjusted = uneven.as_ref().and_then(|one| one.slope(units, &on_units));
            if let (Some(uneven), Some(adjusted)) = (uneven, adjusted) {
                let departure = uneven.levels(units, treatment, Some(&on_units));
                found.adjusted_for = uneven.beside;
                // A fit of all trays is carried by all of them.
                found.carried = Some(uneven.carried);
                straight(found, &line.adjusted(&adjusted, departure));
            } else if layout.parted() {
                found.withheld = Some(between_places(&found.factor));
            } else {
                let line = wider(found, &crossed, &lying, line, scored);
                straight(found, &line);
            }
        }
        None => found.withheld = Some(nothing_to_judge(found, groups.len())),
    }
    effective_cuttings(found, arms(units, treatment, scores, &layout.groups));
}

/// With two levels a trend is their comparison: its difference, test and limits lead.
fn of_comparison(found: &mut TrialTrend, compared: TwoLevels, scores: &[f64]) -> Result<()> {
    found.carried = compared.carried.or(found.carried.take());
    let Some((strata, test)) = compared.strata.zip(compared.test) else {
        found.withheld = compared.reason.or(found.withheld.take());
        (found.p, found.se, found.low, found.high) = (None, None, None, None);
        found.tests.clear();
        return Ok(());
    };
    let critical = student_t::quantile(f64::midpoint(1.0, found.confidence), strata.df());
    let (value, (low, high)) = (strata.difference(), strata.difference_limits(critical)?);
    let turned = scores.first() > scores.get(1);
    (found.value, found.low, found.high) =
        if turned { (-value, Some(-high), Some(-low)) } else { (value, Some(low), Some(high)) };
    (found.se, found.p, found.withheld, found.cut, found.crossed_left_out) = (None, Some(test.p), None, false, false);
    (found.adjusted_for, found.judged_by) = (compared.adjusted_for, compared.judged_by);
    let statistic = test.statistic.map(|t| if turned { -t } else { t });
    found.tests.insert(0, TrendTest { counts: "trays".to_owned(), test: TestResult { statistic, ..test } });
    Ok(())
}

/// Why no line through the rates of so many units is judged.
fn nothing_to_judge(found: &TrialTrend, units: usize) -> String {
    let (factor, unit) = (&found.factor, unit_name(&found.unit));
    if found.unit == *factor {
        return why_no_place_is_tested(factor);
    }
    if units == found.levels.len() {
        return format!("each level of {factor} is a single {unit}, so there is nothing to judge a trend by");
    }
    format!("no level of {factor} has a second {unit} whose rate differs, so there is nothing to judge a trend by")
}

fn between_places(factor: &str) -> String {
    format!("no place holds two levels of {factor}, so a trend may just as well be one between places")
}

/// A line with what crosses the units in its error, as far as that can be told.
fn wider(found: &mut TrialTrend, crossed: &Crossed, lying: &Lying<'_>, line: TrayTrend, scored: Vec<f64>) -> TrayTrend {
    let wider = crossed.wider(lying, &line.weights);
    found.crossed_left_out = crossed.is_crossed() && wider.is_none();
    let Some((times, df)) = wider else { return line };
    let departure = line.departure_test().and_then(|plain| crossed.widened(lying, plain, &[scored]));
    line.judged((times * line.se, df.min(line.df)), departure)
}

/// Codes of the first tray of a unit.
fn codes_of(group: &[usize], factors: &[&Factor]) -> Vec<u32> {
    factors.iter().filter_map(|one| one.codes.get(lead(group)).copied()).collect()
}

/// Units of every combination of levels.
fn by_cell(units: &Units, groups: &[Vec<usize>], factors: &[&Factor]) -> Vec<Arm> {
    let mut cells: BTreeMap<Vec<u32>, Arm> = BTreeMap::new();
    for group in groups {
        let (rooted, stuck) = counts(units, group);
        let cell = cells.entry(codes_of(group, factors)).or_default();
        cell.rooted.push(rooted);
        cell.stuck.push(stuck);
    }
    cells.into_values().collect()
}

/// Fills in what the straight line says.
fn straight(found: &mut TrialTrend, line: &TrayTrend) {
    let range = range(found);
    let reach = student_t::quantile(f64::midpoint(1.0, found.confidence), line.df) * line.se * range;
    let rise = line.slope * range;
    found.value = rise.clamp(-1.0, 1.0);
    found.se = Some(line.se * range);
    found.low = Some((rise - reach).clamp(-1.0, 1.0));
    found.high = Some((rise + reach).clamp(-1.0, 1.0));
    found.cut = rise.abs() > 1.0;
    found.p = Some(line.p);
    let test = |method: TestName, statistic: f64, df: f64, below: Option<f64>, p: f64| TestResult {
        method,
        statistic: Some(statistic),
        df: Some(df),
        error_df: below,
        p,
    };
    let lead = test(TestName::TOnTrays, line.statistic, line.df, None, line.p);
    found.tests.push(TrendTest { counts: "trays".to_owned(), test: lead });
    let departure = line.departure.zip(line.departure_p);
    found.departure =
        departure.map(|(f, p)| test(TestName::Departure, f, line.departure_df, Some(line.departure_error_df), p));
}

/// Adds the test on effective cuttings, where a test is given.
fn effective_cuttings(found: &mut TrialTrend, arms: Vec<(u32, f64, Arm)>) {
    let scored: Vec<(f64, Arm)> = arms.into_iter().map(|(_, score, arm)| (score, arm)).collect();
    if let Some(test) =
        found.spread.as_ref().filter(|_| found.withheld.is_none()).and_then(|spread| adjusted_trend(&scored, spread))
    {
        found.tests.push(TrendTest { counts: "trays".to_owned(), test });
    }
}

/// Fills in what cuttings say, as if each stood alone; leads only when trays are not counted.
fn by_cuttings(found: &mut TrialTrend, counted: bool, options: &TrialTrendOptions, control: &Control) -> Result<()> {
    let rooted: Vec<u64> = found.levels.iter().map(|one| one.rooted).collect();
    let stuck: Vec<u64> = found.levels.iter().map(|one| one.stuck).collect();
    let scores: Vec<f64> = found.levels.iter().map(|one| one.score).collect();
    let range = range(found);
    if counted {
        // Trays decide; the exact test of cuttings stands where cuttings do.
        let plain = line_of(&rooted, &stuck, &scores)?;
        if found.value.is_nan() {
            let rise = plain.slope * range;
            (found.value, found.cut) = (rise.clamp(-1.0, 1.0), rise.abs() > 1.0);
        }
        found.tests.push(TrendTest { counts: "cuttings".to_owned(), test: plain.asymptotic });
        return Ok(());
    }
    let plain = trend(&rooted, &stuck, &scores, options.exact, control)?;
    {
        let rise = plain.slope * range;
        (found.value, found.cut) = (rise.clamp(-1.0, 1.0), rise.abs() > 1.0);
        let se = (plain.slope / plain.z).abs() * range;
        if se.is_finite() {
            let reach = normal::isf(0.5 * (1.0 - found.confidence)) * se;
            found.se = Some(se);
            found.low = Some((rise - reach).clamp(-1.0, 1.0));
            found.high = Some((rise + reach).clamp(-1.0, 1.0));
        }
        found.p = Some(plain.asymptotic.p);
        found.departure = plain.departure;
    }
    let exact = TestResult {
        method: if plain.exact.draws.is_some() { TestName::DrawnTrend } else { TestName::ExactTrend },
        statistic: Some(plain.exact.statistic),
        df: None,
        error_df: None,
        p: plain.exact.p,
    };
    for test in [plain.asymptotic, exact] {
        found.tests.push(TrendTest { counts: "cuttings".to_owned(), test });
    }
    Ok(())
}
