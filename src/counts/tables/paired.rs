//! Pairs of plants, or two readings of one plant: does the rate change within pairs?

use serde::{Deserialize, Serialize};

use super::chi_square::chi_square_result;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::choice::choice;
use crate::counts::{gap_in_words, range_in_words};
use crate::error::{CountError, Error, Result};
use crate::estimate::{Count, LARGEST_COUNT, TestName, TestResult, around, check_level};
use crate::math::distributions::normal;
use crate::math::search::brent;
use crate::rates::{IntervalMethod, TargetMethod, against_target, interval, wilson};
use crate::report::{capital, numbers, references};

/// How the interval of a paired difference is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum PairedMethod {
    /// Score interval (Tango 1998).
    #[default]
    Tango,
    /// Wilson limits of both rates combined with their correlation (Newcombe 1998, method 10).
    Newcombe,
}

choice!(
    PairedMethod, "paired interval":
    Tango = "tango",
    Newcombe = "newcombe",
);

/// Paired rates compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Paired {
    /// Pairs.
    pub n_pairs: u64,
    /// Pairs that differ.
    pub n_discordant: u64,
    /// Rate of the first of each pair.
    pub first_rate: f64,
    /// Rate of the second of each pair.
    pub second_rate: f64,
    /// Second rate minus first.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Confidence of the interval.
    pub confidence: f64,
    /// The method of the interval.
    pub method: PairedMethod,
    /// The leading two-sided P: mid-P.
    pub p: f64,
    /// `McNemar`'s test: exact, mid-P, asymptotic, asymptotic with continuity correction.
    pub tests: Vec<TestResult>,
    /// Odds ratio within pairs, second over first, `c / b`: infinite when only b is 0, `None` when no pair differs.
    pub odds_ratio: Option<f64>,
    /// Exact lower limit of the odds ratio.
    pub odds_ratio_low: f64,
    /// Exact upper limit.
    pub odds_ratio_high: f64,
}

/// `McNemar`'s tests and the difference of two rates in `n` pairs: `[[a, b], [c, d]]` counts pairs by first (rows) and second
/// (columns) plant, rooted first.
///
/// With `m = b + c` pairs that differ: exact P from the binomial(m, 1/2), doubled; mid-P the same with the observed count
/// weighing one half (it leads: it holds its level where the exact form is far below it); statistics `(b - c)^2 / m` and
/// `(|b - c| - 1)^2 / m`. The difference, second minus first, is `(c - b) / n`. A limit that misses its estimate, as at a
/// low level, is moved out to it. Not for groups that are not paired.
///
/// # Errors
/// [`CountError`] for a table that is not 2 x 2, holds no pair or too many, and for an impossible level.
///
/// # References
/// `McNemar` 1947, Psychometrika 12:153-157; Tango 1998, Stat. Med. 17:891-908; Newcombe 1998, Stat. Med. 17:2635-2650;
/// Fagerland, Lydersen & Laake 2013, BMC Med. Res. Methodol. 13:91.
///
/// ```
/// use rootling::counts::{PairedMethod, paired};
/// let found = paired([[4, 9], [3, 16]], PairedMethod::Tango, 0.95)?;
/// approx::assert_relative_eq!(found.numbers.tests[0].p, 0.14599609375, epsilon = 0.0, max_relative = 6.8e-14); // 2 P(X <= 3), X binomial(12, 1/2)
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn paired(table: [[u64; 2]; 2], method: PairedMethod, level: f64) -> Result<Answer<Paired>> {
    let [[a, b], [c, d]] = table;
    check_level(level)?;
    let total = [a, b, c, d].iter().fold(0_u64, |sum, count| sum.saturating_add(*count));
    if total > LARGEST_COUNT {
        return Err(CountError::TooLarge { value: total }.into());
    }
    if total == 0 {
        return Err(
            CountError::NotDefined { what: "a paired comparison", why: "there is no pair; enter the pairs" }.into()
        );
    }
    let z = normal::isf(0.5 * (1.0 - level));
    // What follows subtracts its second from its first, so the pairs enter turned round.
    let counts = Pairs { a: a as f64, b: c as f64, c: b as f64, d: d as f64, n: total as f64 };
    let (low, high) = match method {
        PairedMethod::Tango => counts.tango(z)?,
        PairedMethod::Newcombe => counts.newcombe(z),
    };
    let tests = tests(b, c)?;
    let p = tests.iter().find(|test| test.method == TestName::MidP).map_or(1.0, |test| test.p);
    let (odds_ratio, limits) = within_pairs(c, b, level)?;
    let (odds_ratio_low, odds_ratio_high) = odds_ratio.map_or(limits, |value| around(value, limits));
    let value = (counts.b - counts.c) / counts.n;
    let (low, high) = around(value, (low, high));
    let figures = Paired {
        n_pairs: total,
        n_discordant: b + c,
        first_rate: (counts.a + counts.c) / counts.n,
        second_rate: (counts.a + counts.b) / counts.n,
        value,
        low,
        high,
        confidence: level,
        method,
        p,
        tests,
        odds_ratio,
        odds_ratio_low,
        odds_ratio_high,
    };
    Ok(answer(figures, method))
}

/// A checked 2 x 2 table of pairs; rows and columns may be empty.
///
/// # Errors
/// [`CountError::TableTooSmall`] or [`CountError::NotDefined`] unless there are two rows of two.
pub fn pairs(cells: &[Vec<u64>]) -> Result<[[u64; 2]; 2]> {
    match cells {
        [first, second] => match (first.as_slice(), second.as_slice()) {
            ([a, b], [c, d]) => Ok([[*a, *b], [*c, *d]]),
            _ => Err(not_two_by_two()),
        },
        _ => Err(not_two_by_two()),
    }
}

fn not_two_by_two() -> Error {
    CountError::NotDefined {
        what: "a paired comparison",
        why: "the table is not 2 x 2; give [[both rooted, first only], [second only, neither]]",
    }
    .into()
}

fn tests(b: u64, c: u64) -> Result<Vec<TestResult>> {
    let (m, off) = ((b + c) as f64, b.abs_diff(c) as f64);
    let plain = |method: TestName, p: f64| TestResult { method, statistic: None, df: None, error_df: None, p };
    if b + c == 0 {
        let all = [TestName::Exact, TestName::MidP, TestName::Asymptotic, TestName::AsymptoticCorrected];
        return Ok(all.map(|name| plain(name, 1.0)).to_vec());
    }
    let count = Count::new(b, b + c)?;
    let exact = against_target(count, 0.5, TargetMethod::Doubled)?.p;
    let mid = against_target(count, 0.5, TargetMethod::MidP)?.p;
    let kept = (off - 1.0).max(0.0);
    Ok(vec![
        plain(TestName::Exact, exact),
        plain(TestName::MidP, mid),
        chi_square_result(TestName::Asymptotic, off * off / m, 1.0),
        chi_square_result(TestName::AsymptoticCorrected, kept * kept / m, 1.0),
    ])
}

/// Odds ratio within pairs with exact limits, from the share of b among the pairs that differ.
fn within_pairs(b: u64, c: u64, level: f64) -> Result<(Option<f64>, (f64, f64))> {
    if b + c == 0 {
        return Ok((None, (0.0, f64::INFINITY)));
    }
    let share = interval(Count::new(b, b + c)?, IntervalMethod::ClopperPearson, level)?;
    let turned = interval(Count::new(c, b + c)?, IntervalMethod::ClopperPearson, level)?;
    let odds = (share.low / turned.high, share.high / turned.low);
    Ok((Some(b as f64 / c as f64), odds))
}

/// Counts of pairs.
#[derive(Debug, Clone, Copy)]
struct Pairs {
    a: f64,
    b: f64,
    c: f64,
    d: f64,
    n: f64,
}

impl Pairs {
    /// Differences at which the score statistic is z.
    fn tango(self, z: f64) -> Result<(f64, f64)> {
        let value = (self.b - self.c) / self.n;
        let low = if value <= -1.0 { -1.0 } else { brent(|d| self.share(d, z) - 0.5, -1.0, value, 1e-15)? };
        let high = if value >= 1.0 { 1.0 } else { brent(|d| self.share(d, z) + 0.5, value, 1.0, 1e-15)? };
        Ok((low, high))
    }

    /// `sign(D) D^2 / (D^2 + z^2 V)` for the difference `delta`: 1/2 where the score statistic is z.
    fn share(self, delta: f64, z: f64) -> f64 {
        let off = self.b - self.c - self.n * delta;
        if off == 0.0 {
            return 0.0;
        }
        let square = 2.0 * self.n;
        let linear = (2.0 * self.n - self.b + self.c) * delta - self.b - self.c;
        let constant = -self.c * delta * (1.0 - delta);
        let root = (linear * linear - 4.0 * square * constant).max(0.0).sqrt();
        // Whichever form of the root subtracts nothing.
        let second = if linear <= 0.0 { (root - linear) / (2.0 * square) } else { -2.0 * constant / (root + linear) };
        let variance = (self.n * (2.0 * second + delta * (1.0 - delta))).max(0.0);
        (off * off / (off * off + z * z * variance)).copysign(off)
    }

    /// Wilson limits combined with the correlation of the table, reduced by n / 2 where it is positive.
    fn newcombe(self, z: f64) -> (f64, f64) {
        let (first, second) = (self.a + self.b, self.a + self.c);
        let product = first * (self.n - first) * second * (self.n - second);
        let excess = self.a * self.d - self.b * self.c;
        let excess = if excess > 0.0 { (excess - 0.5 * self.n).max(0.0) } else { excess };
        let phi = if product > 0.0 { excess / product.sqrt() } else { 0.0 };
        let (p1, p2) = (first / self.n, second / self.n);
        let ((l1, u1), (l2, u2)) = (wilson(first, self.n, z), wilson(second, self.n, z));
        let combined = |x: f64, y: f64| (x * x - 2.0 * phi * x * y + y * y).max(0.0).sqrt();
        let value = (self.b - self.c) / self.n;
        (value - combined(p1 - l1, u2 - p2), value + combined(u1 - p1, p2 - l2))
    }
}

fn answer(figures: Paired, method: PairedMethod) -> Answer<Paired> {
    let mut table = Sheet::default();
    let lead = |one: f64| std::iter::once(Some(one)).chain(figures.tests.iter().map(|_| None));
    let tested = |of: fn(&TestResult) -> Option<f64>| std::iter::once(None).chain(figures.tests.iter().map(of));
    let names = figures.tests.iter().map(|test| test.method.name());
    table.text("what", std::iter::once("difference").chain(names));
    table.difference("value", lead(figures.value));
    table.difference("low", lead(figures.low));
    table.difference("high", lead(figures.high));
    table.statistic("statistic", tested(|test| test.statistic));
    table.degrees("df", tested(|test| test.df));
    table.p("p", tested(|test| Some(test.p)));
    let mut notes = Vec::new();
    if figures.n_discordant == 0 {
        notes
            .push(Note::new("no_discordant_pair", "No pair differs: P is 1, and there is no odds ratio within pairs."));
    }
    let sentence = format!(
        "{} change within pairs is shown ({}): {} among the second than among the first.",
        if figures.p <= 1.0 - figures.confidence { "A" } else { "No" },
        numbers::p_value(figures.p),
        gap_in_words((figures.value, figures.low, figures.high), figures.confidence, "per 100")
    );
    let details = vec![
        format!(
            "{} of 100 rooted among the second against {} among the first of {} pairs, {} of which differ.",
            numbers::points(figures.second_rate),
            numbers::points(figures.first_rate),
            figures.n_pairs,
            figures.n_discordant
        ),
        format!("{}.", capital(&range_in_words(figures.low, figures.high))),
    ];
    let (interval, cited) = match method {
        PairedMethod::Tango => ("Tango's score interval", references::TANGO_1998),
        PairedMethod::Newcombe => {
            ("Newcombe's interval from Wilson limits and the correlation", references::NEWCOMBE_1998C)
        }
    };
    Answer {
        kind: "paired".to_owned(),
        details,
        methods: format!(
            "Rates within pairs were compared by McNemar's test on the pairs that differ (mid-P form leading, exact and asymptotic forms beside it); the difference has {interval}."
        ),
        references: vec![references::MCNEMAR_1947.to_owned(), references::LANCASTER_1961.to_owned(), cited.to_owned()],
        notes,
        table,
        sentence,
        made_with: MadeWith::new(&[
            ("method", figures.method.name().to_owned()),
            ("confidence", figures.confidence.to_string()),
        ]),
        numbers: figures,
    }
}
