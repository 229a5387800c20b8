//! What the share that reaches a grade says, handed on to the words of grades.

use crate::answer::{Answer, Note};

/// What the share that reaches the grade says: its decision, with what stands beside it.
pub(super) struct Lead {
    pub(super) sentence: String,
    pub(super) details: Vec<String>,
    pub(super) notes: Vec<Note>,
    pub(super) methods: String,
    pub(super) references: Vec<String>,
}

impl Lead {
    pub(super) fn of<T>(answer: Answer<T>) -> Self {
        let Answer { sentence, details, notes, methods, references, .. } = answer;
        Self { sentence, details, notes, methods, references }
    }
}
