//! Tests of tables in words: how large first, then P.

use super::exact::FreemanHalton;
use super::stratified::Stratified;
use super::tables::{ChiSquare, ContingencyTable, FisherExact};
use super::trend::{LinearByLinear, Trend};
use crate::counts::{DifferenceMethod, difference, gap_in_words};
use crate::error::Result;
use crate::estimate::Count;
use crate::report::{capital, numbers};

const LEVEL: f64 = 0.95;
/// Expected counts below this make chi-square tests rough.
const ENOUGH: f64 = 5.0;

fn shown(p: f64, what: &str) -> String {
    let word = if p <= 1.0 - LEVEL { "is shown" } else { "is not shown" };
    format!("{what} {word} ({})", numbers::p_value(p))
}

/// The two rates of a 2 x 2 table with their difference; of larger tables the cell farthest from what is expected.
fn size(table: &ContingencyTable) -> Result<String> {
    if let Some([a, b, c, d]) = table.four_cells() {
        let (first, second) = (Count { rooted: a, stuck: a + b }, Count { rooted: c, stuck: c + d });
        let gap = difference(first, second, DifferenceMethod::MiettinenNurminen, LEVEL)?;
        return Ok(format!(
            "row 2 has {} in the first column than row 1",
            gap_in_words((gap.value, gap.low, gap.high), LEVEL, "per 100")
        ));
    }
    Ok(farthest(table)?.map_or_else(String::new, |(cell, count, expected, _)| {
        format!("farthest from what is expected is {cell}: {count} where {} are", numbers::number(expected))
    }))
}

/// The cell that lies farthest from what is expected without an association: its name, count, expectation and residual.
fn farthest(table: &ContingencyTable) -> Result<Option<(String, u64, f64, f64)>> {
    let found = super::tables::chi_square(table)?;
    let residuals = found.residuals.rows().into_iter().zip(found.expected.rows()).zip(table.cells()).zip(1..);
    let cells = residuals.flat_map(|(((residuals, expected), counts), row)| {
        let cells = residuals.into_iter().zip(expected).zip(counts).zip(1..);
        cells.map(move |(((residual, expected), count), column)| {
            (format!("row {row}, column {column}"), *count, *expected, *residual)
        })
    });
    Ok(cells.max_by(|a, b| a.3.abs().total_cmp(&b.3.abs())))
}

/// What stands behind the size, a fact a line.
pub(super) fn size_details(table: &ContingencyTable) -> Result<Vec<String>> {
    if let Some([a, b, c, d]) = table.four_cells() {
        let (first, second) = (Count { rooted: a, stuck: a + b }, Count { rooted: c, stuck: c + d });
        return Ok(vec![format!(
            "Of row 1 {} of 100 are in the first column, of row 2 {}.",
            numbers::points(first.rate()),
            numbers::points(second.rate())
        )]);
    }
    let told = |(cell, count, expected, residual): (String, u64, f64, f64)| {
        format!(
            "{}: {count} where {} are expected (standardised residual {}).",
            capital(&cell),
            numbers::number(expected),
            numbers::number(residual)
        )
    };
    Ok(farthest(table)?.map(told).into_iter().collect())
}

/// That an exact test is safer where expected counts are small.
pub(super) fn rough(found: &ChiSquare) -> Option<String> {
    (found.smallest_expected < ENOUGH).then(|| {
        format!("Expected counts fall to {}, so an exact test is safer.", numbers::number(found.smallest_expected))
    })
}

/// That tables were drawn.
pub(super) fn drawn(found: &FreemanHalton) -> Option<String> {
    let (draws, error) = found.draws.zip(found.se)?;
    Some(format!(
        "The table is too large for exact work: {draws} tables were drawn, so P has a standard error of {}.",
        numbers::number(error)
    ))
}

/// That a straight line is not enough.
pub(super) fn bent(found: &Trend) -> Option<String> {
    let test = found.departure.as_ref().filter(|test| test.p <= 1.0 - LEVEL)?;
    Some(format!("A straight line is not enough ({}): look at the groups themselves.", numbers::p_value(test.p)))
}

/// What stands behind tables in strata.
pub(super) fn stratified_details(found: &Stratified) -> Vec<String> {
    let unlike = found.homogeneity.as_ref().filter(|one| one.tarone.p <= 1.0 - LEVEL).map(|one| {
        format!(
            "The odds ratios of the strata differ ({}), so one number for all of them says too little.",
            numbers::p_value(one.tarone.p)
        )
    });
    let odds = found.common.as_ref().map(|common| {
        let odds = &common.odds_ratio;
        format!(
            "Common odds ratio {} ({}).",
            numbers::number(odds.value),
            numbers::interval(numbers::number(odds.low), numbers::number(odds.high), odds.confidence)
        )
    });
    unlike.into_iter().chain(odds).collect()
}

/// One sentence on the chi-square tests of a table, by Pearson's without correction.
///
/// # Errors
/// A numeric error of the interval of a difference.
///
/// ```
/// use rootling::counts::{ContingencyTable, chi_square, chi_square_sentence};
/// let table = ContingencyTable::new(vec![vec![156, 84], vec![84, 156]])?;
/// let said = chi_square_sentence(&table, &chi_square(&table)?)?;
/// assert!(said.starts_with("An association is shown (P < 0.001): row 2 has 30.0 fewer per 100 (95 % interval"));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn chi_square_sentence(table: &ContingencyTable, found: &ChiSquare) -> Result<String> {
    Ok(format!("{}: {}.", shown(found.pearson.p, "An association"), size(table)?))
}

/// One sentence on Fisher's test, by its two-sided P by probability.
///
/// # Errors
/// As [`chi_square_sentence`].
pub fn fisher_sentence(table: &ContingencyTable, found: &FisherExact) -> Result<String> {
    Ok(format!("{}: {}.", shown(found.p, "An association"), size(table)?))
}

/// One sentence on the exact test of a table.
///
/// # Errors
/// As [`chi_square_sentence`].
pub fn freeman_halton_sentence(table: &ContingencyTable, found: &FreemanHalton) -> Result<String> {
    Ok(format!("{}: {}.", shown(found.p, "An association"), size(table)?))
}

/// One sentence on a trend of plain counts, by the exact test.
#[must_use]
pub fn trend_sentence(found: &Trend) -> String {
    let word = if found.slope < 0.0 { "a fall" } else { "a rise" };
    format!(
        "{}: along a straight line {word} of {} trees per 100 for each unit along it.",
        shown(found.exact.p, "A trend"),
        numbers::number(100.0 * found.slope.abs())
    )
}

/// One sentence on linear association.
#[must_use]
pub fn linear_by_linear_sentence(found: &LinearByLinear) -> String {
    format!(
        "{}: rows and columns in their order have a correlation of {}.",
        shown(found.p, "A linear association"),
        numbers::number(found.correlation)
    )
}

/// One sentence on tables in strata.
#[must_use]
pub fn stratified_sentence(found: &Stratified) -> String {
    let Some(common) = &found.common else {
        return format!("{}.", shown(found.generalised.general.p, "An association within the tables"));
    };
    let gap = &common.difference;
    format!(
        "{}: {} in the second row than in the first.",
        shown(common.test.p, "An association within the tables"),
        gap_in_words((gap.value, gap.low, gap.high), gap.confidence, "per 100")
    )
}
