//! The association of a trial: which tests are made and which one leads.

use super::numbers::{Association, AssociationOptions, AssociationTest};
use super::tray_tests::{Randomised, chosen};
use super::words;
use crate::answer::Answer;
use crate::compare::{Carried, column, two_level_test};
use crate::control::Control;
use crate::counts::tables::{ContingencyTable, chi_square, fisher};
use crate::counts::{ExactOptions, freeman_halton};
use crate::error::{CountError, Result};
use crate::estimate::{TestName, TestResult};
use crate::rates::{TakeRatesOptions, TraysUse, arm_of, cells, take_rates};
use crate::trial::{Factor, UnitKind, Units, follows_time, with_earlier};

/// Steps of exact work for tables larger than 2 x 2.
const BESIDE_WORK: u64 = 100_000_000;

/// All tests so far, and what the randomisation among them allows.
#[derive(Default)]
struct Found {
    tests: Vec<AssociationTest>,
    smallest_p: Option<f64>,
    se: Option<f64>,
    /// Why there is no test somewhere.
    reason: Option<String>,
    carried: Vec<Carried>,
    /// True where a test was made without what crosses the units.
    plain: bool,
    adjusted_for: Vec<String>,
}

/// Tests whether rooting depends on the levels of `factor`, overall or within each level of another column.
///
/// Two levels make it the question of a comparison, so the test of [`strengths`](crate::compare::strengths) leads: the same P value
/// from either, and withheld where that is (without trays: Fisher's, as there). With more levels and trays the F test on tray rates
/// leads, within other treatments and blocks: in simulated trials without any difference it alarmed in 2 to 5 %, Donner's
/// chi-square judged by F in 0.2 to 5 %, that of Rao and Scott with each treatment's own design effect in up to 20 %
/// (`tests/calibration/association.md`; the comparison's test: `table.md`). Where tray rates do not spread at all the randomisation
/// test leads. A treatment given to whole plots is tested between whole plots.
///
/// # Errors
/// A choice error for an unknown column or method; a count error when the factor has one level, or for the score test of more than
/// two; [`crate::Error::Interrupted`] when stopped.
pub fn association(
    units: &Units,
    factor: &str,
    options: &AssociationOptions,
    control: &Control,
) -> Result<Answer<Association>> {
    let treatment = column(units, factor)?;
    let within = options.within.as_deref().map(|name| column(units, name)).transpose()?;
    if treatment.levels.len() < 2 {
        return Err(CountError::TableTooSmall { rows: treatment.levels.len(), columns: 2 }.into());
    }
    let two = treatment.levels.len() == 2;
    let asked = chosen(options, two)?;
    let counted = units.kind == UnitKind::Tray && options.trays == TraysUse::Auto;
    let randomised = counted.then(|| Randomised::new(units, treatment));
    let mut found = Found::default();
    for (name, members) in parts(units, within) {
        if let Some(randomised) = &randomised {
            found.add_trays(units, treatment, (within, &name, &members), (randomised, options, asked), control)?;
        }
        let plain = by_cuttings(units, treatment, &members, options.seed, control)?;
        found.add("cuttings", name.as_ref(), plain);
    }
    let withheld = found.withheld(two).filter(|_| counted);
    if withheld.is_some() {
        found.tests.retain(|one| one.counts == "cuttings");
    }
    let lead = found.lead(asked, counted, two);
    let wanted = if counted { "trays" } else { "cuttings" };
    let p = found.of(wanted, lead).map(|test| test.p).min_by(f64::total_cmp);
    let by: Vec<String> = within.iter().chain([&treatment]).map(|one| one.name.clone()).collect();
    let names: Vec<&str> = by.iter().map(String::as_str).collect();
    let rates = TakeRatesOptions { trays: options.trays, ..TakeRatesOptions::default() };
    let rates = take_rates(units, &names, &rates)?.numbers.rates;
    let spread = randomised.as_ref().and_then(|one| one.spread).filter(|_| withheld.is_none());
    let judged_by = randomised.as_ref().map(|one| one.crossed.judged_by.clone()).unwrap_or_default();
    // Another test than that on tray rates knows nothing of what crosses the units.
    let plain = found.plain || ![TestName::TrayRates, TestName::Score].contains(&lead);
    let left_out = judged_by.iter().skip(1).filter(|_| plain && withheld.is_none()).cloned().collect();
    let figures = Association {
        factor: treatment.name.clone(),
        p,
        method: lead,
        judged_by,
        left_out,
        adjusted_for: if lead == TestName::TrayRates && withheld.is_none() { found.adjusted_for } else { Vec::new() },
        unit: randomised.map_or_else(|| "cutting".to_owned(), |one| one.unit),
        smallest_p: found.smallest_p.filter(|_| withheld.is_none()),
        se: found.se.filter(|_| withheld.is_none()),
        withheld,
        carried: found.carried,
        follows_time: follows_time(units, treatment),
        tests: found.tests,
        by,
        rates,
    };
    let answer = words::answer(figures, units, options, spread.as_ref());
    Ok(if spread.is_some() { with_earlier(answer, units) } else { answer })
}

/// Everything, or what lies within each level of a column.
fn parts(units: &Units, within: Option<&Factor>) -> Vec<(Option<String>, Vec<usize>)> {
    let everything: Vec<usize> = (0..units.len()).collect();
    let Some(other) = within else { return vec![(None, everything)] };
    let name = |code: u32| other.levels.get(code as usize).cloned();
    let apart = cells(units, &everything, &[other]).into_iter();
    apart.map(|(codes, members)| (codes.first().and_then(|code| name(*code)), members)).collect()
}

impl Found {
    fn add(&mut self, counts: &str, stratum: Option<&String>, tests: Vec<TestResult>) {
        let one = |test| AssociationTest { stratum: stratum.cloned(), counts: counts.to_owned(), test };
        self.tests.extend(tests.into_iter().map(one));
    }

    /// The tests of one part that count trays, the leading one first.
    fn add_trays(
        &mut self,
        units: &Units,
        treatment: &Factor,
        (within, name, members): (Option<&Factor>, &Option<String>, &[usize]),
        (randomised, options, asked): (&Randomised, &AssociationOptions, TestName),
        control: &Control,
    ) -> Result<()> {
        let mut made = randomised.tests(units, treatment, members, (options, asked), control)?;
        if treatment.levels.len() == 2 {
            let at = within.zip(name.as_ref()).map(|(column, level)| (column.name.clone(), level.clone()));
            let compared = two_level_test(units, treatment, at.into_iter().collect())?;
            made.tests.extend(compared.test);
            // In the words of a comparison, which says it too.
            made.reason = compared.reason.or(made.reason);
            made.carried = compared.carried.or(made.carried);
        }
        let two = treatment.levels.len() == 2;
        self.plain |= !two && !made.crossed && made.reason.is_none();
        self.reason = self.reason.take().or(made.reason.take());
        if !two {
            made.adjusted_for.retain(|one| !self.adjusted_for.contains(one));
            self.adjusted_for.append(&mut made.adjusted_for);
        }
        self.carried.extend(made.carried.take());
        made.tests.sort_by_key(|test| test.method != asked);
        if let Some(dealt) = &made.randomisation {
            self.smallest_p = Some(self.smallest_p.map_or(dealt.smallest_p, |known| known.min(dealt.smallest_p)));
            let larger = |error: f64| self.se.map_or(error, |known| known.max(error));
            self.se = dealt.se.map(larger).or(self.se);
        }
        self.add("trays", name.as_ref(), made.tests);
        Ok(())
    }

    /// The tests of one name that count trays or cuttings.
    fn of(&self, counts: &str, method: TestName) -> impl Iterator<Item = &TestResult> {
        let wanted = move |one: &&AssociationTest| one.counts == counts && one.test.method == method;
        self.tests.iter().filter(wanted).map(|one| &one.test)
    }

    /// Why no part has the test that leads: place and treatment cannot be told apart, or nothing shows how trays differ.
    fn withheld(&self, two: bool) -> Option<String> {
        let unanswered = two && self.of("trays", TestName::Score).next().is_none();
        let empty = self.tests.iter().all(|one| one.counts == "cuttings");
        self.reason.clone().filter(|_| unanswered || empty)
    }

    /// The method asked for, or the randomisation test when that one has nothing to go by anywhere.
    fn lead(&self, asked: TestName, counted: bool, two: bool) -> TestName {
        match (counted, two) {
            (true, _) if self.of("trays", asked).next().is_some() => asked,
            (true, _) => TestName::Randomisation,
            (false, true) => TestName::Fisher,
            (false, false) => TestName::Pearson,
        }
    }
}

fn by_cuttings(
    units: &Units,
    treatment: &Factor,
    members: &[usize],
    seed: u64,
    control: &Control,
) -> Result<Vec<TestResult>> {
    let rows: Vec<Vec<u64>> = cells(units, members, &[treatment])
        .values()
        .map(|members| arm_of(units, members))
        .map(|arm| (arm.rooted.iter().sum::<u64>(), arm.stuck.iter().sum::<u64>()))
        .map(|(rooted, stuck)| vec![rooted, stuck - rooted])
        .collect();
    // All rooted or none rooted, or a single level left: there is nothing to test.
    let Ok(table) = ContingencyTable::new(rows) else { return Ok(Vec::new()) };
    let found = chi_square(&table)?;
    let mut tests = vec![found.pearson];
    tests.extend(found.corrected);
    tests.push(found.likelihood_ratio);
    let (method, p) = if table.four_cells().is_some() {
        (TestName::Fisher, fisher(&table)?.p)
    } else {
        // It stands beside tests that lead, so it may cost a second at most.
        let exact = ExactOptions { work: BESIDE_WORK, seed, ..ExactOptions::default() };
        let found = freeman_halton(&table, exact, control)?;
        (if found.draws.is_some() { TestName::FreemanHaltonDrawn } else { TestName::FreemanHalton }, found.p)
    };
    tests.push(TestResult { method, statistic: None, df: None, error_df: None, p });
    Ok(tests)
}
