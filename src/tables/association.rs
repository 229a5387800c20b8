//! Is a treatment associated with rooting at all? Tests on trays where they are recorded, chi-square tests on cuttings.

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, Note, Provenance, Sheet};
use crate::compare::column;
use crate::control::Control;
use crate::error::{CountError, Result};
use crate::estimate::TestResult;
use crate::math::distributions::chi_squared;
use crate::rates::{Arm, TakeRate, TakeRatesOptions, TraySpread, TraysUse, arm_of, cells, take_rates};
use crate::report::{numbers, references, whole};
use crate::tables::counts::{ContingencyTable, chi_square, fisher};
use crate::tables::exact::{ExactOptions, freeman_halton};
use crate::tables::tray_tests::{Randomised, chosen};
use crate::trial::{Factor, UnitKind, Units};

/// Steps of exact work for tables larger than 2 x 2.
const BESIDE_WORK: u64 = 100_000_000;

/// Options of [`association`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct AssociationOptions {
    /// A column whose levels are kept apart.
    pub within: Option<String>,
    /// Whether trays are counted.
    pub trays: TraysUse,
    /// The test that leads where trays are counted; "tray-rates" when not given.
    pub method: Option<String>,
    /// Seed of drawn randomisations.
    pub seed: u64,
    /// Randomisations drawn when there are too many to enumerate.
    pub randomisations: u64,
}

impl Default for AssociationOptions {
    fn default() -> Self {
        Self { within: None, trays: TraysUse::Auto, method: None, seed: 1, randomisations: 99_999 }
    }
}

/// One test in one stratum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AssociationTest {
    /// Level of the `within` column, when there is one.
    pub stratum: Option<String>,
    /// "trays" or "cuttings": what is counted.
    pub counts: String,
    /// The test.
    pub test: TestResult,
}

/// The tests, the leading one first within each stratum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Association {
    /// The treatment.
    pub factor: String,
    /// All tests.
    pub tests: Vec<AssociationTest>,
    /// Columns that `rates` are by: the treatment, after the column to stay within.
    pub by: Vec<String>,
    /// The take rates that the tests are about.
    pub rates: Vec<TakeRate>,
    /// The leading P value over all strata: the smallest, without adjustment.
    pub p_value: Option<f64>,
    /// The test that leads.
    pub method: String,
    /// What is counted: "tray", the whole plot's column, or "cutting".
    pub unit: String,
    /// Smallest P value a randomisation test can reach in any stratum, by the design, when trays are counted.
    pub smallest_p: Option<f64>,
    /// Monte Carlo standard error of the randomisation P value that is least well known, when assignments were drawn.
    pub std_error: Option<f64>,
    /// Why no test is given, when it is withheld.
    pub withheld: Option<String>,
}

/// Chi-square of arms adjusted for the intraclass correlation: each arm's cuttings are divided by its correction factor
/// `C = 1 + (sum(m^2)/sum(m) - 1) icc`; the statistic is `sum n_a (p_a - p)^2 / (C_a p (1 - p))` with `p` the overall rate.
///
/// `None` when every cutting rooted or none did.
///
/// # References
/// Donner A (1989); Donner A, Klar N (2000), chapter 6.
#[must_use]
pub fn donner_chi_square(arms: &[Arm], spread: &TraySpread) -> Option<TestResult> {
    let (rooted, stuck) = arms.iter().map(Arm::total).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let overall = rooted / stuck;
    if !(overall > 0.0 && overall < 1.0) {
        return None;
    }
    // A negative correlation is kept at 0 by `icc_used`, so the test is never sharper than Pearson's.
    let statistic: f64 = arms
        .iter()
        .map(|arm| {
            arm.total().1 * (arm.rate() - overall).powi(2) / (spread.design_effect(arm) * overall * (1.0 - overall))
        })
        .sum();
    let dof = arms.len() as f64 - 1.0;
    Some(TestResult {
        method: "donner".to_owned(),
        statistic: Some(statistic),
        dof: Some(dof),
        dof_denominator: None,
        p_value: chi_squared::sf(statistic, dof),
    })
}

/// Tests whether rooting depends on the levels of `factor`, overall or within each level of another column.
///
/// Where trays are counted the F test on tray rates leads, within other treatments and blocks: in simulated trials without any
/// difference it alarmed in 2 to 5 %, Donner's chi-square judged by F in 0.2 to 5 %, that of Rao and Scott with each treatment's
/// own design effect in up to 20 % (`tests/calibration/association.md`). Where tray rates do not spread at all
/// the randomisation test leads. A treatment given to whole plots is tested between whole plots.
///
/// # Errors
/// A choice error for an unknown column or method; a count error when the factor has one level; [`crate::Error::Interrupted`] when
/// stopped.
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
    let asked = chosen(options)?;
    let counted = units.kind == UnitKind::Tray && options.trays == TraysUse::Auto;
    let randomised = counted.then(|| Randomised::new(units, treatment));
    let spread = randomised.as_ref().and_then(|one| one.spread);
    let everything: Vec<usize> = (0..units.len()).collect();
    let parts: Vec<(Option<String>, Vec<usize>)> = match within {
        None => vec![(None, everything)],
        Some(other) => cells(units, &everything, &[other])
            .into_iter()
            .map(|(codes, members)| (codes.first().and_then(|code| other.levels.get(*code as usize)).cloned(), members))
            .collect(),
    };
    let mut tests = Vec::new();
    let (mut smallest_p, mut std_error) = (None::<f64>, None::<f64>);
    for (name, members) in parts {
        let add =
            |counts: &str, test: TestResult| AssociationTest { stratum: name.clone(), counts: counts.to_owned(), test };
        if let Some(randomised) = &randomised {
            let found = randomised.tests(units, treatment, &members, options, control)?;
            tests.extend(found.tests.into_iter().map(|test| add("trays", test)));
            if let Some(dealt) = found.randomisation {
                smallest_p = Some(smallest_p.map_or(dealt.smallest_p, |known| known.min(dealt.smallest_p)));
                std_error =
                    dealt.std_error.map(|error| std_error.map_or(error, |known| known.max(error))).or(std_error);
            }
        }
        let plain = by_cuttings(units, treatment, &members, options.seed, control)?;
        tests.extend(plain.into_iter().map(|test| add("cuttings", test)));
    }
    let withheld = randomised.as_ref().and_then(|one| one.withheld.clone());
    let lead = if spread.is_some() { lead_of(&tests, asked) } else { "pearson" };
    let wanted = if spread.is_some() { "trays" } else { "cuttings" };
    let p_value = tests
        .iter()
        .filter(|one| withheld.is_none() && one.counts == wanted && one.test.method == lead)
        .map(|one| one.test.p_value)
        .min_by(f64::total_cmp);
    let by: Vec<String> = within.iter().chain([&treatment]).map(|one| one.name.clone()).collect();
    let names: Vec<&str> = by.iter().map(String::as_str).collect();
    let asked = TakeRatesOptions { trays: options.trays, ..TakeRatesOptions::default() };
    let rates = take_rates(units, &names, &asked)?.figures.rates;
    let figures = Association {
        factor: treatment.name.clone(),
        p_value,
        method: lead.to_owned(),
        unit: randomised.filter(|_| spread.is_some()).map_or_else(|| "cutting".to_owned(), |one| one.unit),
        smallest_p,
        std_error,
        withheld,
        tests,
        by,
        rates,
    };
    Ok(answer(figures, units, options, spread.as_ref()))
}

/// The method asked for, or the randomisation test when that one has nothing to go by anywhere.
fn lead_of(tests: &[AssociationTest], asked: &'static str) -> &'static str {
    if tests.iter().any(|one| one.test.method == asked) { asked } else { "randomisation" }
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
    let (method, p_value) = if table.four_cells().is_some() {
        ("fisher", fisher(&table)?.p_value)
    } else {
        // It stands beside tests that lead, so it may cost a second at most.
        let exact = ExactOptions { work: BESIDE_WORK, seed, ..ExactOptions::default() };
        let found = freeman_halton(&table, exact, control)?;
        (if found.draws.is_some() { "freeman-halton, drawn" } else { "freeman-halton" }, found.p_value)
    };
    tests.push(TestResult { method: method.to_owned(), statistic: None, dof: None, dof_denominator: None, p_value });
    Ok(tests)
}

fn answer(
    figures: Association,
    units: &Units,
    options: &AssociationOptions,
    spread: Option<&TraySpread>,
) -> Answer<Association> {
    let tests = &figures.tests;
    let mut table = Sheet::default();
    if let Some(name) = &options.within {
        table.text(name, tests.iter().map(|one| one.stratum.clone().unwrap_or_default()));
    }
    table.text("test", tests.iter().map(|one| one.test.method.clone()));
    table.text("counts", tests.iter().map(|one| one.counts.clone()));
    table.maybe("statistic", tests.iter().map(|one| one.test.statistic));
    table.maybe("dof", tests.iter().map(|one| one.test.dof));
    table.maybe("dof_denominator", tests.iter().map(|one| one.test.dof_denominator));
    table.number("p_value", tests.iter().map(|one| one.test.p_value));
    let provenance = Provenance::new(&[
        ("factor", figures.factor.clone()),
        ("within", options.within.clone().unwrap_or_default()),
        ("trays", format!("{:?}", options.trays).to_lowercase()),
        ("method", figures.method.clone()),
    ]);
    let provenance = Provenance { seed: figures.std_error.map(|_| options.seed), ..provenance };
    let mut cited = vec![references::PEARSON_1900, references::FISHER_1935];
    if spread.is_some() {
        cited.extend([
            references::DONNER_KLAR_2000,
            references::DONNER_1989,
            references::RAO_SCOTT_1992,
            references::RAO_SCOTT_1984,
            references::THOMAS_RAO_1987,
        ]);
    }
    let cited = cited.into_iter().map(str::to_owned).collect();
    Answer {
        kind: "association".to_owned(),
        sentence: sentence(&figures, units, spread),
        notes: notes(&figures, units, options, spread),
        methods: methods(&figures, spread),
        references: cited,
        table,
        figures,
        provenance,
    }
}

fn sentence(figures: &Association, units: &Units, spread: Option<&TraySpread>) -> String {
    let start = match (units.kind, spread) {
        (UnitKind::Pooled, _) => "No trays were recorded, so the P values are too small. ",
        (UnitKind::Tray, None) => "Trays are not counted here, so the P values are too small. ",
        (UnitKind::Tray, Some(_)) => "",
    };
    if let Some(why) = &figures.withheld {
        return format!("No test of {} is given: {why}.", figures.factor);
    }
    let counts = if spread.is_some() { "trays" } else { "cuttings" };
    let parts: Vec<String> = figures
        .tests
        .iter()
        .filter(|one| one.test.method == figures.method && one.counts == counts)
        .map(|one| {
            let place = one.stratum.as_ref().map(|name| format!(" at {name}")).unwrap_or_default();
            let verdict = if one.test.p_value <= 0.05 { "the take depends on" } else { "no dependence is shown on" };
            format!(
                "{verdict} {}{place} ({}, {})",
                figures.factor,
                basis(&one.test),
                numbers::p_value(one.test.p_value)
            )
        })
        .collect();
    if parts.is_empty() {
        return format!("{start}Nothing to test: every cutting rooted, or none did.");
    }
    let mut text = parts.join("; ");
    if let Some(first) = text.get(..1).map(str::to_uppercase) {
        text.replace_range(..1, &first);
    }
    format!("{start}{text}. See the take rates for how large the differences are and what cannot be ruled out.")
}

/// Statistic and degrees of freedom in words.
fn basis(test: &TestResult) -> String {
    let statistic = test.statistic.map(numbers::number).unwrap_or_default();
    let dof = test.dof.map(numbers::number).unwrap_or_default();
    let trays = test.dof_denominator.map(numbers::number);
    match (test.method.as_str(), trays) {
        ("randomisation", _) if statistic.is_empty() => "by randomisation".to_owned(),
        ("randomisation", _) => format!("F {statistic} of tray rates, by randomisation"),
        ("tray-rates", Some(trays)) => format!("F {statistic} of tray rates on {dof} and {trays} degrees of freedom"),
        (_, Some(trays)) => format!("chi-square {statistic} on {dof} and {trays} degrees of freedom"),
        (_, None) => {
            format!("chi-square {statistic} on {}", numbers::degrees_of_freedom(test.dof.unwrap_or(f64::NAN)))
        }
    }
}

/// What the design allows and how trays spread.
fn design_notes(figures: &Association, spread: &TraySpread) -> Vec<Note> {
    let mut notes = Vec::new();
    if let Some(phi) = spread.dispersion.filter(|phi| *phi < 1.0) {
        notes.push(Note::new(
            "underdispersion",
            format!(
                "Units of one treatment are more alike than chance (dispersion {}); nothing is shrunk for it.",
                numbers::number(phi)
            ),
        ));
    }
    if let Some(smallest) = figures.smallest_p.filter(|smallest| *smallest > 0.05) {
        notes.push(Note::new(
            "p_out_of_reach",
            format!(
                "With {}s as laid out no outcome could give a randomisation P value below {}; more {}s are needed for a claim.",
                figures.unit,
                numbers::number(smallest),
                figures.unit
            ),
        ));
    }
    if let Some(error) = figures.std_error {
        notes.push(Note::new(
            "drawn_assignments",
            format!(
                "There are too many assignments to go through, so some were drawn: the randomisation P value has a standard error of {}.",
                numbers::number(error)
            ),
        ));
    }
    notes
}

fn notes(figures: &Association, units: &Units, options: &AssociationOptions, spread: Option<&TraySpread>) -> Vec<Note> {
    let mut notes = spread.map(|spread| design_notes(figures, spread)).unwrap_or_default();
    if let Some(why) = &figures.withheld {
        let text = format!("No test: {why}. Repeat the trial in other places or times.");
        notes.push(Note::new("confounded_with_whole_plot", text));
    }
    if units.kind == UnitKind::Pooled {
        notes.push(Note::new(
            "no_tray_information",
            "No trays were recorded: cuttings are counted as if each stood alone, so the P values are too small.",
        ));
    } else if spread.is_none() && figures.withheld.is_none() {
        notes.push(Note::new(
            "trays_ignored",
            "Trays are recorded but not counted (on request, or since no treatment has two trays): the P values are too small.",
        ));
    } else {
        notes.push(Note::new(
            "cuttings_shown_too",
            "Lines that count cuttings treat them as independent; they are shown for comparison with older reports only.",
        ));
    }
    if options.within.is_some() {
        notes.push(Note::new("several_tests", "One test per level is shown, without adjustment for their number."));
    }
    notes
}

fn methods(figures: &Association, spread: Option<&TraySpread>) -> String {
    match spread {
        Some(spread) => {
            let how = match figures.method.as_str() {
                "tray-rates" => {
                    "an F test on the rates per unit within blocks and other treatments, with one spread".to_owned()
                }
                "randomisation" => {
                    "a randomisation test of F on the rates per unit, dealt anew within blocks and other treatments"
                        .to_owned()
                }
                "donner" => format!(
                    "a chi-square statistic whose counts are divided by the correction factor 1 + (m - 1) icc (Donner), with the intraclass correlation ({}) by analysis of variance and not below 0, judged by F on that chi-square over its degrees of freedom with {} in the denominator",
                    numbers::number(spread.icc),
                    whole(spread.dof as u64, "degree of freedom", "degrees of freedom")
                ),
                _ => format!(
                    "a chi-square statistic adjusted by the design effects of the treatments (Rao and Scott, {}; none below 1), judged by F with {} in the denominator",
                    match figures.method.as_str() {
                        "rao-scott-first-order" => "first order",
                        "rao-scott-second-order" => "second order",
                        _ => "divided counts",
                    },
                    whole(spread.dof as u64, "degree of freedom", "degrees of freedom")
                ),
            };
            format!(
                "The experimental unit was the {}. Dependence of rooting on {} was tested by {how}.",
                figures.unit, figures.factor
            )
        }
        None => format!(
            "Dependence of rooting on {} was tested by Pearson's chi-square, the likelihood-ratio chi-square and, in 2 x 2 tables, Fisher's exact test; cuttings were treated as independent.",
            figures.factor
        ),
    }
}
