//! The faces of tests on ordered tables and on tables in strata.

use super::exact::Exactness;
use super::faces::{Faces, definitions, exact_or_drawn, tests};
use super::stratified::Stratified;
use super::trend::{LinearByLinear, Trend};
use super::words::{bent, linear_by_linear_sentence, stratified_details, stratified_sentence, trend_sentence};
use crate::answer::{Answer, Note, Scale, Sheet};
use crate::estimate::Estimate;
use crate::report::{numbers, references, references_tables};

fn drawn(se: Option<f64>) -> Vec<Note> {
    let said =
        |error| format!("The exact P comes from random tables and has a standard error of {}.", numbers::number(error));
    se.map(|error| Note::new("drawn_tables", said(error))).into_iter().collect()
}

/// The trend of plain counts with all its faces; the exact two-sided P by probability leads.
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{ExactOptions, trend, trend_answer};
/// let found = trend(&[1, 2, 4, 7], &[10; 4], &[0.0, 1.0, 2.0, 3.0], ExactOptions::default(), &Control::new())?;
/// assert!(trend_answer(found).methods.contains("Cochran and Armitage"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn trend_answer(found: Trend) -> Answer<Trend> {
    let exact = &found.exact;
    let rows = [
        ("exact, by probability", exact.p),
        ("exact, doubled", exact.doubled),
        ("exact, by distance from the mean", exact.by_distance),
        ("exact, fall", exact.p_lower),
        ("exact, rise", exact.p_higher),
        ("mid-P, fall", exact.mid_p_lower),
        ("mid-P, rise", exact.mid_p_higher),
        ("asymptotic, two-sided", found.asymptotic.p),
        ("asymptotic, fall", found.p_lower),
        ("asymptotic, rise", found.p_higher),
    ];
    let departure = found.departure.iter().map(|test| ("departure from a straight line", test.p));
    let (made, more) =
        exact_or_drawn(exact.method, exact.draws, exact.seed, "Every table with these margins was accounted for.");
    let two_sided = if exact.method == Exactness::Drawn {
        "the two-sided P is that of all values at least as far from the mean"
    } else {
        "the two-sided P is the probability of all values of the statistic that are not more probable than the observed one"
    };
    Faces {
        kind: "plain_trend",
        table: definitions(&rows.into_iter().chain(departure).collect::<Vec<_>>()),
        details: bent(&found).into_iter().collect(),
        sentence: trend_sentence(&found),
        methods: format!(
            "A trend of the rate along the scores was tested by the statistic of Cochran and Armitage (binomial variance, without continuity correction), given the margins: {two_sided}. {made}"
        ),
        notes: drawn(exact.se),
        references: [vec![references::COCHRAN_1954, references::ARMITAGE_1955], more].concat(),
        seed: exact.seed,
    }
    .around(found)
}

/// Linear association with all its faces; the P over tables with the same margins leads.
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{ContingencyTable, ExactOptions, linear_by_linear, linear_by_linear_answer};
/// let table = ContingencyTable::new(vec![vec![9, 1], vec![8, 2], vec![3, 7]])?;
/// let found = linear_by_linear(&table, &[1.0, 2.0, 3.0], &[1.0, 2.0], ExactOptions::default(), &Control::new())?;
/// assert!(linear_by_linear_answer(found).methods.contains("(N - 1) r"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn linear_by_linear_answer(found: LinearByLinear) -> Answer<LinearByLinear> {
    let (made, more) =
        exact_or_drawn(found.method, found.draws, found.seed, "Every table with these margins was accounted for.");
    Faces {
        kind: "linear_by_linear",
        table: definitions(&[("exact, two-sided", found.p), ("asymptotic, two-sided", found.asymptotic.p)]),
        details: Vec::new(),
        sentence: linear_by_linear_sentence(&found),
        methods: format!(
            "Linear association of the scores was tested by the correlation r of the scores, judged over tables with the same margins by the distance of the statistic from its mean; asymptotically (N - 1) r^2 is a chi-square with 1 degree of freedom. {made}"
        ),
        notes: drawn(found.se),
        references: [vec![references::MANTEL_HAENSZEL_1959], more].concat(),
        seed: found.seed,
    }
    .around(found)
}

/// Tables in strata with all their faces.
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{Strata, StratifiedOptions, stratified, stratified_answer};
/// let strata = Strata::new(vec![vec![vec![156, 84], vec![84, 156]], vec![vec![107, 133], vec![31, 209]]])?;
/// let found = stratified(&strata, &StratifiedOptions::default(), &Control::new())?;
/// assert!(stratified_answer(found).methods.contains("Mantel and Haenszel"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn stratified_answer(found: Stratified) -> Answer<Stratified> {
    let general = "Association within strata was tested by the generalised test of Cochran, Mantel and Haenszel";
    let (table, methods, mut cited) = match &found.common {
        None => (
            tests(&[&found.generalised.general]),
            format!("{general}."),
            vec![references::COCHRAN_1954, references::MANTEL_HAENSZEL_1959],
        ),
        Some(common) => (
            sizes(
                &found,
                &[
                    ("odds ratio", limits(&common.odds_ratio), Scale::OddsRatio),
                    ("ratio", limits(&common.ratio), Scale::Ratio),
                    ("difference", limits(&common.difference), Scale::Difference),
                ],
            ),
            format!(
                "{general}, for 2 x 2 tables that of Mantel and Haenszel without continuity correction. The common odds ratio, ratio and difference, second group against first, are those of Mantel and Haenszel, with limits by Robins, Breslow and Greenland, by Greenland and Robins, and by Sato; the strata were compared by the test of Breslow and Day with Tarone's correction. The conditional odds ratio has exact limits."
            ),
            vec![
                references::COCHRAN_1954,
                references::MANTEL_HAENSZEL_1959,
                references::ROBINS_BRESLOW_GREENLAND_1986,
                references_tables::GREENLAND_ROBINS_1985,
                references_tables::SATO_1989,
            ],
        ),
    };
    if found.homogeneity.is_some() {
        cited.extend([references::BRESLOW_DAY_1980, references::TARONE_1985]);
    }
    let mut notes = Vec::new();
    if !found.uninformative.is_empty() {
        let strata: Vec<String> = found.uninformative.iter().map(u64::to_string).collect();
        notes.push(Note::new(
            "uninformative_strata",
            format!(
                "Strata {} hold one group or one outcome only and say nothing about association.",
                strata.join(", ")
            ),
        ));
    }
    if let Some(reason) = &found.exact_left_out {
        notes.push(Note::new("exact_left_out", reason.clone()));
    }
    Faces {
        kind: "stratified",
        table,
        details: stratified_details(&found),
        sentence: stratified_sentence(&found),
        methods,
        notes,
        references: cited,
        seed: None,
    }
    .around(found)
}

/// A common measure by its name with its value and limits, and what it is.
type Measure<'a> = (&'a str, [f64; 3], Scale);

fn limits<M>(one: &Estimate<M>) -> [f64; 3] {
    [one.value, one.low, one.high]
}

/// One row per common measure.
fn sizes(found: &Stratified, measures: &[Measure<'_>]) -> Sheet {
    let exact = found.exact.as_ref().map(|one| ("odds ratio, conditional", limits(&one.odds_ratio), Scale::OddsRatio));
    let rows: Vec<Measure<'_>> = measures.iter().copied().chain(exact).collect();
    let mut sheet = Sheet::default();
    sheet.text("what", rows.iter().map(|row| row.0));
    let scales: Vec<Scale> = rows.iter().map(|row| row.2).collect();
    sheet.scaled("value", scales.clone(), rows.iter().map(|row| row.1[0]));
    sheet.scaled("low", scales.clone(), rows.iter().map(|row| row.1[1]));
    sheet.scaled("high", scales, rows.iter().map(|row| row.1[2]));
    sheet
}
