//! Tests of a treatment against rooting that count trays, or whole plots where the treatment was given to those.

use std::collections::BTreeMap;

use super::numbers::AssociationMethod;
use super::numbers::AssociationOptions;
use crate::compare::{
    Carried, MOST_DEALT, SeveralRandomisation, TrayRateTest, TreatmentStratum, Uneven, randomisation_test_of_several,
    tray_rate_test,
};
use crate::control::Control;
use crate::error::{CountError, Result};
use crate::estimate::{TestName, TestResult};
use crate::rates::{Arm, FromEarlier, Told, TraySpread, tray_spread, tray_spread_told};
use crate::tables::clustered::{donner_chi_square, judged_by_f, rao_scott, rao_scott_orders};
use crate::tables::crossed::{Crossed, Lying};
use crate::trial::{Factor, Layout, Units};

/// What was randomised for one treatment, and how much it spreads.
pub(super) struct Randomised {
    /// "tray" or the whole plot's column.
    pub(super) unit: String,
    groups: Vec<Vec<usize>>,
    /// Columns within which units are dealt anew: other treatments and the places that hold several levels.
    strata: Vec<Factor>,
    /// Spread between units of one treatment; `None` when no treatment has two.
    pub(super) spread: Option<TraySpread>,
    /// What earlier trials do to the mean square between units, places taken out.
    told: Option<Told>,
    /// Why no test is given, when place and treatment cannot be told apart.
    pub(super) withheld: Option<String>,
    /// What crosses the units.
    pub(super) crossed: Crossed,
}

/// The tests of one stratum.
#[derive(Default)]
pub(super) struct TrayTests {
    pub(super) tests: Vec<TestResult>,
    pub(super) randomisation: Option<SeveralRandomisation>,
    /// Why there is none.
    pub(super) reason: Option<String>,
    /// The units that carry them.
    pub(super) carried: Option<Carried>,
    /// True where what crosses the units is in the error of the test on tray rates.
    pub(super) crossed: bool,
    /// What lies unevenly over the levels and is taken out of the test on tray rates.
    pub(super) adjusted_for: Vec<String>,
}

/// The method asked for, checked, or the default.
pub(super) fn chosen(options: &AssociationOptions, two: bool) -> Result<TestName> {
    let default = if two { AssociationMethod::Score } else { AssociationMethod::TrayRates };
    match options.method.unwrap_or(default) {
        AssociationMethod::Score if !two => Err(CountError::NotDefined {
            what: "the score test of an association",
            why: "it is for two levels and there are more; leave the method out, or compare two levels by name",
        }
        .into()),
        known => Ok(known.into()),
    }
}

fn codes(units: &Units, group: &[usize], factors: &[&Factor]) -> (Vec<u32>, u64, u64) {
    let lead = group.first().copied().unwrap_or(usize::MAX);
    let key = factors.iter().filter_map(|factor| factor.codes.get(lead).copied()).collect();
    let counts = group.iter().filter_map(|unit| units.count(*unit));
    let (rooted, stuck) = counts.fold((0, 0), |sum, one| (sum.0 + one.rooted, sum.1 + one.stuck));
    (key, rooted, stuck)
}

fn arms(units: &Units, groups: &[Vec<usize>], factors: &[&Factor]) -> Vec<Arm> {
    let mut found: BTreeMap<Vec<u32>, Arm> = BTreeMap::new();
    for (key, rooted, stuck) in groups.iter().map(|group| codes(units, group, factors)).filter(|one| one.2 > 0) {
        let arm = found.entry(key).or_default();
        arm.rooted.push(rooted);
        arm.stuck.push(stuck);
    }
    found.into_values().collect()
}

/// What earlier trials do to the mean square between units of one treatment in one place.
pub(in crate::tables) fn told(
    units: &Units,
    (unit, groups): (&str, &[Vec<usize>]),
    factors: &[&Factor],
    places: &[&Factor],
) -> Option<Told> {
    let earlier = FromEarlier::of(units, unit)?;
    let mut found: BTreeMap<Vec<u32>, (Arm, Vec<u32>)> = BTreeMap::new();
    let mut known: BTreeMap<Vec<u32>, u32> = BTreeMap::new();
    for group in groups {
        let (key, rooted, stuck) = codes(units, group, factors);
        let (place, ..) = codes(units, group, places);
        if stuck > 0 {
            let next = known.len() as u32;
            let place = *known.entry(place).or_insert(next);
            let (arm, own) = found.entry(key).or_default();
            arm.rooted.push(rooted);
            arm.stuck.push(stuck);
            own.push(place);
        }
    }
    let (arms, own): (Vec<Arm>, Vec<Vec<u32>>) = found.into_values().unzip();
    tray_spread_told(&arms, &own, Some(earlier))?.1
}

/// F on tray rates with a P value of it.
fn by_rates(method: TestName, rates: &TrayRateTest, p: f64) -> TestResult {
    TestResult {
        method,
        statistic: Some(rates.statistic).filter(|value| value.is_finite()),
        df: Some(rates.df),
        error_df: Some(rates.error_df),
        p,
    }
}

impl Randomised {
    pub(super) fn new(units: &Units, treatment: &Factor) -> Self {
        let everything: Vec<usize> = (0..units.len()).collect();
        let layout = Layout::of(units, treatment, &everything);
        let crossed = Crossed::of(units, &layout);
        let Layout { unit, place, groups, places, others, .. } = layout;
        let groups: Vec<Vec<usize>> = groups.iter().map(<[usize]>::to_vec).collect();
        let combined: Vec<&Factor> = std::iter::once(treatment).chain(others.iter().copied()).collect();
        let spread = tray_spread(&arms(units, &groups, &combined));
        let told = told(units, (&unit, &groups), &combined, &places);
        let withheld = place.filter(|_| spread.is_none()).map(|place| {
            format!(
                "each level of {} was in a single {}, so a difference may just as well be one between places",
                treatment.name, place.name
            )
        });
        let strata = others.into_iter().chain(places).cloned().collect();
        Self { unit, groups, strata, spread, told, withheld, crossed }
    }

    /// All tests of the treatment among `members`; the randomisation test when it leads or the trays are not too many.
    pub(super) fn tests(
        &self,
        units: &Units,
        treatment: &Factor,
        members: &[usize],
        (options, lead): (&AssociationOptions, TestName),
        control: &Control,
    ) -> Result<TrayTests> {
        let inside = |group: &Vec<usize>| -> Vec<usize> {
            group.iter().filter(|unit| members.binary_search(unit).is_ok()).copied().collect()
        };
        let groups: Vec<Vec<usize>> = self.groups.iter().map(inside).filter(|group| !group.is_empty()).collect();
        let by_treatment = arms(units, &groups, &[treatment]);
        if by_treatment.len() < 2 || self.withheld.is_some() {
            return Ok(TrayTests { reason: self.withheld.clone(), ..TrayTests::default() });
        }
        let by: Vec<&Factor> = self.strata.iter().collect();
        let leads: Vec<usize> = groups.iter().filter_map(|group| group.first().copied()).collect();
        // Other treatments that change within the units, in uneven shares, places across them, or strata that hold one level: all of it
        // is taken out at once.
        let layout = Layout::of(units, treatment, members);
        let uneven = Uneven::of(units, treatment, &layout, members);
        let adjusted = uneven.as_ref().and_then(|one| one.levels(units, treatment, None));
        let fitted = uneven.filter(|_| adjusted.is_some());
        let carried = match &fitted {
            Some(fit) if fit.thin => fit.carried.clone(),
            _ => Carried::count(treatment, &by, &leads),
        };
        let refusal = carried.refusal(&treatment.name, &self.unit);
        let carried = Some(carried);
        let strata = self.strata_of(units, treatment, &groups);
        let mut tests = Vec::new();
        let rates = tray_rate_test(&strata).map(|test| self.told.map_or(test, |told| test.with_error(told)));
        let thin = fitted.as_ref().is_some_and(|fit| fit.thin);
        let nothing = || if thin { None } else { self.nothing_to_go_by(treatment, rates.map(|test| test.error_df)) };
        if let Some(reason) = refusal.or_else(nothing) {
            return Ok(TrayTests { reason: Some(reason), carried, ..TrayTests::default() });
        }
        let lying = Lying { units, groups: &groups, by: &by, treatment };
        let crossed = rates.and_then(|plain| self.crossed.widened(&lying, plain, &[]));
        if layout.parted() && adjusted.is_none() {
            return Ok(TrayTests { reason: self.nothing_to_go_by(treatment, None), carried, ..TrayTests::default() });
        }
        let carried = fitted.as_ref().map(|fit| fit.carried.clone()).or(carried);
        let leading = adjusted.or(crossed).or(rates);
        tests.extend(leading.and_then(|test| Some(by_rates(TestName::TrayRates, &test, test.p?))));
        // The other tests know nothing of what is taken out, and are there only where they are asked for.
        let shown = |name: TestName| adjusted.is_none() || lead == name;
        let asked = lead == TestName::Randomisation || adjusted.is_none() && groups.len() <= MOST_DEALT;
        let draw = (options.seed, options.randomisations);
        let dealt = if asked { randomisation_test_of_several(&strata, draw, control)? } else { None };
        let dealt = dealt.filter(|test| test.assignments > 1.0);
        tests.extend(dealt.as_ref().zip(rates).map(|(test, rates)| by_rates(TestName::Randomisation, &rates, test.p)));
        if let Some(spread) = self.spread {
            let others = donner_chi_square(&by_treatment, &spread)
                .into_iter()
                .chain(rao_scott(&by_treatment))
                .chain(rao_scott_orders(&by_treatment).into_iter().flatten());
            let named = others.map(|test| judged_by_f(test, spread.df)).filter(|test| shown(test.method));
            tests.extend(named);
        }
        let adjusted_for = fitted.map(|one| one.beside).unwrap_or_default();
        let crossed = crossed.is_some() || adjusted.is_some();
        Ok(TrayTests { tests, randomisation: dealt, reason: None, carried, crossed, adjusted_for })
    }

    /// Why the trays of a part cannot tell: no place holds two levels (no degrees of freedom given), or no degree is left.
    fn nothing_to_go_by(&self, treatment: &Factor, df: Option<f64>) -> Option<String> {
        match df {
            None => Some(format!(
                "no place holds two levels of {}, so a difference may just as well be one between places",
                treatment.name
            )),
            Some(df) if df < 1.0 => Some(format!(
                "no level of {} has a second {} beside it, so there is nothing to judge a difference by",
                treatment.name, self.unit
            )),
            Some(_) => None,
        }
    }

    fn strata_of(&self, units: &Units, treatment: &Factor, groups: &[Vec<usize>]) -> Vec<TreatmentStratum> {
        let by: Vec<&Factor> = self.strata.iter().collect();
        let mut found: BTreeMap<Vec<u32>, TreatmentStratum> = BTreeMap::new();
        for group in groups {
            let (key, rooted, stuck) = codes(units, group, &by);
            let Some(code) = group.first().and_then(|unit| treatment.codes.get(*unit)).filter(|_| stuck > 0) else {
                continue;
            };
            let stratum = found.entry(key).or_default();
            stratum.rates.push(rooted as f64 / stuck as f64);
            stratum.treatments.push(*code as usize);
        }
        found.into_values().collect()
    }
}
