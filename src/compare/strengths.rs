//! Two levels of a treatment compared, tray by tray where trays are recorded.

use crate::answer::{Answer, MadeWith};
use crate::compare::arms::{Arms, gather};
use crate::compare::effective_strata::EffectiveStrata;
use crate::compare::named::{code_of, column};
use crate::compare::numbers::{CompareOptions, Comparison};
use crate::compare::permutation::{MOST_DEALT, Stratum, randomisation_test};
use crate::compare::trays::{stratified_t, welch_t};
use crate::compare::verdict;
use crate::control::Control;
use crate::counts::two_rates::{
    DifferenceMethod, OddsRatioMethod, RatioMethod, difference, odds_ratio, ratio, score_test,
};
use crate::counts::{ContingencyTable, fisher};
use crate::error::{CountError, Result};
use crate::estimate::{Count, TestName, TestResult, check_level};
use crate::math::distributions::student_t;
use crate::rates::{Arm, TakeRate, TraysUse, standard_error};
use crate::report::cautions;
use crate::trial::{Factor, UnitKind, Units, with_earlier};

/// Compares two levels of `factor`.
///
/// # Errors
/// A choice error for an unknown column or level, a count error for a level or margin outside its range,
/// [`crate::Error::Interrupted`] when stopped.
pub fn strengths(
    units: &Units,
    factor: &str,
    first: &str,
    second: &str,
    options: &CompareOptions,
    control: &Control,
) -> Result<Answer<Comparison>> {
    let level = check_level(options.confidence)?;
    if let Some(value) = options.margin.filter(|margin| !(*margin > 0.0 && *margin < 1.0)) {
        return Err(CountError::OutOfRange { name: "margin", value, low: 0.0, high: 1.0 }.into());
    }
    if !(options.nearly > 0.0 && options.nearly < 1.0) {
        return Err(CountError::OutOfRange { name: "nearly", value: options.nearly, low: 0.0, high: 1.0 }.into());
    }
    let treatment = column(units, factor)?;
    let codes = (code_of(treatment, first)?, code_of(treatment, second)?);
    let arms = gather(units, treatment, codes, options)?;
    let mut found = side_by_side(treatment, codes, &arms, (options, level))?;
    if units.kind == UnitKind::Tray && options.trays == TraysUse::Auto {
        by_units(&mut found, &arms, options, control)?;
    } else {
        by_cuttings(&mut found, options)?;
    }
    let record = MadeWith::new(&record(&found, options)).about(options.outcome);
    let made_with =
        MadeWith { seed: found.randomisation.as_ref().and_then(|test| test.drawn).map(|_| options.seed), ..record };
    let counted = found.spread.is_some();
    let mut answer = verdict::answer(found, units, options, made_with);
    if let (Some(method), true) = (options.method, counted) {
        answer.notes.push(cautions::method_unused(method.name()));
    }
    Ok(if counted { with_earlier(answer, units) } else { answer })
}

/// The two rates side by side, before anything is judged.
fn side_by_side(
    treatment: &Factor,
    codes: (u32, u32),
    arms: &Arms,
    (options, level): (&CompareOptions, f64),
) -> Result<Comparison> {
    let rate = |code: u32, arm: &Arm| -> Result<TakeRate> {
        let count = Count::new(arm.rooted.iter().sum(), arm.stuck.iter().sum())?;
        let name = treatment.levels.get(code as usize).cloned().unwrap_or_default();
        Ok(TakeRate {
            levels: vec![name],
            value: count.rate(),
            low: 0.0,
            high: 1.0,
            rooted: count.rooted,
            stuck: count.stuck,
            n_units: arm.stuck.len() as u64,
            se: None,
        })
    };
    Ok(Comparison {
        factor: treatment.name.clone(),
        first: rate(codes.0, &arms.first)?,
        second: rate(codes.1, &arms.second)?,
        value: arms.second.rate() - arms.first.rate(),
        low: None,
        high: None,
        se: None,
        confidence: level,
        method: String::new(),
        p: None,
        test: None,
        statistic: None,
        df: None,
        within: Vec::new(),
        adjusted_for: Vec::new(),
        randomisation: None,
        tray_t: None,
        tray_welch: None,
        spread: arms.spread,
        ratio: None,
        odds_ratio: None,
        pooled_tests: Vec::new(),
        unit: arms.unit.clone(),
        withheld: arms.withheld.clone(),
        margin: options.margin,
        same_mix: arms.same_mix,
        beside: Vec::new(),
        carried: None,
        judged_by: Vec::new(),
        follows_time: arms.follows_time.clone(),
        outcome: options.outcome,
        changing: Vec::new(),
    })
}

fn record<'a>(found: &Comparison, options: &CompareOptions) -> Vec<(&'a str, String)> {
    let at: Vec<String> = options.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    vec![
        ("factor", found.factor.clone()),
        ("levels", format!("{} and {}", found.first.levels.join(""), found.second.levels.join(""))),
        ("at", at.join(", ")),
        ("confidence", found.confidence.to_string()),
        ("method", found.method.clone()),
        ("trays", format!("{:?}", options.trays).to_lowercase()),
    ]
}

fn by_units(found: &mut Comparison, arms: &Arms, options: &CompareOptions, control: &Control) -> Result<()> {
    let level = found.confidence;
    "score on effective cuttings, t on trays".clone_into(&mut found.method);
    found.carried = Some(arms.carried.clone());
    found.judged_by.clone_from(&arms.judged_by);
    if let Some(over) = &arms.over {
        for (rate, members) in [&mut found.first, &mut found.second].into_iter().zip(&arms.members) {
            let held = over.interval(members, level)?;
            (rate.low, rate.high) = (held.low, held.high);
            rate.se = standard_error(rate.value, held.effective);
        }
    } else if let Some(spread) = &arms.rate_spread {
        let one = |arm: &Arm| crate::rates::tray_interval(arm, spread, level);
        (found.first.low, found.first.high) = one(&arms.first)?;
        (found.second.low, found.second.high) = one(&arms.second)?;
        for (rate, arm) in [(&mut found.first, &arms.first), (&mut found.second, &arms.second)] {
            rate.se = standard_error(rate.value, spread.effective_cuttings(arm));
        }
    }
    if arms.withheld.is_some() {
        return Ok(());
    }
    if let Some(strata) = arms.score() {
        score(found, arms, &strata)?;
    }
    let strata: Vec<Stratum> = arms.strata.iter().map(dealt).collect();
    // Dealing out rates that differ by what else the units hold would take one for the other.
    if arms.adjusted.is_none() && strata.iter().any(|one| one.rates.len() > 1) && found.p.is_some() {
        found.tray_t = stratified_t(&strata, level);
        let (first, second) = (arms.first.tray_rates(), arms.second.tray_rates());
        let free = strata.len() == 1 && first.len() > 1 && second.len() > 1;
        found.tray_welch = if free { welch_t(&first, &second, level) } else { None };
        if first.len() + second.len() <= MOST_DEALT {
            found.randomisation = Some(randomisation_test(&strata, options.seed, options.randomisations, control)?);
        }
    }
    Ok(())
}

/// Interval and P value by one score statistic, so that the interval leaves out no difference exactly where P is below
/// 1 - level. Its false alarms and coverage: `tests/calibration/table.md`.
fn score(found: &mut Comparison, arms: &Arms, strata: &EffectiveStrata) -> Result<()> {
    let critical = student_t::quantile(f64::midpoint(1.0, found.confidence), strata.df());
    found.value = strata.difference();
    found.se = strata.standard_error();
    let (low, high) = strata.difference_limits(critical)?;
    (found.low, found.high) = (Some(low), Some(high));
    found.p = Some(strata.p());
    found.statistic = Some(strata.statistic());
    found.df = Some(strata.df());
    found.test = Some("score on effective cuttings".to_owned());
    match &arms.adjusted {
        Some(adjusted) => found.adjusted_for.clone_from(&adjusted.beside),
        None => found.within.clone_from(&arms.within),
    }
    let (low, high) = strata.ratio_limits(critical)?;
    found.ratio = Some((strata.ratio(), low, high));
    if let Some(value) = strata.odds_ratio() {
        let (low, high) = strata.odds_ratio_limits(critical)?;
        found.odds_ratio = Some((value, low, high));
    }
    Ok(())
}

/// A stratum as the randomisation deals it: tray rates, and which trays are of the second arm.
fn dealt((first, second): &(Arm, Arm)) -> Stratum {
    let (rates, others) = (first.tray_rates(), second.tray_rates());
    let labels = rates.iter().map(|_| false).chain(others.iter().map(|_| true)).collect();
    Stratum { rates: [rates, others].concat(), second: labels }
}

fn by_cuttings(found: &mut Comparison, options: &CompareOptions) -> Result<()> {
    let level = found.confidence;
    "cutting".clone_into(&mut found.unit);
    found.withheld = None;
    found.spread = None;
    let count = |rate: &TakeRate| Count { rooted: rate.rooted, stuck: rate.stuck };
    let (first, second) = (count(&found.first), count(&found.second));
    let chosen: DifferenceMethod = options.method.unwrap_or(DifferenceMethod::MiettinenNurminen);
    let gap = difference(first, second, chosen, level)?;
    (found.low, found.high) = (Some(gap.low), Some(gap.high));
    gap.method.name().clone_into(&mut found.method);
    let times = ratio(first, second, RatioMethod::Koopman, level)?;
    found.ratio = Some((times.value, times.low, times.high));
    found.odds_ratio = odds_ratio(first, second, OddsRatioMethod::Score, level)
        .ok()
        .and_then(|odds| odds.value.map(|value| (value, odds.low, odds.high)));
    for (rate, count) in [(&mut found.first, first), (&mut found.second, second)] {
        let own = crate::rates::interval(count, crate::rates::IntervalMethod::Wilson, level)?;
        (rate.low, rate.high) = (own.low, own.high);
        rate.se = standard_error(rate.value, rate.stuck as f64);
    }
    found.se = found.first.se.zip(found.second.se).map(|(first, second)| first.hypot(second));
    let table = vec![vec![first.rooted, first.not_rooted()], vec![second.rooted, second.not_rooted()]];
    if let Ok(table) = ContingencyTable::new(table) {
        let exact = fisher(&table)?;
        found.p = Some(exact.p);
        found.test = Some("Fisher exact".to_owned());
        found.pooled_tests.push(score_test(first, second)?);
        found.pooled_tests.push(TestResult {
            method: TestName::Fisher,
            statistic: None,
            df: None,
            error_df: None,
            p: exact.p,
        });
    }
    Ok(())
}
