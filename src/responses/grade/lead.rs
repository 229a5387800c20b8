//! What the share that reaches a grade says, handed on to the words of grades.

use crate::answer::{Answer, Note};
use crate::compare::Comparison;

/// What the share that reaches the grade says: its decision, with what stands beside it.
pub(super) struct Lead {
    pub(super) sentence: String,
    pub(super) details: Vec<String>,
    pub(super) notes: Vec<Note>,
    pub(super) methods: String,
    pub(super) references: Vec<String>,
    pub(super) rests_on: Vec<(String, f64)>,
}

impl Lead {
    pub(super) fn of<T>(answer: Answer<T>) -> Self {
        let Answer { sentence, details, notes, methods, references, made_with, .. } = answer;
        Self { sentence, details, notes, methods, references, rests_on: made_with.rests_on }
    }

    /// The same of two levels, whose numbers its methods tell.
    pub(super) fn of_two(answer: Answer<Comparison>) -> Self {
        let found = &answer.numbers;
        let rests_on = [
            ("correlation", found.spread.map(|spread| spread.icc)),
            ("df", found.df),
            ("draws", found.randomisation.as_ref().and_then(|dealt| dealt.drawn).map(|drawn| drawn as f64)),
        ];
        let rests_on = rests_on.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?))).collect();
        Self { rests_on, ..Self::of(answer) }
    }
}
