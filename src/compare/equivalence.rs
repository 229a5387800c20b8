//! Is one rate as good as another, within a margin? Two one-sided tests of a difference against a margin.

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::choice::choice;
use crate::control::Control;
use crate::counts::two_rates::{DifferenceMethod, difference_until, margin_p_values, range_in_words};
use crate::error::{CountError, Result};
use crate::estimate::{Count, check_level};
use crate::report::{capital, cautions, numbers, references};

/// What is to be shown about the second rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Claim {
    /// It differs from the first by less than the margin, either way.
    #[default]
    Equivalent,
    /// It is not lower than the first by the margin or more.
    NotWorse,
    /// It is not higher than the first by the margin or more.
    NotBetter,
}

choice!(
    Claim, "claim":
    Equivalent = "equivalent",
    NotWorse = "not-worse",
    NotBetter = "not-better",
);

/// How the two one-sided tests are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum MarginTest {
    /// Score tests with the variance under the margin and the factor N / (N - 1).
    #[default]
    Score,
    /// Exact unconditional tests on the score statistic (Chan & Zhang 1999).
    Exact,
}

choice!(
    MarginTest, "test against a margin":
    Score = "score",
    Exact = "exact",
);

/// Options of [`equivalence`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EquivalenceOptions {
    /// The largest difference that does not matter, a proportion above 0 and at most 1.
    pub margin: f64,
    /// What is to be shown.
    pub claim: Claim,
    /// How.
    pub method: MarginTest,
    /// Confidence in each one-sided test, at least 1/2; the interval shown has `2 confidence - 1`.
    pub confidence: f64,
}

/// Two rates against a margin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Equivalence {
    /// Second rate minus first.
    pub value: f64,
    /// Lower limit at `interval_level`.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Level of the interval, twice the level of each test less 1.
    pub interval_level: f64,
    /// Confidence of each one-sided test.
    pub confidence: f64,
    /// The margin.
    pub margin: f64,
    /// The claim.
    pub claim: Claim,
    /// P against a second rate lower by the margin or more.
    pub p_not_worse: f64,
    /// P against a second rate higher by the margin or more.
    pub p_not_better: f64,
    /// P of the claim; for equivalence the larger of the two.
    pub p: f64,
    /// Whether the claim is shown: P is at most 1 - level.
    pub shown: bool,
    /// The method.
    pub method: MarginTest,
}

/// Tests whether two take rates differ by less than a margin (a proportion: 0.10 is 10 trees per 100).
///
/// Equivalence is shown when both one-sided tests, of a difference of at most minus the margin and of at least the margin,
/// reject at 1 - level; "not worse" and "not better" need one of them. The interval of level `2 level - 1` from the same
/// method lies inside the margin exactly when the score tests reject. Cuttings count as independent.
///
/// # Errors
/// [`CountError`] for impossible counts, a margin outside 0 to 1 or a level outside 1/2 to 1; above 20,000 cuttings for the
/// exact method; [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657-680; Farrington & Manning 1990, Stat. Med. 9:1447-1454; Miettinen &
/// Nurminen 1985, Stat. Med. 4:213-226; Chan & Zhang 1999, Biometrics 55:1202-1209.
///
/// ```
/// use rootling::{Count, control::Control, compare::{EquivalenceOptions, Claim, MarginTest, equivalence}};
/// let options = EquivalenceOptions { margin: 0.1, claim: Claim::Equivalent, method: MarginTest::Score, confidence: 0.95 };
/// let (a, b) = (Count { rooted: 308, stuck: 400 }, Count { rooted: 312, stuck: 400 });
/// let found = equivalence(a, b, &options, &Control::new())?;
/// assert!(found.numbers.shown && found.sentence.contains("equivalent within 10.0 trees per 100"));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn equivalence(
    first: Count,
    second: Count,
    options: &EquivalenceOptions,
    control: &Control,
) -> Result<Answer<Equivalence>> {
    let EquivalenceOptions { margin, claim, method, confidence: level } = *options;
    first.check()?;
    second.check()?;
    check_level(level)?;
    if level <= 0.5 {
        let name = "confidence of a one-sided test";
        return Err(CountError::OutOfRange { name, value: level, low: 0.5, high: 1.0 }.into());
    }
    if !(margin > 0.0 && margin <= 1.0) {
        return Err(CountError::Margin { value: margin }.into());
    }
    let [p_not_worse, p_not_better] = margin_p_values(first, second, margin, method == MarginTest::Exact, control)?;
    let p = match claim {
        Claim::Equivalent => p_not_worse.max(p_not_better),
        Claim::NotWorse => p_not_worse,
        Claim::NotBetter => p_not_better,
    };
    let interval = match method {
        MarginTest::Score => DifferenceMethod::MiettinenNurminen,
        MarginTest::Exact => DifferenceMethod::Exact,
    };
    let interval_level = 2.0 * level - 1.0;
    let found = difference_until(first, second, interval, interval_level, control)?;
    let figures = Equivalence {
        value: found.value,
        low: found.low,
        high: found.high,
        interval_level,
        confidence: level,
        margin,
        claim,
        p_not_worse,
        p_not_better,
        p,
        shown: p <= 1.0 - level,
        method,
    };
    Ok(answer(figures, first, second, options))
}

fn answer(figures: Equivalence, first: Count, second: Count, options: &EquivalenceOptions) -> Answer<Equivalence> {
    let mut table = Sheet::default();
    table.text("what", ["difference", "against lower by the margin or more", "against higher by the margin or more"]);
    table.difference("value", [Some(figures.value), None, None]);
    table.difference("low", [Some(figures.low), None, None]);
    table.difference("high", [Some(figures.high), None, None]);
    table.p("p", [None, Some(figures.p_not_worse), Some(figures.p_not_better)]);
    let mut notes = vec![cautions::independent_cuttings()];
    if !figures.shown {
        notes.push(Note::new("not_shown", "Not shown is not disproved: more trays may settle it either way."));
    }
    Answer {
        kind: "equivalence".to_owned(),
        details: vec![format!("{} ({}).", capital(&range_in_words(figures.low, figures.high)), limits(&figures))],
        sentence: sentence(&figures, first, second, options.claim),
        methods: methods(&figures, options),
        references: [references::SCHUIRMANN_1987]
            .into_iter()
            .chain(match options.method {
                MarginTest::Score => [references::MIETTINEN_NURMINEN_1985],
                MarginTest::Exact => [references::CHAN_ZHANG_1999],
            })
            .map(str::to_owned)
            .collect(),
        notes,
        table,
        made_with: MadeWith::new(&[
            ("margin", figures.margin.to_string()),
            ("claim", figures.claim.name().to_owned()),
            ("method", figures.method.name().to_owned()),
            ("confidence", figures.confidence.to_string()),
        ]),
        numbers: figures,
    }
}

fn sentence(figures: &Equivalence, first: Count, second: Count, claim: Claim) -> String {
    let margin = numbers::points(figures.margin);
    let verdict = match (claim, figures.shown) {
        (Claim::Equivalent, true) => format!("The two are equivalent within {margin} trees per 100"),
        (Claim::Equivalent, false) => format!("Equivalence within {margin} trees per 100 is not shown"),
        (Claim::NotWorse, true) => format!("The second is not worse than the first by {margin} trees per 100 or more"),
        (Claim::NotWorse, false) => {
            format!("It is not shown that the second is less than {margin} trees per 100 worse than the first")
        }
        (Claim::NotBetter, true) => {
            format!("The second is not better than the first by {margin} trees per 100 or more")
        }
        (Claim::NotBetter, false) => {
            format!("It is not shown that the second is less than {margin} trees per 100 better than the first")
        }
    };
    format!(
        "{verdict} ({}): {} of 100 rooted against {}.",
        numbers::p_value(figures.p),
        numbers::points(second.rate()),
        numbers::points(first.rate())
    )
}

fn limits(figures: &Equivalence) -> String {
    numbers::interval(numbers::points(figures.low), numbers::points(figures.high), figures.interval_level)
}

fn methods(figures: &Equivalence, options: &EquivalenceOptions) -> String {
    let tests = match options.method {
        MarginTest::Score => "score tests with the variance estimated under the margin and the factor N / (N - 1)",
        MarginTest::Exact => {
            "exact unconditional tests that order the tables by the score statistic under the margin and take the largest probability over the unknown rate"
        }
    };
    format!(
        "The difference of two take rates was tested against a margin of {} trees per 100 by one-sided {tests}, each at {}; the interval of level {} comes from the same method. Cuttings were treated as independent.",
        numbers::points(figures.margin),
        numbers::confidence(1.0 - figures.confidence),
        numbers::confidence(figures.interval_level)
    )
}
