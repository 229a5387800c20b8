//! The faces of one rate from plain counts: table, sentence, methods and what to cite.

use serde::Serialize;

use super::interval::{IntervalMethod, Sides};
use super::target::{TargetMethod, TargetTest};
use super::words::{interval_sentence, target_details, target_sentence};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::Result;
use crate::estimate::{Count, Estimate};
use crate::report::{cautions, numbers, references};

/// What holds for every interval of one method.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IntervalFaces {
    /// Named cautions.
    pub notes: Vec<Note>,
    /// The sentence for a methods section.
    pub methods: String,
    /// Citations.
    pub references: Vec<String>,
}

/// Notes, methods and references of an interval, whatever its counts.
///
/// ```
/// use rootling::rates::{IntervalMethod, Sides, interval_faces};
/// assert!(interval_faces(IntervalMethod::Wilson, 0.95, Sides::Both).methods.contains("Wilson"));
/// ```
#[must_use]
pub fn interval_faces(method: IntervalMethod, level: f64, sides: Sides) -> IntervalFaces {
    let kind = match sides {
        Sides::Both => "interval",
        Sides::Lower => "lower bound",
        Sides::Upper => "upper bound",
    };
    IntervalFaces {
        notes: vec![cautions::independent_cuttings()],
        methods: format!("The take rate has {} as its {} {kind}.", method.in_words(), numbers::confidence(level)),
        references: references::of_method(method.name()).iter().map(|one| (*one).to_owned()).collect(),
    }
}

/// A take rate of plain counts with all its faces.
///
/// ```
/// use rootling::{Count, rates::{IntervalMethod, Sides, interval, interval_answer}};
/// let count = Count { rooted: 81, stuck: 263 };
/// let found = interval_answer(count, interval(count, IntervalMethod::Wilson, 0.95)?, Sides::Both);
/// assert_eq!(found.notes.len(), 1);
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn interval_answer(
    count: Count,
    found: Estimate<IntervalMethod>,
    sides: Sides,
) -> Answer<Estimate<IntervalMethod>> {
    let faces = interval_faces(found.method, found.confidence, sides);
    let mut table = Sheet::default();
    table.rate("value", [found.value]);
    table.rate("low", [found.low]);
    table.rate("high", [found.high]);
    table.whole("rooted", [count.rooted]);
    table.whole("stuck", [count.stuck]);
    Answer {
        kind: "interval".to_owned(),
        details: Vec::new(),
        table,
        sentence: interval_sentence(count, &found, sides),
        notes: faces.notes,
        methods: faces.methods,
        references: faces.references,
        made_with: MadeWith::new(&[
            ("method", found.method.name().to_owned()),
            ("confidence", found.confidence.to_string()),
        ]),
        numbers: found,
    }
}

/// A rate against a target with all its faces.
///
/// # Errors
/// As [`target_sentence`].
///
/// ```
/// use rootling::{Count, rates::{TargetMethod, against_target, target_answer}};
/// let count = Count { rooted: 14, stuck: 20 };
/// let found = target_answer(count, against_target(count, 0.5, TargetMethod::Exact)?)?;
/// assert!(found.methods.contains("not more probable"));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn target_answer(count: Count, found: TargetTest) -> Result<Answer<TargetTest>> {
    let (described, cited) = match found.method {
        TargetMethod::Exact => (
            "the exact binomial test: the two-sided P sums all counts that are not more probable than the observed one",
            None,
        ),
        TargetMethod::Doubled => (
            "the exact binomial test: the two-sided P is twice the smaller tail",
            Some(references::CLOPPER_PEARSON_1934),
        ),
        TargetMethod::Blaker => (
            "the exact binomial test: the two-sided P adds to the smaller tail the largest opposite tail that does not exceed it (Blaker)",
            Some(references::BLAKER_2000),
        ),
        TargetMethod::MidP => (
            "the mid-P form of the binomial test: twice the smaller tail, in which the observed count weighs one half",
            Some(references::LANCASTER_1961),
        ),
        TargetMethod::Score => ("the score test", Some(references::WILSON_1927)),
    };
    let mut table = Sheet::default();
    table.text("test", ["two-sided", "lower", "higher"]);
    table.p("p", [found.p, found.p_lower, found.p_higher]);
    Ok(Answer {
        kind: "target_test".to_owned(),
        details: target_details(count, &found),
        table,
        sentence: target_sentence(count, &found)?,
        notes: vec![cautions::independent_cuttings()],
        methods: format!(
            "The take rate was tested against a target of {} by {described}.",
            numbers::percent(found.target)
        ),
        references: cited.into_iter().map(str::to_owned).collect(),
        made_with: MadeWith::new(&[("method", found.method.name().to_owned()), ("target", found.target.to_string())]),
        numbers: found,
    })
}
