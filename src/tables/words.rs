//! Tests of tables in words: how large first, then P.

use super::counts::{ChiSquare, ContingencyTable, FisherExact};
use super::exact::FreemanHalton;
use super::stratified::Stratified;
use super::trend::{LinearByLinear, Trend};
use crate::compare::{DifferenceMethod, difference, gain_in_words};
use crate::error::Result;
use crate::estimate::Count;
use crate::report::numbers;

const LEVEL: f64 = 0.95;
/// Expected counts below this make chi-square tests rough.
const ENOUGH: f64 = 5.0;

fn shown(p_value: f64, what: &str) -> String {
    let word = if p_value <= 1.0 - LEVEL { "is shown" } else { "is not shown" };
    format!("{what} {word} ({})", numbers::p_value(p_value))
}

/// The two rates of a 2 x 2 table with their difference; of larger tables the cell farthest from what is expected.
fn size(table: &ContingencyTable) -> Result<String> {
    if let Some([a, b, c, d]) = table.four_cells() {
        let (first, second) = (Count { rooted: a, stuck: a + b }, Count { rooted: c, stuck: c + d });
        let gap = difference(first, second, DifferenceMethod::MiettinenNurminen, LEVEL)?;
        return Ok(format!(
            "of row 1 {} of 100 are in the first column, of row 2 {}, so {} per 100 ({})",
            numbers::points(first.rate()),
            numbers::points(second.rate()),
            gain_in_words(gap.value),
            numbers::interval(numbers::points(gap.conf_low), numbers::points(gap.conf_high), LEVEL)
        ));
    }
    let found = super::counts::chi_square(table)?;
    let residuals = found.residuals.iter().zip(&found.expected).zip(table.cells()).zip(1..);
    let cells = residuals.flat_map(|(((residuals, expected), counts), row)| {
        let cells = residuals.iter().zip(expected).zip(counts).zip(1..);
        cells.map(move |(((residual, expected), count), column)| (*residual, *expected, *count, row, column))
    });
    let farthest = cells.max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
    Ok(farthest.map_or_else(String::new, |(residual, expected, count, row, column)| {
        format!(
            "farthest from what is expected without one is row {row}, column {column}, with {count} where {} are expected (standardised residual {})",
            numbers::number(expected),
            numbers::number(residual)
        )
    }))
}

/// One sentence on the chi-square tests of a table, by Pearson's without correction.
///
/// # Errors
/// A numeric error of the interval of a difference.
///
/// ```
/// use rootling::tables::{ContingencyTable, chi_square, chi_square_sentence};
/// let table = ContingencyTable::new(vec![vec![156, 84], vec![84, 156]])?;
/// let said = chi_square_sentence(&table, &chi_square(&table)?)?;
/// assert!(said.starts_with("An association is shown (P < 0.0001): of row 1 65.0 of 100 are in the first column"));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn chi_square_sentence(table: &ContingencyTable, found: &ChiSquare) -> Result<String> {
    let rough = if found.smallest_expected < ENOUGH {
        format!(" Expected counts fall to {}, so an exact test is safer.", numbers::number(found.smallest_expected))
    } else {
        String::new()
    };
    Ok(format!("{}: {}.{rough}", shown(found.pearson.p_value, "An association"), size(table)?))
}

/// One sentence on Fisher's test, by its two-sided P by probability.
///
/// # Errors
/// As [`chi_square_sentence`].
pub fn fisher_sentence(table: &ContingencyTable, found: &FisherExact) -> Result<String> {
    Ok(format!("{}: {}.", shown(found.p_value, "An association"), size(table)?))
}

/// One sentence on the exact test of a table; it says when tables were drawn.
///
/// # Errors
/// As [`chi_square_sentence`].
pub fn freeman_halton_sentence(table: &ContingencyTable, found: &FreemanHalton) -> Result<String> {
    let drawn = match (found.draws, found.std_error) {
        (Some(draws), Some(error)) => format!(
            " The table is too large for exact work: {draws} tables were drawn, so P has a standard error of {}.",
            numbers::number(error)
        ),
        _ => String::new(),
    };
    Ok(format!("{}: {}.{drawn}", shown(found.p_value, "An association"), size(table)?))
}

/// One sentence on a trend of plain counts, by the exact test.
#[must_use]
pub fn trend_sentence(found: &Trend) -> String {
    let word = if found.slope < 0.0 { "a fall" } else { "a rise" };
    let bent = match &found.departure {
        Some(test) if test.p_value <= 1.0 - LEVEL => {
            format!(
                " A straight line is not enough ({}): look at the groups themselves.",
                numbers::p_value(test.p_value)
            )
        }
        _ => String::new(),
    };
    format!(
        "{}: along a straight line {word} of {} trees per 100 for each unit of the score.{bent}",
        shown(found.exact.p_value, "A trend"),
        numbers::number(100.0 * found.slope.abs())
    )
}

/// One sentence on linear association.
#[must_use]
pub fn linear_by_linear_sentence(found: &LinearByLinear) -> String {
    format!(
        "{}: the scores of rows and columns have a correlation of {}.",
        shown(found.p_value, "A linear association"),
        numbers::number(found.correlation)
    )
}

/// One sentence on tables in strata.
#[must_use]
pub fn stratified_sentence(found: &Stratified) -> String {
    let Some(common) = &found.common else {
        return format!("{}.", shown(found.generalised.general.p_value, "An association within strata"));
    };
    let (gap, odds) = (&common.difference, &common.odds_ratio);
    let unlike = match &found.homogeneity {
        Some(one) if one.tarone.p_value <= 1.0 - LEVEL => format!(
            " The odds ratios of the strata differ ({}), so one number for all of them says too little.",
            numbers::p_value(one.tarone.p_value)
        ),
        _ => String::new(),
    };
    format!(
        "{}: {} per 100 in the first row than in the second ({}), odds ratio {} ({}).{unlike}",
        shown(common.test.p_value, "An association within strata"),
        gain_in_words(gap.value),
        numbers::interval(numbers::points(gap.conf_low), numbers::points(gap.conf_high), gap.level),
        numbers::number(odds.value),
        numbers::interval(numbers::number(odds.conf_low), numbers::number(odds.conf_high), odds.level)
    )
}
