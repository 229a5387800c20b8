//! The unconditional exact test: the largest probability, over the unknown common rate, of tables at least as extreme.

use serde::{Deserialize, Serialize};

use super::margins::Margins;
use super::order::UnconditionalOrder;
use super::regions::{Observed, Side, ln_region};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::control::Control;
use crate::counts::ContingencyTable;
use crate::counts::{DifferenceMethod, difference, gap_in_words, range_in_words, rates_in_words};
use crate::error::{CountError, Result};
use crate::estimate::Count;
use crate::math::search::{Supremum, supremum};
use crate::report::{capital, cautions, numbers, references};

/// Most plants in an unconditional test: a few seconds of work.
pub(super) const MOST_UNCONDITIONAL: u64 = 20_000;

/// P values of an unconditional exact test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct UnconditionalTest {
    /// The ordering.
    pub method: UnconditionalOrder,
    /// Two-sided P: tables ordered by the two-sided statistic (Fisher's P by probability, or the size of the score).
    pub p: f64,
    /// P for a lower rate in the second row.
    pub p_lower: f64,
    /// P for a higher rate in the second row.
    pub p_higher: f64,
    /// Twice the smaller one-sided P, at most 1: the other two-sided definition.
    pub doubled: f64,
    /// The common rate at which the two-sided probability is largest.
    pub common_rate: f64,
    /// Second rate minus first.
    pub value: f64,
    /// Lower limit of the difference (Miettinen-Nurminen).
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Confidence of the interval.
    pub confidence: f64,
}

/// Unconditional exact test of the 2 x 2 table `[[a, b], [c, d]]`: rows are groups of fixed size, the first column counts
/// those that rooted.
///
/// `P = sup over p of sum C(n1, x1) C(n2, x2) p^s (1 - p)^(N - s)`, `s = x1 + x2`, over all tables at least as extreme.
/// All local maxima are found; ties of the score statistic are decided in whole numbers. Less conservative than Fisher's
/// test when only the group sizes were fixed, as in a trial. Not for cuttings that share trays.
///
/// # Errors
/// [`CountError::NotDefined`] when the table is not 2 x 2; [`CountError::TooLargeForExact`] above 20,000 plants;
/// [`CountError::Level`]; [`Error::Interrupted`](crate::Error::Interrupted) when stopped.
///
/// # References
/// Barnard 1947, Biometrika 34:123-138; Boschloo 1970, Stat. Neerl. 24:1-9; Suissa & Shuster 1985, J. R. Stat. Soc. A
/// 148:317-327.
///
/// ```
/// use rootling::counts::{ContingencyTable, UnconditionalOrder, unconditional};
/// let table = ContingencyTable::new(vec![vec![5, 0], vec![0, 5]])?;
/// let found = unconditional(&table, UnconditionalOrder::Barnard, 0.95, &rootling::control::Control::new())?;
/// // only this table and its mirror, both most probable at p = 1/2: 2 / 2^10
/// approx::assert_relative_eq!(found.numbers.p * 512.0, 1.0, epsilon = 0.0, max_relative = 1e-9);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn unconditional(
    table: &ContingencyTable,
    order: UnconditionalOrder,
    level: f64,
    control: &Control,
) -> Result<Answer<UnconditionalTest>> {
    let Some([a, b, c, d]) = table.four_cells() else {
        return Err(CountError::NotDefined {
            what: "this exact test",
            why: "the table is not 2 x 2; use the chi-square tests or compare two rows and two columns at a time",
        }
        .into());
    };
    if table.total() > MOST_UNCONDITIONAL {
        return Err(CountError::TooLargeForExact { total: table.total(), most: MOST_UNCONDITIONAL }.into());
    }
    let (first, second) = (Count { rooted: a, stuck: a + b }, Count { rooted: c, stuck: c + d });
    let gap = difference(first, second, DifferenceMethod::MiettinenNurminen, level)?;
    let margins = Margins::new(first.stuck as usize, second.stuck as usize);
    let observed = Observed { x: a as usize, rooted: (a + c) as usize };
    let largest = |side: Side| -> Result<Supremum> {
        if table.is_fixed() {
            // Such a table is certain at a rate of 0 or 1.
            return Ok(Supremum { ln_value: 0.0, p: f64::from(u8::from(a > 0)) });
        }
        supremum(&ln_region(&margins, observed, order, side, control)?, control)
    };
    let both = largest(Side::Both)?;
    let number = |found: Supremum| found.ln_value.exp().min(1.0);
    // Sides are those of the first row.
    let (less, greater) = (number(largest(Side::Greater)?), number(largest(Side::Less)?));
    let figures = UnconditionalTest {
        method: order,
        p: number(both),
        p_lower: less,
        p_higher: greater,
        doubled: (2.0 * less.min(greater)).min(1.0),
        common_rate: both.p,
        value: gap.value,
        low: gap.low,
        high: gap.high,
        confidence: level,
    };
    Ok(answer(figures, first, second, order))
}

fn answer(
    figures: UnconditionalTest,
    first: Count,
    second: Count,
    order: UnconditionalOrder,
) -> Answer<UnconditionalTest> {
    let mut table = Sheet::default();
    table.text("what", ["difference", "lower second rate", "higher second rate"]);
    table.difference("value", [Some(figures.value), None, None]);
    table.difference("low", [Some(figures.low), None, None]);
    table.difference("high", [Some(figures.high), None, None]);
    table.p("p", [figures.p, figures.p_lower, figures.p_higher]);
    let (ordering, cited) = match order {
        UnconditionalOrder::Boschloo => {
            ("the P value of Fisher's exact test (two-sided by probability)", references::BOSCHLOO_1970)
        }
        UnconditionalOrder::Barnard => ("the score statistic with pooled variance", references::BARNARD_1947),
        UnconditionalOrder::BarnardUnpooled => ("the Wald statistic with unpooled variance", references::BARNARD_1947),
    };
    let sentence = format!(
        "{} difference is shown ({}): {} in the second group than in the first.",
        if figures.p <= 1.0 - figures.confidence { "A" } else { "No" },
        numbers::p_value(figures.p),
        gap_in_words((figures.value, figures.low, figures.high), figures.confidence, "trees per 100")
    );
    let details = vec![
        format!("{}.", capital(&rates_in_words(first, second))),
        format!("{}.", capital(&range_in_words(figures.low, figures.high))),
    ];
    Answer {
        kind: "unconditional_test".to_owned(),
        details,
        table,
        sentence,
        notes: vec![cautions::independent_cuttings()],
        methods: format!(
            "Two take rates were compared by an unconditional exact test that orders the tables by {ordering} and takes the largest probability over the unknown common rate; the difference has its score interval (Miettinen-Nurminen). Cuttings were treated as independent."
        ),
        references: vec![cited.to_owned(), references::MIETTINEN_NURMINEN_1985.to_owned()],
        made_with: MadeWith::new(&[
            ("method", figures.method.name().to_owned()),
            ("confidence", figures.confidence.to_string()),
        ]),
        numbers: figures,
    }
}
