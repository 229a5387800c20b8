//! Two levels of a treatment compared, tray by tray where trays are recorded.

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, MadeWith};
use crate::compare::arms::{Arms, gather};
use crate::compare::carried::Carried;
use crate::compare::changing::Changing;
use crate::compare::effective_strata::EffectiveStrata;
use crate::compare::outcomes::BesideDifference;
use crate::compare::permutation::{MOST_DEALT, Randomisation, Stratum, randomisation_test};
use crate::compare::trays::{TrayTest, stratified_t, welch_t};
use crate::compare::verdict;
use crate::control::Control;
use crate::counts::two_rates::{
    DifferenceMethod, OddsRatioMethod, RatioMethod, difference, odds_ratio, ratio, score_test,
};
use crate::counts::{ContingencyTable, fisher};
use crate::error::{ChoiceError, CountError, Result};
use crate::estimate::{Count, TestResult, check_level};
use crate::math::distributions::student_t;
use crate::rates::{Arm, TakeRate, TraySpread, TraysUse};
use crate::report::{Spoken, cautions};
use crate::trial::{Factor, Outcome, UnitKind, Units, with_earlier};

/// Options of [`strengths`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CompareOptions {
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Difference interval for independent cuttings; Miettinen-Nurminen when not given.
    pub method: Option<String>,
    /// Whether trays are counted.
    pub trays: TraysUse,
    /// Levels of other columns to stay within.
    pub at: std::collections::BTreeMap<String, String>,
    /// Difference (a proportion) that would not matter.
    pub margin: Option<f64>,
    /// Seed of drawn randomisations.
    pub seed: u64,
    /// Randomisations drawn when there are too many to enumerate.
    pub randomisations: u64,
    /// The difference that matters, a proportion: by it "no reason to change" and the units asked for are judged.
    ///
    /// 0.10 is ten trees per 100, about what four to six trays of 20 a level can show at all (`tests/calibration/table.md`).
    pub nearly: f64,
    /// How the treatment and its levels are said; by the column's name when not given.
    pub spoken: Option<Spoken>,
    /// What is counted.
    pub outcome: Outcome,
}

impl Default for CompareOptions {
    fn default() -> Self {
        Self {
            confidence: 0.95,
            method: None,
            trays: TraysUse::Auto,
            at: std::collections::BTreeMap::new(),
            margin: None,
            seed: 1,
            randomisations: 99_999,
            nearly: 0.10,
            spoken: None,
            outcome: Outcome::Take,
        }
    }
}

/// Two levels side by side. Differences are second minus first, ratios second over first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// The treatment.
    pub factor: String,
    /// First level.
    pub first: TakeRate,
    /// Second level.
    pub second: TakeRate,
    /// Difference of take rates, a proportion; within `within` when that is not empty.
    pub value: f64,
    /// Its lower limit; `None` when nothing can be said (one unit per arm).
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
    /// Method of the interval.
    pub method: String,
    /// The leading P value, two-sided; `None` when no test is possible.
    pub p: Option<f64>,
    /// What gave it.
    pub test: Option<String>,
    /// Its statistic (t, positive when the second level is higher), with trays.
    pub statistic: Option<f64>,
    /// Degrees of freedom of that t.
    pub df: Option<f64>,
    /// Columns within whose levels the two levels are compared (blocks, whole plots, other treatments), with trays.
    pub within: Vec<String>,
    /// Other treatments and places taken out by least squares, where strata cannot keep them apart.
    #[serde(default)]
    pub adjusted_for: Vec<String>,
    /// Randomisation test, with up to a thousand trays.
    pub randomisation: Option<Randomisation>,
    /// t test on tray rates within the same strata, for the record; it does not decide.
    pub tray_t: Option<TrayTest>,
    /// Welch's t test on tray rates, without strata; for the record.
    pub tray_welch: Option<TrayTest>,
    /// Spread between units of one treatment, places taken out where they are recorded.
    pub spread: Option<TraySpread>,
    /// Ratio of take rates with limits.
    pub ratio: Option<(Option<f64>, f64, f64)>,
    /// Odds ratio with limits; none when all rooted or none rooted.
    pub odds_ratio: Option<(f64, f64, f64)>,
    /// Tests that treat cuttings as independent, when no tray is counted.
    pub pooled_tests: Vec<TestResult>,
    /// "tray", the whole plot's column name, or "cutting".
    pub unit: String,
    /// Why no test is given, when it is withheld.
    pub withheld: Option<String>,
    /// Margin asked for.
    pub margin: Option<f64>,
    /// Whether the other treatments are mixed alike in both arms.
    pub same_mix: bool,
    /// The other outcomes, where deaths are recorded.
    #[serde(default)]
    pub beside: Vec<BesideDifference>,
    /// The units that carry the comparison, where units are counted.
    #[serde(default)]
    pub carried: Option<Carried>,
    /// What the difference is judged by: the unit, and places or plants that cross it and add to its error.
    #[serde(default)]
    pub judged_by: Vec<String>,
    /// The season or block over which the levels follow one another without overlap: dates were not dealt out.
    #[serde(default)]
    pub follows_time: Option<String>,
    /// What is counted.
    #[serde(default)]
    pub outcome: Outcome,
    /// Whether the difference changes with other treatments, where that was asked ([`crate::compare::outcomes()`]).
    #[serde(default)]
    pub changing: Vec<Changing>,
}

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
    // A method that plays no part must still be one.
    let asked: Option<DifferenceMethod> = options.method.as_deref().map(str::parse).transpose()?;
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
    if let (Some(method), true) = (asked, counted) {
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
        })
    };
    Ok(Comparison {
        factor: treatment.name.clone(),
        first: rate(codes.0, &arms.first)?,
        second: rate(codes.1, &arms.second)?,
        value: arms.second.rate() - arms.first.rate(),
        low: None,
        high: None,
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

pub(crate) fn column<'a>(units: &'a Units, name: &str) -> Result<&'a Factor> {
    units.factor(name).ok_or_else(|| {
        let known: Vec<&str> = units.treatments.iter().map(|one| one.name.as_str()).collect();
        ChoiceError::new("column", name, &known).into()
    })
}

/// The code of a level given as text; numbers match by value, so `2500` finds `2500.0`.
pub(crate) fn code_of(factor: &Factor, level: &str) -> Result<u32> {
    let by_name = factor.levels.iter().position(|known| known == level);
    let number: Option<f64> = level.trim().parse().ok();
    let by_number = || factor.numbers.as_ref().and_then(|all| all.iter().position(|known| Some(*known) == number));
    let at = by_name.or_else(by_number).and_then(|at| u32::try_from(at).ok());
    at.ok_or_else(|| ChoiceError::new(&format!("level of {}", factor.name), level, &factor.levels).into())
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
        }
    } else if let Some(spread) = &arms.rate_spread {
        let one = |arm: &Arm| crate::rates::tray_interval(arm, spread, level);
        (found.first.low, found.first.high) = one(&arms.first)?;
        (found.second.low, found.second.high) = one(&arms.second)?;
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
    let (low, high) = strata.difference_limits(critical)?;
    (found.low, found.high) = (Some(low), Some(high));
    found.p = Some(strata.p_value());
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
    let chosen: DifferenceMethod = options.method.as_deref().unwrap_or("miettinen-nurminen").parse()?;
    let gap = difference(first, second, chosen, level)?;
    (found.low, found.high) = (Some(gap.low), Some(gap.high));
    found.method = gap.method;
    let times = ratio(first, second, RatioMethod::Koopman, level)?;
    found.ratio = Some((times.value, times.low, times.high));
    found.odds_ratio = odds_ratio(first, second, OddsRatioMethod::Score, level)
        .ok()
        .and_then(|odds| odds.value.map(|value| (value, odds.low, odds.high)));
    for (rate, count) in [(&mut found.first, first), (&mut found.second, second)] {
        let own = crate::rates::interval(count, crate::rates::IntervalMethod::Wilson, level)?;
        (rate.low, rate.high) = (own.low, own.high);
    }
    let table = vec![vec![first.rooted, first.not_rooted()], vec![second.rooted, second.not_rooted()]];
    if let Ok(table) = ContingencyTable::new(table) {
        let exact = fisher(&table)?;
        found.p = Some(exact.p);
        found.test = Some("Fisher exact".to_owned());
        found.pooled_tests.push(score_test(first, second)?);
        found.pooled_tests.push(TestResult {
            method: "fisher".to_owned(),
            statistic: None,
            df: None,
            error_df: None,
            p: exact.p,
        });
    }
    Ok(())
}
