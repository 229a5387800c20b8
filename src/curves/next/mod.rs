//! The strengths to test next: numbers, computation (`design` for one curve, `planned` for all), words, the answer.

mod answer;
mod design;
mod numbers;
mod planned;
mod words;

pub(super) use answer::next_of;
pub use answer::next_strengths;
pub use numbers::{Criterion, NextCurve, NextDesign, NextOptions, NextStrength, NextStrengths, Why};
