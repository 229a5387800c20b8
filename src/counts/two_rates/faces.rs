//! The faces of two rates compared from plain counts: table, sentence, methods and what to cite.

use super::difference::DifferenceMethod;
use super::odds_ratio::OddsRatioMethod;
use super::ratio::{RatioEstimate, RatioMethod};
use super::words::{difference_details, difference_sentence, odds_ratio_sentence, rates_in_words, ratio_sentence};
use crate::answer::{Answer, MadeWith, Scale, Sheet};
use crate::estimate::{Count, Estimate, TestName, TestResult};
use crate::report::{capital, cautions, numbers, references};

/// How the interval of a difference is made, for a methods section.
fn difference_method(method: DifferenceMethod) -> &'static str {
    match method {
        DifferenceMethod::MiettinenNurminen => {
            "the score interval of Miettinen and Nurminen (variance factor N / (N - 1))"
        }
        DifferenceMethod::Mee => "Mee's score interval (that of Miettinen and Nurminen without the factor N / (N - 1))",
        DifferenceMethod::Newcombe => "Newcombe's hybrid of the two Wilson intervals",
        DifferenceMethod::NewcombeCorrected => {
            "Newcombe's hybrid of the two Wilson intervals with continuity correction"
        }
        DifferenceMethod::AgrestiCaffo => {
            "the interval of Agresti and Caffo, which adds one rooted and one not rooted cutting to each group"
        }
        DifferenceMethod::Exact => {
            "the exact unconditional interval, two one-sided tests on the score statistic inverted after Chan and Zhang"
        }
        DifferenceMethod::Wald => "the Wald interval, which is poor in small groups and near 0 and 100 %",
    }
}

fn ratio_method(method: RatioMethod) -> &'static str {
    match method {
        RatioMethod::Koopman => "Koopman's score interval",
        RatioMethod::MiettinenNurminen => "the score interval of Miettinen and Nurminen (variance factor N / (N - 1))",
        RatioMethod::Log => "the normal interval of the log ratio",
    }
}

fn odds_method(method: OddsRatioMethod) -> &'static str {
    match method {
        OddsRatioMethod::ConditionalExact => {
            "exact conditional limits (Cornfield); the value is the conditional maximum likelihood estimate"
        }
        OddsRatioMethod::MidP => "conditional mid-P limits; the value is the conditional maximum likelihood estimate",
        OddsRatioMethod::Woolf => "Woolf's normal interval of the log odds ratio",
        OddsRatioMethod::MiettinenNurminen => {
            "the score interval of Miettinen and Nurminen (variance factor N / (N - 1))"
        }
        OddsRatioMethod::Score => "the score interval after Cornfield",
    }
}

/// What stands around one measure: kind, what it is called, its three numbers, sentence, method.
struct Measure {
    kind: &'static str,
    what: &'static str,
    scale: Scale,
    numbers: [Option<f64>; 3],
    level: f64,
    method: &'static str,
    described: &'static str,
    sentence: String,
    details: Vec<String>,
}

impl Measure {
    fn around<F>(self, figures: F) -> Answer<F> {
        let [value, low, high] = self.numbers;
        let mut table = Sheet::default();
        table.text("what", [self.what]);
        table.scaled("value", self.scale, [value]);
        table.scaled("low", self.scale, [low]);
        table.scaled("high", self.scale, [high]);
        let cited = references::of_method(self.method).iter().map(|one| (*one).to_owned()).collect();
        Answer {
            kind: self.kind.to_owned(),
            details: self.details,
            table,
            sentence: self.sentence,
            notes: vec![cautions::independent_cuttings()],
            methods: format!(
                "The {} of the two take rates, second against first, has {} as its {} interval.",
                self.what,
                self.described,
                numbers::confidence(self.level)
            ),
            references: cited,
            made_with: MadeWith::new(&[("method", self.method.to_owned()), ("confidence", self.level.to_string())]),
            numbers: figures,
        }
    }
}

/// A difference of two rates with all its faces.
///
/// ```
/// use rootling::{Count, counts::{DifferenceMethod, difference, difference_answer}};
/// let (strong, weak) = (Count { rooted: 56, stuck: 70 }, Count { rooted: 48, stuck: 80 });
/// let found = difference(weak, strong, DifferenceMethod::MiettinenNurminen, 0.95)?;
/// assert!(difference_answer(weak, strong, found).methods.contains("N / (N - 1)"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn difference_answer(
    first: Count,
    second: Count,
    found: Estimate<DifferenceMethod>,
) -> Answer<Estimate<DifferenceMethod>> {
    Measure {
        kind: "difference",
        what: "difference",
        scale: Scale::Difference,
        numbers: [found.value, found.low, found.high].map(Some),
        level: found.confidence,
        method: found.method.name(),
        described: difference_method(found.method),
        details: difference_details(first, second, &found),
        sentence: difference_sentence(first, second, &found),
    }
    .around(found)
}

/// A ratio of two rates with all its faces.
///
/// ```
/// use rootling::{Count, counts::{RatioMethod, ratio, ratio_answer}};
/// let (strong, weak) = (Count { rooted: 56, stuck: 70 }, Count { rooted: 48, stuck: 80 });
/// let found = ratio(weak, strong, RatioMethod::Koopman, 0.95)?;
/// assert!(ratio_answer(weak, strong, found).methods.contains("Koopman"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn ratio_answer(
    first: Count,
    second: Count,
    found: RatioEstimate<RatioMethod>,
) -> Answer<RatioEstimate<RatioMethod>> {
    Measure {
        kind: "ratio",
        what: "ratio",
        scale: Scale::Ratio,
        numbers: [found.value, Some(found.low), Some(found.high)],
        level: found.confidence,
        method: found.method.name(),
        described: ratio_method(found.method),
        details: Vec::new(),
        sentence: ratio_sentence(first, second, &found),
    }
    .around(found)
}

/// An odds ratio of two rates with all its faces.
///
/// ```
/// use rootling::{Count, counts::{OddsRatioMethod, odds_ratio, odds_ratio_answer}};
/// let (strong, weak) = (Count { rooted: 56, stuck: 70 }, Count { rooted: 48, stuck: 80 });
/// let found = odds_ratio(weak, strong, OddsRatioMethod::Woolf, 0.95)?;
/// assert!(odds_ratio_answer(weak, strong, found).methods.contains("Woolf"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn odds_ratio_answer(
    first: Count,
    second: Count,
    found: RatioEstimate<OddsRatioMethod>,
) -> Answer<RatioEstimate<OddsRatioMethod>> {
    Measure {
        kind: "odds_ratio",
        what: "odds ratio",
        scale: Scale::OddsRatio,
        numbers: [found.value, Some(found.low), Some(found.high)],
        level: found.confidence,
        method: found.method.name(),
        described: odds_method(found.method),
        details: vec![format!("{}.", capital(&rates_in_words(first, second)))],
        sentence: odds_ratio_sentence(first, second, &found),
    }
    .around(found)
}

/// A test of equal rates with all its faces: the difference first, then P.
///
/// ```
/// use rootling::{Count, counts::{equality_answer, score_test}};
/// let (autumn, spring) = (Count { rooted: 156, stuck: 240 }, Count { rooted: 84, stuck: 240 });
/// let found = equality_answer(spring, autumn, score_test(spring, autumn)?);
/// assert!(found.sentence.starts_with("A difference is shown (P < 0.001): 65.0 of 100 rooted against 35.0"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn equality_answer(first: Count, second: Count, found: TestResult) -> Answer<TestResult> {
    let score = found.method == TestName::Score;
    let mut table = Sheet::default();
    table.text("test", [found.method.name()]);
    table.statistic("statistic", [found.statistic]);
    table.degrees("df", [found.df]);
    table.p("p", [found.p]);
    Answer {
        kind: "equality_test".to_owned(),
        details: Vec::new(),
        table,
        sentence: format!(
            "{} difference is shown ({}): {}.",
            if found.p <= 0.05 { "A" } else { "No" },
            numbers::p_value(found.p),
            super::words::rates_in_words(first, second)
        ),
        notes: vec![cautions::independent_cuttings()],
        methods: if score {
            "Equal take rates were tested by the score test, which is Pearson's chi-square without correction (1 degree of freedom)."
        } else {
            "Equal take rates were tested by the likelihood-ratio test (1 degree of freedom)."
        }
        .to_owned(),
        references: vec![if score { references::PEARSON_1900 } else { references::WILKS_1938 }.to_owned()],
        made_with: MadeWith::new(&[("method", found.method.name().to_owned())]),
        numbers: found,
    }
}
