//! The faces of tests on plain tables: table, sentence, methods and what to cite.

use super::exact::{Exactness, FreemanHalton};
use super::tables::{ChiSquare, ContingencyTable, FisherExact, ThreeWay};
use super::words::{chi_square_sentence, drawn, fisher_sentence, freeman_halton_sentence, rough, size_details};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::Result;
use crate::estimate::TestResult;
use crate::report::{cautions, numbers, references};

/// Expected counts below this make chi-square tests rough.
const ENOUGH: f64 = 5.0;

/// One row per test.
pub(super) fn tests(rows: &[&TestResult]) -> Sheet {
    let mut sheet = Sheet::default();
    sheet.text("test", rows.iter().map(|test| test.method.name()));
    sheet.statistic("statistic", rows.iter().map(|test| test.statistic));
    sheet.degrees("df", rows.iter().map(|test| test.df));
    sheet.p("p", rows.iter().map(|test| test.p));
    sheet
}

/// One row per definition of a P value.
pub(super) fn definitions(rows: &[(&str, f64)]) -> Sheet {
    let mut sheet = Sheet::default();
    sheet.text("definition", rows.iter().map(|row| row.0));
    sheet.p("p", rows.iter().map(|row| row.1));
    sheet
}

/// How a sum over tables was made, and what to cite for it.
pub(super) fn exact_or_drawn(
    method: Exactness,
    draws: Option<u64>,
    seed: Option<u64>,
    exact: &str,
) -> (String, Vec<&'static str>) {
    match (method, draws, seed) {
        (Exactness::Drawn, Some(draws), Some(seed)) => (
            format!(
                "The table is too large for exact work, so {draws} tables with the same margins were drawn (seed {seed}); P is (hits + 1) / (draws + 1)."
            ),
            vec![references::PHIPSON_SMYTH_2010],
        ),
        _ => (exact.to_owned(), Vec::new()),
    }
}

/// What a plain test says around its figures.
pub(super) struct Faces {
    pub(super) kind: &'static str,
    pub(super) table: Sheet,
    pub(super) sentence: String,
    pub(super) details: Vec<String>,
    pub(super) methods: String,
    pub(super) notes: Vec<Note>,
    pub(super) references: Vec<&'static str>,
    pub(super) seed: Option<u64>,
}

impl Faces {
    pub(super) fn around<F>(mut self, figures: F) -> Answer<F> {
        self.notes.push(cautions::independent_cuttings());
        Answer {
            kind: self.kind.to_owned(),
            details: self.details,
            numbers: figures,
            table: self.table,
            sentence: self.sentence,
            notes: self.notes,
            methods: self.methods,
            references: self.references.into_iter().map(str::to_owned).collect(),
            made_with: MadeWith { seed: self.seed, ..MadeWith::new(&[]) },
        }
    }
}

fn small_counts(found: &ChiSquare) -> Vec<Note> {
    if found.smallest_expected >= ENOUGH {
        return Vec::new();
    }
    let least = numbers::number(found.smallest_expected);
    vec![Note::new(
        "small_expected_counts",
        format!("Expected counts fall to {least}: chi-square P values are rough below 5; an exact test is safer."),
    )]
}

/// Chi-square tests with all their faces; Pearson's without correction leads.
///
/// # Errors
/// As [`chi_square_sentence`].
///
/// ```
/// use rootling::counts::{ContingencyTable, chi_square, chi_square_answer};
/// let table = ContingencyTable::new(vec![vec![156, 84], vec![84, 156]])?;
/// let found = chi_square_answer(&table, chi_square(&table)?)?;
/// assert!(found.methods.contains("without correction"));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn chi_square_answer(table: &ContingencyTable, found: ChiSquare) -> Result<Answer<ChiSquare>> {
    let rows: Vec<&TestResult> =
        std::iter::once(&found.pearson).chain(&found.corrected).chain([&found.likelihood_ratio]).collect();
    let mut cited = vec![references::PEARSON_1900, references::WILKS_1938];
    let beside = if found.corrected.is_some() {
        cited.push(references::YATES_1934);
        "Pearson's with Yates's correction and the likelihood-ratio test stand beside it"
    } else {
        "the likelihood-ratio test stands beside it"
    };
    Ok(Faces {
        kind: "chi_square",
        table: tests(&rows),
        details: size_details(table)?.into_iter().chain(rough(&found)).collect(),
        sentence: chi_square_sentence(table, &found)?,
        methods: format!(
            "Association was tested by Pearson's chi-square without correction ({}); {beside}. Residuals are standardised by their own standard errors.",
            numbers::degrees_of_freedom(found.pearson.df.unwrap_or_default())
        ),
        notes: small_counts(&found),
        references: cited,
        seed: None,
    }
    .around(found))
}

/// Fisher's exact test with all its faces; the two-sided P by probability leads.
///
/// # Errors
/// As [`chi_square_sentence`].
///
/// ```
/// use rootling::counts::{ContingencyTable, fisher, fisher_answer};
/// let table = ContingencyTable::new(vec![vec![20, 0], vec![14, 6]])?;
/// let found = fisher_answer(&table, fisher(&table)?)?;
/// assert!(found.methods.contains("not more probable"));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn fisher_answer(table: &ContingencyTable, found: FisherExact) -> Result<Answer<FisherExact>> {
    let rows = [
        ("two-sided, by probability", found.p),
        ("two-sided, doubled", found.doubled),
        ("two-sided, Blaker", found.blaker),
        ("lower", found.p_lower),
        ("higher", found.p_higher),
        ("mid-P, by probability", found.mid_p),
        ("mid-P, doubled", found.mid_p_doubled),
        ("mid-P, lower", found.mid_p_lower),
        ("mid-P, higher", found.mid_p_higher),
    ];
    let mut notes = vec![Note::new(
        "definitions_of_two_sided",
        "Two-sided exact P values have several definitions; the table holds those by probability, by doubling and Blaker's.",
    )];
    notes.extend(found.odds_ratio_left_out.iter().map(|reason| Note::new("no_odds_ratio", reason.clone())));
    Ok(Faces {
        kind: "fisher",
        table: definitions(&rows),
        details: size_details(table)?,
        sentence: fisher_sentence(table, &found)?,
        methods: "Association was tested by Fisher's exact test. The two-sided P is the probability, given both margins, of all tables that are not more probable than the observed one (relative slack 1e-7). The odds ratio is the conditional maximum likelihood estimate with exact limits, which agree with the doubled P. Blaker's form and the mid-P forms stand beside it."
            .to_owned(),
        notes,
        references: vec![references::FISHER_1935, references::BLAKER_2000, references::LANCASTER_1961],
        seed: None,
    }
    .around(found))
}

/// The exact test of an r x c table with all its faces.
///
/// # Errors
/// As [`chi_square_sentence`].
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{ContingencyTable, ExactOptions, freeman_halton, freeman_halton_answer};
/// let table = ContingencyTable::new(vec![vec![3, 0, 1], vec![4, 2, 6]])?;
/// let found = freeman_halton(&table, ExactOptions::default(), &Control::new())?;
/// assert!(freeman_halton_answer(&table, found)?.methods.contains("Freeman and Halton"));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn freeman_halton_answer(table: &ContingencyTable, found: FreemanHalton) -> Result<Answer<FreemanHalton>> {
    let (made, more) =
        exact_or_drawn(found.method, found.draws, found.seed, "Every table with these margins was accounted for.");
    let mut sheet = Sheet::default();
    sheet.text("method", [found.method.name()]);
    sheet.p("p", [found.p]);
    sheet.plain("se", [found.se]);
    sheet.whole("draws", [found.draws]);
    let error = found.se.map(|error| {
        Note::new(
            "drawn_tables",
            format!("P comes from random tables and has a standard error of {}.", numbers::number(error)),
        )
    });
    Ok(Faces {
        kind: "freeman_halton",
        table: sheet,
        details: size_details(table)?.into_iter().chain(drawn(&found)).collect(),
        sentence: freeman_halton_sentence(table, &found)?,
        methods: format!(
            "Association was tested by the exact test of Freeman and Halton: P is the probability, given all margins, of the tables that are not more probable than the observed one (relative slack 1e-7). {made}"
        ),
        notes: error.into_iter().collect(),
        references: [vec![super::works::FREEMAN_HALTON_1951], more].concat(),
        seed: found.seed,
    }
    .around(found))
}

/// Bartlett's test with all its faces.
///
/// ```
/// use rootling::counts::{three_way, three_way_answer};
/// let found = three_way_answer(three_way(&[[[156, 84], [107, 133]], [[84, 156], [31, 209]]])?);
/// assert!(found.sentence.starts_with("A three-factor interaction is not shown"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn three_way_answer(found: ThreeWay) -> Answer<ThreeWay> {
    let shown = if found.pearson.p <= 0.05 { "is shown" } else { "is not shown" };
    Faces {
        kind: "three_way",
        details: Vec::new(),
        table: tests(&[&found.pearson, &found.likelihood_ratio]),
        sentence: format!(
            "A three-factor interaction {shown} ({}): the odds ratio of two factors {} at the two levels of the third.",
            numbers::p_value(found.pearson.p),
            if found.pearson.p <= 0.05 { "differs" } else { "is not shown to differ" }
        ),
        methods: "The hypothesis of no three-factor interaction was tested after Bartlett, by Pearson's chi-square of the counts expected under it (1 degree of freedom); the likelihood-ratio test stands beside it."
            .to_owned(),
        notes: Vec::new(),
        references: vec![references::BARTLETT_1935],
        seed: None,
    }
    .around(found)
}
