//! What a model says of itself: notes, verdict and methods (`wording`), which recorded unit judged what (`layers_note`), laws of the trays (`law_words`).

mod law_words;
mod layers_note;
pub(super) mod wording;

pub(crate) use wording::{methods, references, taken_out, warning};
