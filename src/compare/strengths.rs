//! Two levels of a treatment compared, tray by tray where trays are recorded.

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, Provenance};
use crate::compare::permutation::{Randomisation, Stratum, randomisation_test};
use crate::compare::trays::{TrayTest, stratified_t, tray_difference, welch_t};
use crate::compare::two_rates::{
    DifferenceMethod, OddsRatioMethod, RatioMethod, difference, odds_ratio, ratio, score_test,
};
use crate::compare::verdict;
use crate::control::Control;
use crate::error::{ChoiceError, CountError, Result};
use crate::estimate::{Count, TestResult, check_level};
use crate::rates::{Arm, TakeRate, TraySpread, TraysUse, tray_spread};
use crate::tables::{ContingencyTable, fisher};
use crate::trial::{Factor, UnitKind, Units};

/// Options of [`strengths`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CompareOptions {
    /// Confidence level, a proportion.
    pub level: f64,
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
    /// The treatment is a hormone strength: show the chemical caution.
    pub chemical: bool,
}

impl Default for CompareOptions {
    fn default() -> Self {
        Self {
            level: 0.95,
            method: None,
            trays: TraysUse::Auto,
            at: Default::default(),
            margin: None,
            seed: 1,
            randomisations: 99_999,
            chemical: false,
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
    /// Difference of take rates, a proportion.
    pub value: f64,
    /// Its lower limit; `None` when nothing can be said (one unit per arm).
    pub conf_low: Option<f64>,
    /// Its upper limit.
    pub conf_high: Option<f64>,
    /// Confidence level.
    pub level: f64,
    /// Method of the interval.
    pub method: String,
    /// The leading P value, two-sided; `None` when no test is possible.
    pub p_value: Option<f64>,
    /// What gave it.
    pub test: Option<String>,
    /// Randomisation test, with trays.
    pub randomisation: Option<Randomisation>,
    /// t test on tray rates with pooled variance.
    pub tray_t: Option<TrayTest>,
    /// Welch's t test on tray rates.
    pub tray_welch: Option<TrayTest>,
    /// Spread between units of one treatment.
    pub spread: Option<TraySpread>,
    /// Ratio of take rates with limits (cuttings as independent), when no tray is counted.
    pub ratio: Option<(Option<f64>, f64, f64)>,
    /// Odds ratio with limits (cuttings as independent), when no tray is counted.
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
}

/// The two arms, ready to compare.
struct Arms {
    first: Arm,
    second: Arm,
    strata: Vec<Stratum>,
    spread: Option<TraySpread>,
    unit: String,
    same_mix: bool,
    withheld: Option<String>,
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
    let level = check_level(options.level)?;
    if let Some(value) = options.margin.filter(|margin| !(*margin > 0.0 && *margin < 1.0)) {
        return Err(CountError::OutOfRange { name: "margin", value, low: 0.0, high: 1.0 }.into());
    }
    let treatment = column(units, factor)?;
    let codes = (code_of(treatment, first)?, code_of(treatment, second)?);
    let arms = gather(units, treatment, codes, options)?;
    let rate = |code: u32, arm: &Arm| -> Result<TakeRate> {
        let count = Count::new(arm.rooted.iter().sum(), arm.stuck.iter().sum())?;
        let name = treatment.levels.get(code as usize).cloned().unwrap_or_default();
        Ok(TakeRate {
            levels: vec![name],
            value: count.rate(),
            conf_low: 0.0,
            conf_high: 1.0,
            rooted: count.rooted,
            stuck: count.stuck,
            n_units: arm.stuck.len() as u64,
        })
    };
    let mut found = Comparison {
        factor: treatment.name.clone(),
        first: rate(codes.0, &arms.first)?,
        second: rate(codes.1, &arms.second)?,
        value: arms.second.rate() - arms.first.rate(),
        conf_low: None,
        conf_high: None,
        level,
        method: String::new(),
        p_value: None,
        test: None,
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
    };
    if units.kind == UnitKind::Tray && options.trays == TraysUse::Auto {
        by_units(&mut found, &arms, options, control)?;
    } else {
        by_cuttings(&mut found, options)?;
    }
    let provenance = Provenance {
        seed: found.randomisation.as_ref().and_then(|test| test.drawn).map(|_| options.seed),
        ..Provenance::new(&record(&found, options))
    };
    Ok(verdict::answer(found, units, options, provenance))
}

fn record<'a>(found: &Comparison, options: &CompareOptions) -> Vec<(&'a str, String)> {
    let at: Vec<String> = options.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    vec![
        ("factor", found.factor.clone()),
        ("levels", format!("{} and {}", found.first.levels.join(""), found.second.levels.join(""))),
        ("at", at.join(", ")),
        ("level", found.level.to_string()),
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

fn gather(units: &Units, treatment: &Factor, codes: (u32, u32), options: &CompareOptions) -> Result<Arms> {
    let mut kept: Vec<usize> = (0..units.len()).collect();
    for (name, value) in &options.at {
        let other = column(units, name)?;
        let code = code_of(other, value)?;
        kept.retain(|unit| other.codes.get(*unit) == Some(&code));
    }
    let whole_plot = units.whole_plot.as_ref().filter(|place| constant_within(treatment, place));
    let groups = grouped(units, whole_plot);
    let own = |group: &&Group| group.members.iter().any(|unit| kept.contains(unit));
    let used: Vec<&Group> = groups.iter().filter(own).collect();
    let arm = |code: u32| -> Arm {
        let chosen = used.iter().filter(|group| treatment.codes.get(group.lead()) == Some(&code));
        let (rooted, stuck) = chosen.map(|group| group.counts(units, &kept)).unzip();
        Arm { rooted, stuck }
    };
    let (first, second) = (arm(codes.0), arm(codes.1));
    for (arm, code) in [(&first, codes.0), (&second, codes.1)] {
        if arm.stuck.is_empty() {
            let name = treatment.levels.get(code as usize).cloned().unwrap_or_default();
            return Err(
                CountError::TooFewTrays { name: format!("{} {name}", treatment.name), found: 0, needed: 1 }.into()
            );
        }
    }
    let others: Vec<&Factor> = units
        .treatments
        .iter()
        .filter(|one| one.name != treatment.name && whole_plot.is_none_or(|place| constant_within(one, place)))
        .collect();
    let mut strata_factors: Vec<&Factor> = others.clone();
    strata_factors.extend(&units.block);
    let strata = strata(units, &used, treatment, codes, &strata_factors, &kept);
    let all_factors: Vec<&Factor> = std::iter::once(treatment).chain(others.iter().copied()).collect();
    let mut by_cell: std::collections::BTreeMap<Vec<u32>, Arm> = Default::default();
    for group in &groups {
        let key = all_factors.iter().filter_map(|one| one.codes.get(group.lead()).copied()).collect();
        let (rooted, stuck) = group.counts(units, &group.members);
        let arm = by_cell.entry(key).or_default();
        arm.rooted.push(rooted);
        arm.stuck.push(stuck);
    }
    let spread = tray_spread(&by_cell.into_values().collect::<Vec<_>>());
    let withheld = whole_plot.filter(|_| first.stuck.len() == 1 && second.stuck.len() == 1).map(|place| {
        format!(
            "each of the two levels of {} was in a single {}, so the difference may just as well be one between places",
            treatment.name, place.name
        )
    });
    let unit = whole_plot.map_or_else(|| "tray".to_owned(), |place| place.name.clone());
    Ok(Arms { same_mix: same_mix(units, &kept, treatment, codes), first, second, strata, spread, unit, withheld })
}

/// A tray, or a whole plot when the treatment was given to whole plots.
pub(crate) struct Group {
    pub(crate) members: Vec<usize>,
}

impl Group {
    pub(crate) fn lead(&self) -> usize {
        self.members.first().copied().unwrap_or(usize::MAX)
    }

    pub(crate) fn counts(&self, units: &Units, kept: &[usize]) -> (u64, u64) {
        let inside = self.members.iter().filter(|unit| kept.binary_search(unit).is_ok());
        inside
            .filter_map(|unit| units.count(*unit))
            .fold((0, 0), |sum, count| (sum.0 + count.rooted, sum.1 + count.stuck))
    }
}

pub(crate) fn grouped(units: &Units, whole_plot: Option<&Factor>) -> Vec<Group> {
    match whole_plot {
        None => (0..units.len()).map(|unit| Group { members: vec![unit] }).collect(),
        Some(place) => {
            let mut found: std::collections::BTreeMap<u32, Vec<usize>> = Default::default();
            for (unit, code) in place.codes.iter().enumerate() {
                found.entry(*code).or_default().push(unit);
            }
            found.into_values().map(|members| Group { members }).collect()
        }
    }
}

pub(crate) fn constant_within(inner: &Factor, outer: &Factor) -> bool {
    let mut seen: std::collections::BTreeMap<u32, u32> = Default::default();
    inner.codes.iter().zip(&outer.codes).all(|(inner, outer)| seen.entry(*outer).or_insert(*inner) == inner)
}

fn strata(
    units: &Units,
    used: &[&Group],
    treatment: &Factor,
    codes: (u32, u32),
    by: &[&Factor],
    kept: &[usize],
) -> Vec<Stratum> {
    let mut found: std::collections::BTreeMap<Vec<u32>, Stratum> = Default::default();
    for group in used {
        let Some(code) = treatment.codes.get(group.lead()).filter(|code| **code == codes.0 || **code == codes.1) else {
            continue;
        };
        let key = by.iter().filter_map(|one| one.codes.get(group.lead()).copied()).collect();
        let (rooted, stuck) = group.counts(units, kept);
        let stratum = found.entry(key).or_insert_with(|| Stratum { rates: Vec::new(), second: Vec::new() });
        stratum.rates.push(rooted as f64 / stuck as f64);
        stratum.second.push(*code == codes.1);
    }
    found.into_values().collect()
}

/// True when every combination of the other treatments has the same share of cuttings in both arms.
fn same_mix(units: &Units, kept: &[usize], treatment: &Factor, codes: (u32, u32)) -> bool {
    let others: Vec<&Factor> = units.treatments.iter().filter(|one| one.name != treatment.name).collect();
    let mut shares: std::collections::BTreeMap<Vec<u32>, (f64, f64)> = Default::default();
    let mut totals = (0.0, 0.0);
    for unit in kept {
        let key = others.iter().filter_map(|one| one.codes.get(*unit).copied()).collect();
        let stuck = units.stuck.get(*unit).map_or(0.0, |stuck| *stuck as f64);
        let share = shares.entry(key).or_default();
        if treatment.codes.get(*unit) == Some(&codes.0) {
            share.0 += stuck;
            totals.0 += stuck;
        } else if treatment.codes.get(*unit) == Some(&codes.1) {
            share.1 += stuck;
            totals.1 += stuck;
        }
    }
    shares.values().all(|(first, second)| (first / totals.0 - second / totals.1).abs() < 0.02)
}

fn by_units(found: &mut Comparison, arms: &Arms, options: &CompareOptions, control: &Control) -> Result<()> {
    let level = found.level;
    "newcombe on effective cuttings, t on trays".clone_into(&mut found.method);
    if arms.withheld.is_some() {
        return Ok(());
    }
    if let Some(spread) = &arms.spread {
        let (low, high) = tray_difference(&arms.first, &arms.second, spread, level)?;
        (found.conf_low, found.conf_high) = (Some(low), Some(high));
        let one = |arm: &Arm| crate::rates::tray_interval(arm, spread, level);
        (found.first.conf_low, found.first.conf_high) = one(&arms.first)?;
        (found.second.conf_low, found.second.conf_high) = one(&arms.second)?;
    }
    let (first, second) = (arms.first.tray_rates(), arms.second.tray_rates());
    if first.len() + second.len() > 2 {
        found.tray_t = stratified_t(&arms.strata, level);
        let free = arms.strata.len() == 1 && first.len() > 1 && second.len() > 1;
        found.tray_welch = if free { welch_t(&first, &second, level) } else { None };
        found.randomisation = Some(randomisation_test(&arms.strata, options.seed, options.randomisations, control)?);
        lead(found, arms);
    }
    Ok(())
}

/// The t test on trays leads: of the tests tried it alone keeps its false-alarm rate near 5 % (`tests/calibration/table.md`).
/// Where trays do not differ at all there is no t, and the randomisation test leads. With blocks the limits are those of t
/// within blocks, so that interval and test agree.
fn lead(found: &mut Comparison, arms: &Arms) {
    if let Some(test) = found.tray_t {
        found.p_value = Some(test.p_value);
        found.test = Some("t on trays".to_owned());
        if arms.strata.len() > 1 && found.same_mix {
            found.conf_low = Some(test.conf_low.max(-1.0).min(found.value));
            found.conf_high = Some(test.conf_high.min(1.0).max(found.value));
            "t on trays within blocks".clone_into(&mut found.method);
        }
    } else if let Some(test) = found.randomisation.as_ref().filter(|test| test.assignments > 1.0) {
        found.p_value = Some(test.p_value);
        found.test = Some("randomisation".to_owned());
    }
}

fn by_cuttings(found: &mut Comparison, options: &CompareOptions) -> Result<()> {
    let level = found.level;
    "cutting".clone_into(&mut found.unit);
    found.withheld = None;
    found.spread = None;
    let count = |rate: &TakeRate| Count { rooted: rate.rooted, stuck: rate.stuck };
    let (first, second) = (count(&found.first), count(&found.second));
    let chosen: DifferenceMethod = options.method.as_deref().unwrap_or("miettinen-nurminen").parse()?;
    let gap = difference(second, first, chosen, level)?;
    (found.conf_low, found.conf_high) = (Some(gap.conf_low), Some(gap.conf_high));
    found.method = gap.method;
    let times = ratio(second, first, RatioMethod::Koopman, level)?;
    found.ratio = Some((times.value, times.conf_low, times.conf_high));
    found.odds_ratio = odds_ratio(second, first, OddsRatioMethod::Score, level)
        .ok()
        .map(|odds| (odds.value, odds.conf_low, odds.conf_high));
    for (rate, count) in [(&mut found.first, first), (&mut found.second, second)] {
        let own = crate::rates::interval(count, crate::rates::IntervalMethod::Wilson, level)?;
        (rate.conf_low, rate.conf_high) = (own.conf_low, own.conf_high);
    }
    let table = vec![vec![first.rooted, first.not_rooted()], vec![second.rooted, second.not_rooted()]];
    if let Ok(table) = ContingencyTable::new(table) {
        let exact = fisher(&table)?;
        found.p_value = Some(exact.p_value);
        found.test = Some("Fisher exact".to_owned());
        found.pooled_tests.push(score_test(first, second)?);
        found.pooled_tests.push(TestResult {
            method: "fisher".to_owned(),
            statistic: None,
            dof: None,
            dof_denominator: None,
            p_value: exact.p_value,
        });
    }
    Ok(())
}
